"""What axe-core finds on the pages: nothing serious or critical, by day and by night, on a laptop and on a phone."""

from pathlib import Path

import pytest

import geoqa
from bench.extent import extent
from geoqa.job.day import DayFiles, day
from geoqa.present.report.page import ReportPage
from geoqa.present.tilt.page import TiltPage

pytestmark = [pytest.mark.browser, pytest.mark.long]

SCREENS = [(1280, "light"), (1280, "dark"), (390, "light"), (390, "dark")]
SAMPLE = Path(__file__).parents[3] / "sample_jobs" / "tannery_lane"


def found(page):
    """Rule, impact and first places of what axe-core calls serious or critical."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-core is not installed").Axe()
    told = axe.run(page).response["violations"]
    return [
        (each["id"], each["impact"], [(node["target"], node["any"][:1]) for node in each["nodes"][:3]])
        for each in told
        if each["impact"] in ("serious", "critical")
    ]


@pytest.mark.parametrize(("width", "scheme"), SCREENS)
def test_of_the_map_as_it_opens_and_with_everything_open(sample, show, width, scheme):
    opened = show(sample, width=width, height=844, color_scheme=scheme)
    page = opened.page
    assert found(page) == []
    if width < 760:
        page.locator("#handle").click()
    for button in ("#legend-button", "#profile-button"):
        page.locator(button).click()
    page.evaluate("() => { for (const each of document.querySelectorAll('#panel details')) each.open = true; }")
    page.locator("#search").fill("wkf")
    page.locator("#list .item").first.click()
    page.wait_for_selector(".card")
    page.locator(".card details").evaluate_all("all => all.forEach((each) => { each.open = true; })")
    page.wait_for_timeout(900)
    assert found(page) == []
    assert opened.requests == [opened.url]


@pytest.fixture(scope="module")
def written(sample, tmp_path_factory):
    """A report, the page of a day, and that of a tilt test."""
    folder = tmp_path_factory.mktemp("pages")
    ReportPage().write(sample, folder)
    beside = {name: SAMPLE / f"{name}.csv" for name in ("control", "codes", "screening")}
    lines = ('confidence = "1 sigma"', "zero_is_null = true", 'unit = "ft"')
    day(DayFiles(shots=(SAMPLE / "shots" / "day1.csv",), lines=lines, frame="EPSG:6547", **beside), folder=folder)
    tilt = geoqa.run(SAMPLE.parent / "tilt_test" / "tilt_test.toml", write=False)
    TiltPage().write(tilt, folder)
    return {name: folder / f"{name}.html" for name in ("report", "day", "tilt")}


@pytest.mark.parametrize("name", ["report", "day", "tilt"])
@pytest.mark.parametrize(("width", "scheme"), extent(SCREENS, of_a_change=SCREENS[::3]))
def test_of_the_report_the_day_and_the_tilt_test(chromium, written, name, width, scheme):
    context = chromium.new_context(viewport={"width": width, "height": 844}, color_scheme=scheme)
    context.set_offline(True)
    page = context.new_page()
    page.goto(written[name].as_uri())
    page.evaluate("() => { for (const each of document.querySelectorAll('details')) each.open = true; }")
    assert found(page) == []
    context.close()


def test_the_control_table_of_the_day_fits_a_phone_and_breaks_no_word(chromium, written):
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.goto(written["day"].as_uri())
    wide, room = page.evaluate(
        "() => ['scrollWidth', 'clientWidth'].map((each) => document.querySelector('.scroll')[each])"
    )
    assert wide <= room
    lines = """() => Array.from(document.querySelectorAll("th"), (each) => {
      const range = document.createRange(); range.selectNodeContents(each);
      return [each.textContent, new Set(Array.from(range.getClientRects(), (box) => box.top)).size]; })"""
    for head, count in page.evaluate(lines):
        assert count <= len(head.split()), head
    page.close()
