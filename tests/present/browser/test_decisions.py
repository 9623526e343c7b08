"""Decisions taken on the map, offline: kept by the browser, saved as a file, applied to the job it came from."""

import json
import shutil

import pytest

from geoqa.job.run import run
from geoqa.review.decide import decide
from tests.review.job_in_feet import write as write_in_feet
from tests.review.job_of_four import write
from tests.review.job_of_rounds import LOW, STATIONS, curb, valves

pytestmark = [pytest.mark.browser, pytest.mark.long]

HOSTILE = "</script><img src=x onerror='window.harm = 1'> \u2028 \U0001f600 \"quoted\" =1+1"


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    path = write(tmp_path_factory.mktemp("four"))
    log = path.parent / "log.csv"
    log.write_text(log.read_text("utf-8").replace("500010.004", "500010.604"), "utf-8")
    return path, run(path)


def choose(page, item, name):
    page.locator("#list .item").nth(item).click()
    page.locator(f".decide input[value={name}]").check()


def saved(page, folder):
    with page.expect_download() as download:
        page.locator("#decisions-save").click()
    place = folder / download.value.suggested_filename
    download.value.save_as(place)
    return place


def test_a_file_saved_in_the_browser_is_applied_to_its_job(job, show, tmp_path):
    (path, results), folder = job, tmp_path / "job"
    shutil.copytree(path.parent, folder)
    opened = show(results)
    page = opened.page
    assert page.locator("#decisions-save").is_disabled()
    choose(page, 0, "fix")
    page.locator(".decide textarea").fill(HOSTILE)
    page.locator(".decide input[autocomplete=name]").fill("Zoë Reviewer \U0001f600")
    choose(page, 1, "field-change")
    page.locator(".decide input[data-axis=easting]").fill("500020,350")
    assert page.locator(".decide input[data-axis=easting]").get_attribute("aria-invalid") == "true"
    page.locator(".decide input[data-axis=easting]").fill("500020.350")
    page.reload()  # the browser keeps what was decided
    page.wait_for_selector("body[data-ready]")
    assert page.locator("#decisions summary").inner_text() == "Decide (2)"
    page.locator("#decisions summary").click()
    assert "2 decisions, kept in this browser" in page.locator("#decisions").inner_text()
    assert "Decided here" in page.locator("#list").inner_text()
    file = saved(page, tmp_path)
    whole = json.loads(file.read_text("utf-8"))
    assert {each["note"] for each in whole["decisions"]} == {HOSTILE, ""}
    assert all(each["findings"] for each in whole["decisions"])
    found = decide(folder / path.name, [file])
    assert not found.refused
    assert {each.told.partition(":")[0]: each.decision for each in found.standing} == {
        "OUT valve V-1": "fix",
        "OUT valve V-2": "field-change",
    }
    assert len(found.changed) == 1
    assert page.evaluate("window.harm") is None
    assert [url for url in opened.foreign() if not url.startswith("blob:")] == []
    assert opened.messages == []
    again = run(folder / path.name)
    assert "V-1" in set(again.findings.loc[again.findings["decision"] == "fix", "subject"])
    page = show(again).page
    assert "Decided on 20" in page.locator("#list").inner_text()
    assert "Zoë" not in page.content()


def test_a_reviewer_gets_on_by_keyboard_alone_and_on_a_phone(job, show):
    page = show(job[1], width=390, height=800).page
    page.locator("#handle").click()
    page.locator("#list .item").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".decide")
    radio = page.locator(".decide input[type=radio]").first
    radio.focus()
    page.keyboard.press("Space")
    assert radio.is_checked()
    for _ in range(3):
        page.keyboard.press("ArrowDown")
    assert page.locator(".decide input[value=field-change]").is_checked()
    width = page.evaluate(
        "document.querySelector('.decide').scrollWidth - document.querySelector('.decide').clientWidth"
    )
    assert width <= 0
    small = page.evaluate(
        "[...document.querySelectorAll('.decide label:has(input)')].filter((each) => each.offsetHeight < 40).length"
    )
    assert small == 0
    page.get_by_role("button", name="Take this decision out").click()
    assert page.locator(".decide input:checked").count() == 0


def test_a_page_that_no_run_made_has_nothing_to_decide(street, show):
    page = show(street).page
    page.locator("#list .item").first.click()
    page.wait_for_selector(".card")
    assert page.locator(".decide").count() == 0
    assert page.locator("#decisions").count() == 0


def test_a_reach_of_a_line_is_changed_on_its_card_with_the_stations_it_shows(show, tmp_path):
    path = write_in_feet(tmp_path / "job", {"log.csv": curb(STATIONS, first=101, low=LOW) + valves(first=10)})
    opened = show(run(path))
    page = opened.page
    choose(page, 0, "field-change")
    assert "reach of EAST-KERB, in ftUS" in page.locator(".decide-change legend").inner_text()
    shown = page.evaluate("[...document.querySelectorAll('.decide-change input')].map((each) => each.placeholder)")
    assert shown == ["50.50", "80.50", "0", "0"]
    page.locator(".decide input[data-axis=start]").fill("0+48.5")
    page.locator(".decide input[data-axis=up]").fill("\N{MINUS SIGN}0.10")
    page.locator(".decide input[data-axis=right]").fill("none")
    assert page.locator(".decide input[data-axis=right]").get_attribute("aria-invalid") == "true"
    page.locator(".decide input[data-axis=right]").fill("")
    page.locator(".decide input[autocomplete=name]").fill("A. Reviewer")
    page.locator("#decisions summary").click()
    file = saved(page, tmp_path)
    (decision,) = json.loads(file.read_text("utf-8"))["decisions"]
    assert decision["change"] == [{"line": "EAST-KERB", "start": "48.5", "end": "80.50", "up": "-0.10"}]
    found = decide(path, [file])
    assert not found.refused
    assert len(found.changed) == 1
    assert opened.messages == []
