"""Every control of the map is reached with Tab alone, with a rim that is seen, and nothing lies over it."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.long]

CONTROLS = """() => [...document.querySelectorAll("button, summary, input, select, a[href], [tabindex]")]
.filter((each) => each.checkVisibility({ visibilityProperty: true }) && !each.disabled && each.tabIndex >= 0)
.map((each, place) => { each.dataset.place = place; return each.id || each.textContent; })"""
FOCUSED = """() => { const on = document.activeElement; if (!on || on === document.body) return null;
const box = on.getBoundingClientRect(), at = (from, far, most) => Math.min(most - 1, Math.max(0, from + far / 2));
const over = document.elementFromPoint(at(box.left, box.width, innerWidth), at(box.top, box.height, innerHeight));
const seen = on.id === "map" || (over && (on.contains(over) || over.contains(on)));
const rim = getComputedStyle(on).outlineStyle;
return { place: Number(on.dataset.place), name: on.id || on.textContent, rim, seen }; }"""


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (390, 844)])
def test_all_is_reached_and_seen(street, show, width, height):
    opened = show(street, width=width, height=height)
    page = opened.page
    page.locator("#legend-button").click()
    if width < 760:  # the sheet opens, and goes down when a key leads on to the map
        page.locator("#handle").focus()
        page.keyboard.press("Enter")
    else:
        page.locator("body").click(position={"x": 5, "y": 5})
    names = page.evaluate(CONTROLS)
    reached, hidden = set(), []
    for _ in range(len(names) + 5):
        page.keyboard.press("Tab")
        on = page.evaluate(FOCUSED)
        if on and not on["seen"]:
            page.wait_for_timeout(600)  # the sheet goes down in a moment
            on = page.evaluate(FOCUSED)
        if on:
            reached.add(on["place"])
            if not on["seen"] or on["rim"] == "none":
                hidden.append(on["name"])
    assert [name for place, name in enumerate(names) if place not in reached] == []
    assert hidden == []
    assert opened.messages == []
