"""Nothing written lies on what is written; listed items have pins; text and signs stand out by day and by night."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.long]

WRITTEN = """() => { const c = document.createElement("canvas").getContext("2d");
c.font = "600 12px system-ui, sans-serif";
const written = geoqa.labels.drawn().filter((b) => b.text);
return written.map((b) => ({...b, wide: b.pin ? 0 : c.measureText(b.text).width})); }"""
ZOOMS = (0.0, 0.75, 1.5, 2.5, 3.5, 4.75)


def overlapping(boxes):
    return [
        (a["text"], b["text"])
        for i, a in enumerate(boxes)
        for b in boxes[i + 1 :]
        if a["left"] < b["right"] and b["left"] < a["right"] and a["top"] < b["bottom"] and b["top"] < a["bottom"]
    ]


@pytest.mark.parametrize("job", ["sample", "street", "many", "slanting"])
def test_no_two_texts_on_the_map_overlap_at_six_zooms(job, show, request, many):
    results = many(1500, out=0.05) if job == "many" else request.getfixturevalue(job)
    page = show(results, width=1280, height=800).page
    home = page.evaluate("() => opened.map.getZoom()")
    seen = 0
    for zoom in ZOOMS:
        page.evaluate("(z) => opened.map.setZoom(z, {animate: false})", home + zoom)
        boxes = page.evaluate(WRITTEN)
        seen += len(boxes)
        assert overlapping(boxes) == []
        assert all(box["right"] - box["left"] >= box["wide"] - 0.5 for box in boxes)
    assert seen > 20


def test_every_listed_item_with_a_place_has_a_pin_or_is_counted_in_one(sample, show):
    page = show(sample, width=1280, height=800).page
    items = sample.layers["items"]
    placed = items[(items["verdict"] == "OUT") & items["easting"].notna()]
    numbers = page.evaluate(
        """() => geoqa.pins.shown().flatMap(({rows}) => rows).map((row) => opened.tables.findings.text("item", row))"""
    )
    assert sorted(numbers, key=int) == sorted(placed["item"], key=int)


CONTRAST = """(selector) => { const parse = (text) => text.match(/[\\d.]+/g).map(Number);
const part = (value) => { const v = value / 255; return v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
const light = ([r, g, b]) => 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
const under = (each) => { for (let at = each; at; at = at.parentElement) {
const c = parse(getComputedStyle(at).backgroundColor);
if (c.length < 4 || c[3] > 0.9) return c; } return [255, 255, 255]; };
const found = []; for (const each of document.querySelectorAll(selector)) {
const own = [...each.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
if (!each.checkVisibility() || !(each.matches(".sign") || own)) continue;
const [a, b] = [light(parse(getComputedStyle(each).color)), light(under(each))].sort((x, y) => y - x);
found.push([(a + 0.05) / (b + 0.05), each.className.baseVal ?? each.className ?? "", each.textContent.slice(0, 30)]); }
return found; }"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_and_signs_stand_out(street, show, scheme):
    page = show(street, color_scheme=scheme).page
    page.locator("#legend-button").click()
    page.locator("#profile-button").click()
    page.locator("#list .item").first.click()
    page.wait_for_selector(".card")
    for details in page.locator("#panel details").all():
        details.evaluate("(each) => { each.open = true; }")
    texts = page.evaluate(
        CONTRAST, "#panel :not(.sign), #place :is(p, span, button, dt, dd, h3, h4, label, a, summary)"
    )
    assert len(texts) > 60
    assert [each for each in texts if each[0] < 4.5] == []
    signs = page.evaluate(CONTRAST, ".sign")
    assert len(signs) > 6
    assert [each for each in signs if each[0] < 3] == []
    ground = page.evaluate("() => getComputedStyle(document.getElementById('map')).backgroundColor")
    assert (scheme == "dark") == (sum(int(each) for each in ground[4:-1].split(",")) < 200)


def test_signs_on_the_map_take_the_colours_of_the_scheme(street, show):
    page = show(street, color_scheme="dark").page
    colours = page.evaluate("() => opened.about.verdicts.map(({colour}) => colour)")
    page.emulate_media(color_scheme="light")
    page.wait_for_timeout(100)
    light = page.evaluate("() => opened.about.verdicts.map(({colour}) => colour)")
    assert not set(colours) & set(light)


def test_structures_are_told_apart(sample, show):
    page = show(sample).page
    page.locator("#legend-button").click()
    assert set(page.locator("#legend .structure").all_inner_texts()) >= {"Manhole", "Valve", "Hydrant"}
