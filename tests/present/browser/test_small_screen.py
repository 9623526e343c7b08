"""On a small window the first screen still answers: nothing is cut off, and the first item is read whole."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.long]

CUT = """() => [...document.querySelectorAll("#panel *")].filter((each) => each.checkVisibility()
&& !each.closest(".unseen, #control-body") && each.getBoundingClientRect().width > 1
&& each.getBoundingClientRect().right > document.getElementById("panel").getBoundingClientRect().right + 0.5)
.map((each) => each.id || each.className || each.tagName)"""


@pytest.mark.parametrize(("width", "height"), [(800, 600), (1024, 640), (1280, 720), (1366, 768), (1280, 800)])
def test_who_where_how_much_and_what_next_stand_on_the_first_screen(sample, show, width, height):
    page = show(sample, width=width, height=height).page
    first = page.locator("#list .item").first
    for part in ("title", "number", "sure", "next"):
        box = first.locator(f".item-{part}").bounding_box()
        assert box["y"] + box["height"] <= height
    assert page.evaluate("() => document.getElementById('panel-body').scrollTop") == 0
    assert sample.title.name in page.locator("#title").inner_text()


@pytest.mark.parametrize(
    ("width", "height"), [(761, 600), (800, 600), (1024, 640), (1440, 900), (390, 844), (320, 600)]
)
def test_nothing_of_the_panel_runs_out_of_it(sample, show, width, height):
    page = show(sample, width=width, height=height).page
    if width < 760:
        page.evaluate("() => document.getElementById('panel').setAttribute('data-sheet', 'full')")
    assert page.evaluate(CUT) == []


@pytest.mark.parametrize(("width", "height"), [(390, 844), (800, 600), (1440, 900)])
def test_the_page_itself_does_not_scroll(sample, show, width, height):
    page = show(sample, width=width, height=height).page
    assert page.evaluate(
        "() => { window.scrollTo(0, 500); const all = document.documentElement;"
        " return [window.scrollY, all.scrollHeight - all.clientHeight, all.scrollWidth - all.clientWidth]; }"
    ) == [0, 0, 0]
