"""Profile and section: drawn from the same numbers as the map, and linked to map and list both ways."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.long]

MARKS = """() => geoqa.profile.marks().map((each, i) => { const group = document.querySelector(`[data-mark="${i}"]`);
const icon = group.querySelector("svg").getBoundingClientRect();
return {row: each.row, shot: each.shot, x: each.x, deviation: each.deviation,
cx: icon.x + icon.width / 2, cy: icon.y + icon.height / 2,
beyond: group.classList.contains("beyond"), said: group.querySelector("title").textContent,
whisker: group.querySelector("path")?.getBoundingClientRect().height ?? 0, u: each.u}; })"""


def shown(page, view, line=None):
    page.locator("#profile-view").select_option(view)
    if line:
        page.locator("#profile-line").select_option(line)
    page.wait_for_timeout(100)
    return page.evaluate(MARKS)


@pytest.fixture
def page(read):
    page = read.page
    if not page.locator("#profile").is_visible():
        page.locator("#profile-button").click()
    yield page
    page.evaluate("() => opened.map.closePopup()")


def straight(pairs):
    """Largest distance of a picture's numbers from the straight line through its ends, in pixels."""
    (a, at_a), (b, at_b) = min(pairs), max(pairs)
    return max(abs(at_a + (value - a) * (at_b - at_a) / (b - a) - at) for value, at in pairs)


@pytest.mark.parametrize("check", ["elevation", "offset", "cross-slope"])
def test_every_number_of_a_check_stands_at_its_station_and_deviation(page, sample, check):
    marks = shown(page, check)
    findings = sample.findings
    mine = findings[(findings["check"] == check) & findings["deviation"].notna() & findings["baseline_station"].notna()]
    mine = mine[~mine["finding"].isin(set(findings["run"].dropna()))]
    assert len(marks) == len(mine)
    scale = 1000 if check != "cross-slope" else 100_000
    assert sorted(mark["deviation"] for mark in marks) == pytest.approx(sorted(mine["deviation"] * scale), abs=0.6)
    assert straight([(mark["x"], mark["cx"]) for mark in marks]) < 1
    inside = [mark for mark in marks if not mark["beyond"]]
    assert straight([(mark["deviation"], mark["cy"]) for mark in inside]) < 1


def test_whiskers_are_two_uncertainties_to_either_side(page):
    marks = [mark for mark in shown(page, "elevation", "CFL-L-1") if not mark["beyond"]]
    low, high = min(marks, key=lambda mark: mark["deviation"]), max(marks, key=lambda mark: mark["deviation"])
    digit = (low["cy"] - high["cy"]) / (high["deviation"] - low["deviation"])
    middle = sorted(marks, key=lambda mark: mark["deviation"])[len(marks) // 2]
    assert middle["whisker"] == pytest.approx(4 * middle["u"] * digit, abs=1.5)


def test_the_tolerance_is_drawn_where_it_is(page):
    marks = [mark for mark in shown(page, "elevation", "CFL-L-1") if not mark["beyond"]]
    low, high = min(marks, key=lambda mark: mark["deviation"]), max(marks, key=lambda mark: mark["deviation"])
    digit = (low["cy"] - high["cy"]) / (high["deviation"] - low["deviation"])
    box = page.locator("#profile-plot .plot-allowed").bounding_box()
    assert box["height"] == pytest.approx(160 * digit, abs=1.5)  # 0.08 ft to either side


def test_a_mark_opens_its_card_and_is_marked_in_the_list(page, sample):
    marks = shown(page, "elevation", "CFL-R-2")
    out = next(i for i, mark in enumerate(marks) if mark["said"].endswith(", out"))
    page.locator(f'[data-mark="{out}"] svg').click(force=True)
    page.wait_for_selector(".card")
    page.wait_for_timeout(700)
    assert "Elevation against design" in page.locator(".card").inner_text()
    current = page.locator("#list [aria-current]")
    assert current.count() == 1
    row = marks[out]["row"]
    name = page.evaluate("(row) => geoqa.records.idOf(row)", row)
    place = sample.findings.set_index("finding").loc[name]
    east = page.evaluate(
        """() => { const b = opened.map.getBounds(), o = opened.about.origin;
        return [b.getWest() + o[0], b.getEast() + o[0]]; }"""
    )
    assert east[0] < place["easting"] < east[1]
    item = current.locator(".pin").inner_text()
    assert item == page.evaluate("(row) => opened.tables.findings.text('item', row)", row)


def test_what_is_opened_in_the_list_is_shown_on_its_line(page):
    line = page.locator("#list .item", has_text="curb top").first
    line.click()
    page.wait_for_selector(".card")
    row = int(line.get_attribute("data-finding"))
    subject, check = page.evaluate(
        "(row) => { const f = geoqa.records.finding(row); return [f.subject, f.check]; }", row
    )
    assert page.locator("#profile-line").input_value() == subject
    assert page.locator("#profile-view").input_value() == check
    assert page.locator("#profile-plot .picked").count() == 1
    said = page.locator("#profile-said").inner_text()
    assert subject in said


def test_arrows_go_from_mark_to_mark_and_enter_opens(page):
    marks = shown(page, "elevation", "CFL-L-1")
    page.locator("#profile-plot svg.plot").focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    assert page.locator("#profile-said").inner_text() == marks[2]["said"]
    page.keyboard.press("Enter")
    page.wait_for_selector(".card")
    page.keyboard.press("Escape")
    page.wait_for_selector(".card", state="detached")


def test_a_section_shows_offsets_and_elevations_of_its_shots(page, sample):
    page.locator("#profile-view").select_option("section")
    for _ in range(12):
        page.locator("#profile-on").click()
        if page.evaluate("() => geoqa.profile.marks().length") > 3:
            break
    marks = page.evaluate(
        """() => geoqa.profile.marks().map((each, i) => { const icon = document.querySelector(`[data-mark="${i}"] svg`)
        .getBoundingClientRect(); return [geoqa.records.shot(each.shot).key, each.offset, each.elevation,
        icon.x + icon.width / 2, icon.y + icon.height / 2]; })"""
    )
    assert len(marks) > 3
    shots = sample.shots.set_index("shot_key")
    for key, offset, elevation, *_ in marks:
        assert offset == pytest.approx(shots.loc[key, "baseline_offset"], abs=0.006)
        assert elevation == round(shots.loc[key, "elevation"] * 1000)
    assert straight([(offset, x) for _, offset, _, x, _ in marks]) < 1
    assert straight([(elevation, y) for *_, elevation, _, y in marks]) < 1
    stations = [shots.loc[key, "baseline_station"] for key, *_ in marks]
    assert max(stations) - min(stations) <= 10.01


def test_a_job_without_stations_has_no_profile_to_fail_on(show, street):
    from geoqa.model.results import Results, Title
    from geoqa.model.tables.columns import empty
    from geoqa.model.tables.layer import Layers, placed

    tables = {"shots": placed("shots", empty("shots"), street.layers.frame), "design_lines": empty("design_lines")}
    results = Results(
        title=Title(name="Empty"), layers=Layers(tables, frame=street.layers.frame), summary={}, record={}
    )
    opened = show(results)
    opened.page.locator("#profile-button").click()
    assert "lies at no station" in opened.page.locator("#profile-plot").inner_text()
    assert opened.messages == []
