"""What an engineer asks in the first minute is answered by what is visible at once, or after one click."""

from pathlib import Path
from urllib.parse import urlparse
from urllib.request import url2pathname

import pytest

from geoqa.contract.items import MAY_BE_CHANCE, by_chance, headline
from geoqa.contract.spoken import head_of, number_of
from geoqa.contract.what_next import chances, next_line
from geoqa.model.note_line import short_of
from geoqa.present.map.overview import QUESTIONS, question_of

pytestmark = [pytest.mark.browser, pytest.mark.long]

SEEN = """() => { const said = []; const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) { const range = document.createRange(); range.selectNodeContents(walk.currentNode);
const [box] = range.getClientRects(), from = walk.currentNode.parentElement;
if (!box?.width || box.bottom < 0 || box.top > innerHeight || box.left > innerWidth) continue;
if (from.closest("script, style, .unseen") || !from.checkVisibility({visibilityProperty: true})) continue;
const under = document.elementFromPoint(Math.min(innerWidth - 1, box.left + 2), Math.min(innerHeight - 1, box.top + 4));
if (under && (from.contains(under) || under.contains(from))) said.push(walk.currentNode.textContent); }
return said.join(" ").replace(/\\s+/g, " "); }"""


def seen(page):
    """Texts that are on the screen and covered by nothing."""
    return page.evaluate(SEEN)


def counts(page):
    """Numbers of the overview by question: places out, undecided, not judged, in."""
    rows = page.locator("#overview-rows tr").all_inner_texts()
    cells = [row.replace("\n", "\t").split("\t") for row in rows]
    return {row[0]: [int(each.replace(",", "")) for each in row[1:]] for row in cells}


@pytest.fixture
def page(read):
    page = read.page
    yield page
    page.evaluate("""() => { document.getElementById("filter-clear").click();
    for (const each of document.querySelectorAll("#panel details")) each.open = false;
    document.getElementById("panel-body").scrollTop = 0; }""")


def worst(sample, checks):
    """The finding that leads the list among some checks, as the terminal says it."""
    items = sample.layers["items"]
    lead = items[(items["verdict"] == "OUT") & (items["state"] == "open") & items["check"].isin(checks)].iloc[0]
    return sample.findings.set_index("finding").loc[lead["finding"]], lead["item"]


def test_which_project_revision_and_datum(page, sample):
    told = seen(page)
    for part in (
        sample.title.name,
        sample.title.revision,
        sample.title.date,
        "EPSG:6547",
        "international foot",
        "NAVD88",
    ):
        assert part in told


def test_the_headline_and_the_first_items_stand_on_the_first_screen(page, sample):
    """Where, how much against what, how sure and what next of two items, on 1280 by 800, without scrolling."""
    told = seen(page)
    assert headline(sample.layers, counts_too=False) in told
    lines = page.locator("#list .item[data-finding]")
    for place in (0, 1):
        for part in ("title", "number", "sure", "next"):
            line = lines.nth(place).locator(f".item-{part}")
            assert line.text_content() in told or line.locator(".pin").count()
            box = line.bounding_box()
            assert box["y"] + box["height"] <= 800
    assert page.evaluate("() => document.getElementById('panel-body').scrollTop") == 0


def test_how_many_fail_are_undecided_and_not_measured(page, sample):
    assert headline(sample.layers, counts_too=False) in seen(page)
    reported = sample.summary["reported"]
    rows = counts(page)
    assert sum(row[1] for row in rows.values()) == reported["UNDECIDED"]
    assert sum(row[2] for row in rows.values()) == reported["NO_DATA"]
    assert sum(row[3] for row in rows.values()) == reported["IN"]
    items = sample.layers["items"]
    assert sum(row[0] for row in rows.values()) == (items["verdict"] == "OUT").sum()


@pytest.mark.parametrize(
    "question", ["Does water run?", "Walks and ramps?", "Cover, clearance?", "In its place?", "Survey sound?"]
)
def test_where_it_fails_how_much_how_sure_and_what_next(page, sample, question):
    """The worst of a question stands on the screen after one click: place, number, odds, meaning and next step."""
    page.locator(".question", has_text=question).click()
    about = page.evaluate("() => opened.about.overview")
    checks = next(row["checks"] for row in about if row["text"] == question)
    finding, item = worst(sample, checks)
    row = finding.to_dict() | {"finding": finding.name}
    page.locator("#list .item").first.scroll_into_view_if_needed()
    told = page.locator("#list .item").first.inner_text().replace("\n", " ")
    assert str(item) in told
    for part in (head_of(row, "ft"), number_of(row, "ft").partition(" ± ")[0].split(" ")[0]):
        assert part in told
    line = next_line(row, chances(sample.layers).get(finding.name), sample.layers.frame.unit.name)
    assert line.lower() in told.lower()
    if finding.name in chances(sample.layers):
        assert "work" in page.locator("#list .item").first.locator(".item-sure").inner_text()


def test_a_card_does_not_say_next_under_what_next(page, sample):
    """What of the survey is out spoils nothing by itself: only the step is told."""
    page.locator(".question", has_text="Survey sound?").click()
    page.locator("#list .item").first.click()
    page.wait_for_selector(".card")
    step = page.locator(".card dt", has_text="What next").first.locator("xpath=following-sibling::dd[1]").inner_text()
    page.keyboard.press("Escape")
    assert step[:1].isupper()
    assert not step.startswith("Next")


def test_the_heads_of_what_unfolds_stand_in_one_row_also_of_a_job_with_many_notes(page, sample):
    heads = page.locator("#more > details:visible")
    assert heads.count() == 7
    name = page.locator("#notes-title")
    name.evaluate("(each) => { each.textContent = '1,222 notes'; }")
    assert len({heads.nth(place).bounding_box()["y"] for place in range(7)}) == 1
    name.evaluate("(each, text) => { each.textContent = text; }", f"{len(sample.notes)} notes")


def test_what_may_be_chance_is_said_with_the_item(page, sample):
    loose = by_chance(sample.layers)
    for item in page.locator("#list .item", has=page.locator(".pin")).all():
        told = item.inner_text()
        assert (MAY_BE_CHANCE.lower() in told.lower()) == (item.locator(".pin").inner_text() in loose)


def test_what_was_designed_and_not_found(page, sample):
    before = counts(page)
    page.locator(".question", has_text="All measured?").click()
    gaps = sample.reported[(sample.reported["check"] == "coverage") & (sample.reported["verdict"] == "OUT")]
    told = page.locator("#list").inner_text()
    for place in gaps["baseline_place"]:
        assert place in told
    assert "curb flow" not in told
    assert counts(page) == before  # a filter changes no number


def test_which_numbers_need_a_better_measurement(page):
    page.locator(".question", has_text="Walks and ramps?").click()
    crowd = page.locator("#list > li > .crowd", has_text="undecided").first
    crowd.click()
    assert "decides" in crowd.locator("xpath=following-sibling::ul").inner_text()


def test_what_changed_since_the_last_submittal(page):
    page.locator("#changes summary").click()
    assert "earlier run" in seen(page)


def test_what_there_is_to_decide(page):
    page.locator("#list .item").first.scroll_into_view_if_needed()
    told = seen(page).lower()
    assert "next: have it mended, by " in told
    assert " at the least, or accept it in writing" in told


def test_may_one_trust_it(page, sample):
    assert "not reviewed by a licensee" in seen(page)
    page.locator("#control summary").click()
    rows = page.locator("#control-body tbody tr").all_inner_texts()
    residuals = sample.layers["control_residuals"]
    assert len(rows) == len(residuals)
    for text, row in zip(rows, residuals.to_dict("records"), strict=True):
        cells = text.split("\t")
        assert cells[:3] == [row["mark"], row["session"], str(row["shots"])]
        if row["shots"]:
            assert cells[3] == f"{row['mean_easting'] + 0.0:+.3f}".replace("+0.000", "0.000").replace("-0.000", "0.000")
    told = page.locator("#control-body").inner_text()
    assert "Limits of one check shot: 0.10 ft in plan, 0.15 ft in elevation" in told
    assert "RMSE" in told


def test_where_the_file_behind_a_point_is(page):
    page.locator("#files summary").click()
    assert "sha256" in page.locator("#files").inner_text()


def answers(sample):
    """What the screen says after one key on each of the controls, by the words on the control."""
    items = sample.layers["items"]
    about = sample.findings.set_index("finding")
    told = {}
    for name, text in QUESTIONS.items():
        mine = items[
            (items["verdict"] == "OUT") & (items["state"] == "open") & (items["check"].map(question_of) == name)
        ]
        first = about.loc[mine.iloc[0]["finding"]].to_dict() | {"finding": mine.iloc[0]["finding"]}
        told[text] = number_of(first, "ft").partition(" ± ")[0]
    told[f"{len(sample.notes)} notes"] = short_of(sample.notes[0])
    told["Control"] = "Limits of one check shot"
    told["Changes"] = "earlier run"
    told["Files"] = "sha256"
    told["Decide"] = "accept, fix, measure again"
    return told


def test_every_question_is_answered_with_the_keyboard_alone(page, sample):
    wanted = answers(sample)
    page.locator("#job-name").click()  # keys begin at the head of the page
    for _ in range(40):
        page.keyboard.press("Tab")
        on = page.evaluate("() => document.activeElement.textContent.trim()")
        if on not in wanted:
            continue
        page.keyboard.press("Enter")
        assert wanted.pop(on).lower() in seen(page).lower(), on
        page.keyboard.press("Enter")
        if not wanted:
            break
    assert not wanted
    # and on to the first item, its card, and back
    while "item" not in page.evaluate("() => document.activeElement.className.split(' ')"):
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_selector(".card")
    assert "Uncertainty" in page.locator(".card").inner_text()
    page.keyboard.press("Escape")
    page.wait_for_selector(".card", state="detached")
    assert "item" in page.evaluate("() => document.activeElement.className")


def test_all_of_it_is_one_file_that_is_small_enough_to_send(read):
    assert Path(url2pathname(urlparse(read.url).path)).stat().st_size < 350_000
