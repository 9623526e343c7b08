"""Pages without a script are dark on a dark screen and light on paper, and can be read on either."""

from pathlib import Path

import pytest

import geoqa
from geoqa.job.day import DayFiles, day
from geoqa.present.report.page import ReportPage
from geoqa.present.tilt.page import TiltPage

pytestmark = [pytest.mark.browser, pytest.mark.long]

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
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
plots: least("svg text", "fill"), signs: least("svg :is(.OUT, .UNDECIDED, .NO_DATA, .IN, .mark, .petal)", "fill"),
ground: light(getComputedStyle(document.body).backgroundColor) }; }"""


@pytest.fixture(scope="module")
def written(street, tmp_path_factory):
    """A report, the page of a day, and that of a tilt test."""
    folder = tmp_path_factory.mktemp("dark")
    ReportPage().write(street, folder)
    TiltPage().write(geoqa.run(SAMPLES / "tilt_test" / "tilt_test.toml", write=False), folder)
    shots, codes = (SAMPLES / "tannery_lane" / name for name in ("shots/day2.csv", "codes.csv"))
    day(DayFiles(shots=shots, frame="EPSG:6547", codes=codes), folder=folder)
    return folder


@pytest.mark.parametrize("name", ["report", "day", "tilt"])
def test_it_is_dark_on_a_dark_screen_and_light_on_paper(chromium, written, name):
    context = chromium.new_context(color_scheme="dark")
    page = context.new_page()
    page.goto((written / f"{name}.html").as_uri())
    for media, least, most in (("screen", 0.0, 0.05), ("print", 1.0, 1.0)):
        page.emulate_media(media=media)
        found = page.evaluate(CONTRASTS)
        assert least <= found["ground"] <= most
        assert found["words"] >= 4.5
        assert found["plots"] >= 4.5
        assert media == "print" or found["signs"] >= 3  # on paper their shapes tell them apart as well
    context.close()
