"""The report in a real browser: offline, in one file, no wider than a phone."""

import pytest

from geoqa.present.report.page import ReportPage

pytestmark = [pytest.mark.browser, pytest.mark.long]


@pytest.mark.parametrize("width", [390, 1280])
def test_it_asks_for_nothing_says_nothing_and_fits(chromium, street, tmp_path, width):
    ReportPage().write(street, tmp_path)
    context = chromium.new_context(viewport={"width": width, "height": 800})
    context.set_offline(True)
    page, asked, said = context.new_page(), [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto((tmp_path / "report.html").as_uri())
    assert asked == [(tmp_path / "report.html").as_uri()]
    assert said == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    for anchor in page.eval_on_selector_all("nav a", "all => all.map((each) => each.getAttribute('href'))"):
        assert page.locator(anchor).count() == 1
    context.close()


CONTRASTS = """() => {
const part = (each) => (each <= 0.03928 ? each / 12.92 : ((each + 0.055) / 1.055) ** 2.4);
const light = (text) => {
const [red, green, blue] = text.match(/[\\d.]+/g).slice(0, 3).map((each) => part(each / 255));
return 0.2126 * red + 0.7152 * green + 0.0722 * blue; };
const ratio = (one, two) => {
const [low, high] = [light(one), light(two)].sort((a, b) => a - b);
return (high + 0.05) / (low + 0.05); };
const behind = (each) => {
for (let at = each; at; at = at.parentElement) {
const found = getComputedStyle(at).backgroundColor;
if (!/, 0\\)$/.test(found)) return found; }
return "rgb(255, 255, 255)"; };
const least = (query, of) => Math.min(...[...document.querySelectorAll(query)]
.map((each) => [getComputedStyle(each)[of], behind(each)])
.filter(([own]) => own !== "none").map(([own, under]) => ratio(own, under)));
return { words: least("h1, h2, h3, p, li, a, td, th, span, del, i, b, sup", "color"),
plots: least("svg text", "fill"), signs: least("svg :is(.OUT, .UNDECIDED, .NO_DATA, .IN)", "fill"),
ground: light(getComputedStyle(document.body).backgroundColor) }; }"""


def test_it_is_dark_on_a_dark_screen_and_light_on_paper(chromium, street, tmp_path):
    ReportPage().write(street, tmp_path)
    context = chromium.new_context(color_scheme="dark")
    page = context.new_page()
    page.goto((tmp_path / "report.html").as_uri())
    dark = page.evaluate(CONTRASTS)
    assert dark["ground"] < 0.05
    assert dark["words"] >= 4.5
    assert dark["plots"] >= 4.5
    assert dark["signs"] >= 3
    page.emulate_media(media="print")
    paper = page.evaluate(CONTRASTS)
    assert paper["ground"] == 1
    assert paper["words"] >= 4.5
    context.close()
