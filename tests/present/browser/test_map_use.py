"""Finding one's way on the map: filters, search, layers, cursor, phone and paper."""

import math
import re

import pytest

from geoqa.model.tables.reported import reported_verdicts

pytestmark = [pytest.mark.browser, pytest.mark.long]

CODES = (
    "() => { const all = {}; for (const code of geoqa.choice.codes()) all[code] = (all[code] ?? 0) + 1; return all; }"
)
SPOT = """([e, n]) => { const o = opened.about.origin, d = geoqa.view.digit();
const p = opened.map.latLngToContainerPoint(geoqa.view.latLng({ easting: (e - o[0]) / d, northing: (n - o[1]) / d }));
const box = document.getElementById("map").getBoundingClientRect(); return [p.x + box.x, p.y + box.y]; }"""


def spot(page, easting, northing):
    return page.evaluate(SPOT, [easting, northing])


def shot_of(results, name):
    return results.shots[results.shots["shot"] == name].iloc[0]


def result(page, query, text):
    page.locator("#search").fill(query)
    page.locator(".result", has_text=text).first.click()
    page.wait_for_selector(".card")
    return page.locator(".card").inner_text()


def test_a_verdict_can_be_hidden_in_list_and_map_and_shown_again(street, show):
    page = show(street).page
    before = page.evaluate(CODES)
    page.locator(".tile", has_text="undecided").click()
    assert page.locator("#list .item .unseen", has_text="cannot be decided").count() == 0
    after = page.evaluate(CODES)
    assert after["255"] == before["2"]
    assert "2" not in after
    page.locator(".tile", has_text="undecided").click()
    assert page.evaluate(CODES) == before


def test_one_kind_alone_can_be_looked_at(street, show):
    page = show(street).page
    page.locator("#filter-box > summary").click()
    page.locator("#filter-kind").select_option("curb-flow")
    shots = street.shots
    shown = sum(count for code, count in page.evaluate(CODES).items() if code != "255")
    assert shown == (shots["kind"] == "curb-flow").sum()
    findings = street.reported
    listed = ((findings["kind"] == "curb-flow") & (findings["verdict"] != "IN")).sum()
    everything = (findings["verdict"] != "IN").sum()
    assert page.locator("#list-count").inner_text() == f"{listed} of {everything} findings."


def test_one_check_alone_draws_shots_with_the_verdict_of_that_check(street, show):
    page = show(street).page
    page.locator("#filter-box > summary").click()
    page.locator("#filter-check").select_option("offset")
    codes = page.evaluate(CODES)
    told = street.findings.assign(verdict=reported_verdicts(street.findings))  # a member of a run bears the run's
    offsets = told[(told["check"] == "offset") & told["shot"].notna()]
    for code, verdict in enumerate(("NO_DATA", "IN", "UNDECIDED", "OUT")):
        assert codes.get(str(code), 0) == (offsets["verdict"] == verdict).sum()


def test_a_shot_is_found_by_its_name(street, show):
    page = show(street).page
    text = result(page, "c2", "Shot C2control")
    assert "Shot C2, control" in text
    page.locator(".card summary").evaluate_all("all => all.forEach((each) => each.parentElement.open = true)")
    assert f"{shot_of(street, 'C2').easting:.3f}" in page.locator(".card").inner_text()


def test_a_control_mark_and_a_design_point_are_found_by_name(street, show):
    page = show(street).page
    assert "Control mark CP-3" in result(page, "cp-3", "CP-3Control mark")
    assert "Design point MH-12 out" in result(page, "mh-12", "MH-12 outDesign point")


def test_a_station_is_found_on_the_line_it_is_asked_for(street, show, lines):
    page = show(street).page
    text = result(page, "CTB-L 12+50", "CTB-L at 12+50.00")
    easting, northing = lines.at(-16.5, 1250.0)
    assert f"Easting\n{easting:.3f} ft" in text
    assert f"Northing\n{northing:.3f}" in text


def test_a_station_alone_offers_every_line_that_has_it(street, show, lines):
    page = show(street).page
    page.locator("#search").fill("19+00")
    found = page.locator(".result").all_inner_texts()
    assert [text.split("\n")[0] for text in found] == [f"{name} at 19+00.00" for name in sorted(lines.names)]


def test_a_finding_is_found_by_its_name(street, show):
    page = show(street).page
    worst = street.findings[street.findings["label"] == "CTB-L, 16+00 to 17+00"].iloc[0]
    assert worst.finding in result(page, worst.finding, "CTB-L, 16+00 to 17+00")


def test_every_finding_keeps_its_name_on_the_page(street, show):
    page = show(street).page
    names = page.evaluate("() => Array.from({length: opened.tables.findings.rows}, (_, i) => geoqa.records.idOf(i))")
    assert sorted(names) == sorted(street.findings["finding"])


def test_the_cursor_reads_grid_feet(street, show):
    page = show(street).page
    shot = shot_of(street, "C1")
    x, y = spot(page, shot.easting, shot.northing)
    page.mouse.move(x, y)
    easting, northing = (float(each) for each in re.findall(r"[EN] (-?[\d.]+)", page.locator("#cursor").inner_text()))
    foot = page.evaluate("() => 1 / 2 ** opened.map.getZoom()")
    assert easting == pytest.approx(shot.easting, abs=foot + 0.1)
    assert northing == pytest.approx(shot.northing, abs=foot + 0.1)


def test_the_scale_bar_is_as_long_as_it_says(street, show):
    page = show(street).page
    for _ in range(3):
        feet = float(page.locator("#scale-text").inner_text().split(" ")[0].replace(",", ""))
        width = page.evaluate("() => document.getElementById('scale-bar').getBoundingClientRect().width")
        assert width == pytest.approx(feet * page.evaluate("() => 2 ** opened.map.getZoom()"), abs=0.6)
        page.locator("#zoom-in").click()
        page.wait_for_timeout(400)


def test_a_layer_can_be_switched_off(street, show):
    page = show(street).page
    mark = street.layers["control"].iloc[0]
    pixels = """([x, y]) => { const c = document.querySelector("canvas"), box = c.getBoundingClientRect();
    const d = c.getContext("2d").getImageData(x - box.x - 12, y - box.y - 12, 24, 24).data;
    let dark = 0;
    for (let i = 0; i < d.length; i += 4) if (d[i + 3] > 200 && d[i] + d[i + 1] + d[i + 2] < 120) dark++;
    return dark; }"""
    place = spot(page, mark.easting, mark.northing)
    assert page.evaluate(pixels, place) > 20
    page.locator("#legend-button").click()
    page.locator("#layer-control").uncheck()
    page.wait_for_timeout(100)
    assert page.evaluate(pixels, place) == 0


def test_on_a_phone_the_list_is_a_sheet_and_the_popup_fits_the_screen(street, show):
    page = show(street, width=390, height=844, has_touch=True, is_mobile=True).page
    assert not page.locator("#list .item").first.is_visible()
    page.locator("#handle").click()
    page.locator("#list .item", has_text="CTB-L, 16+00 to 17+00").first.tap()
    page.wait_for_selector(".card")
    page.wait_for_timeout(800)
    assert not page.locator("#list .item").first.is_visible()
    box = page.locator(".card-frame").bounding_box()
    assert box["x"] >= 0
    assert box["y"] >= 0
    assert box["x"] + box["width"] <= 390
    assert box["y"] + box["height"] <= 844
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 390


def test_what_a_finger_must_hit_is_large_enough(street, show):
    page = show(street, width=390, height=844, has_touch=True, is_mobile=True).page
    page.locator("#handle").click()
    for selector in ("#tools button", "#list .item", ".tile"):
        for box in page.locator(selector).evaluate_all(
            "all => all.map((each) => each.getBoundingClientRect().toJSON())"
        ):
            assert min(box["width"], box["height"]) >= 44


def test_on_paper_the_scale_is_round_and_what_it_says(street, show):
    page = show(street).page
    page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
    words = page.locator("#paper-scale").inner_text()
    feet = float(re.match(r"1 in = ([\d,]+) ft", words)[1].replace(",", ""))
    assert 96 / page.evaluate("() => 2 ** opened.map.getZoom()") == pytest.approx(feet)
    rows = page.locator("#paper-list tr").all_inner_texts()
    assert any("CTB-L, 16+00 to 17+00" in row and "0.10 left or right" in row for row in rows)
    for part in ("#job-name", "#preliminary", "#job-frame", "#buried", "#legend"):
        assert page.locator(part).is_visible()
    head = page.locator("#paper-head").inner_text()
    assert street.title.name in head
    assert "PRELIMINARY" in head
    assert page.locator("#paper-notes-list li").all_inner_texts()[-len(street.notes) :] == list(street.notes)
    assert "Not for excavation" in page.locator("#paper-caution").inner_text()
    assert page.evaluate("() => getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    page.evaluate("() => window.dispatchEvent(new Event('afterprint'))")
    assert page.locator("#paper-list tr").count() == 0


def test_the_paper_is_letter_size(street, show, tmp_path):
    page = show(street).page
    page.pdf(path=str(tmp_path / "map.pdf"), prefer_css_page_size=True)
    boxes = set(re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", (tmp_path / "map.pdf").read_bytes()))
    assert boxes == {(b"792", b"612")}


@pytest.mark.parametrize(("name", "wide", "high"), [("Letter", 11, 8.5), ("Tabloid", 17, 11)])
def test_the_map_prints_itself_on_a_sheet_with_the_list_begun_on_the_first(sample, show, tmp_path, name, wide, high):
    opened = show(sample, width=1280, height=800)
    page = opened.page
    page.evaluate("() => { window.print = () => window.dispatchEvent(new Event('beforeprint')); }")
    page.locator("#printing summary").click()
    page.locator("#printing button", has_text=name).click()
    words = page.locator("#paper-scale").inner_text()
    assert words.endswith(f"on {name.lower()} paper")
    feet = float(re.match(r"1 in = ([\d,]+) ft", words)[1].replace(",", ""))
    assert 96 / page.evaluate("() => 2 ** opened.map.getZoom()") == pytest.approx(feet)
    box = page.locator("#paper-list tr").first.bounding_box()
    assert box["y"] + box["height"] <= 96 * (high - 1)
    assert box["x"] + box["width"] <= 96 * (wide - 1) + 1
    legend = page.locator("#legend").bounding_box()
    assert legend["x"] + legend["width"] <= 96 * (wide - 1) + 1
    assert page.locator("#north svg").is_visible()
    assert "next: " in page.locator("#paper-list tr").first.inner_text()
    page.pdf(path=str(tmp_path / "map.pdf"), prefer_css_page_size=True)
    boxes = set(re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", (tmp_path / "map.pdf").read_bytes()))
    assert {tuple(map(float, each)) for each in boxes} == {(72 * wide, 72 * high)}
    assert opened.messages == []


def test_everything_can_be_reached_by_keyboard_and_shows_where_it_is(street, show):
    page = show(street).page
    seen = []
    for _ in range(40):
        page.keyboard.press("Tab")
        seen.append(
            page.evaluate(
                "() => [document.activeElement.id || document.activeElement.className, "
                "getComputedStyle(document.activeElement).outlineStyle]"
            )
        )
        if page.evaluate("() => document.activeElement.parentElement.id") == "filter-box":
            page.keyboard.press("Enter")
    names = [name for name, _ in seen]
    for name in ("tile", "question", "search", "filter-kind", "filter-check", "filter-session", "filter-from", "item"):
        assert name in names
    assert all(outline != "none" for name, outline in seen if name in ("tile", "question", "search", "item"))


def test_shots_far_from_the_job_are_told_and_can_be_shown(street, show):
    from geoqa.model.results import Results
    from geoqa.model.tables.layer import Layers

    shots = street.shots.copy()
    shots.loc[shots["shot"] == "G0", ["easting", "northing"]] = [446_000.0, 2_228_500.0]
    tables = {name: street.layers[name] for name in street.layers} | {"shots": shots}
    page = show(
        Results(title=street.title, layers=Layers(tables, frame=street.layers.frame), summary={}, record={})
    ).page
    button = page.locator("#outside")
    assert button.inner_text() == "1 shot far outside: show all"
    assert page.evaluate("() => 2 ** opened.map.getZoom()") > 0.3
    button.click()
    page.wait_for_timeout(200)
    assert page.evaluate("() => 2 ** opened.map.getZoom()") < 0.001


def test_a_code_a_note_and_a_kind_are_found_by_their_words(sample, show):
    page = show(sample).page
    shots = sample.shots
    noted = shots[shots["note"].fillna("").str.len() > 8].iloc[0]
    for query, said in ((noted["note"][:12], f"note {noted['note'][:12]}"), ("wkf", "code WKF")):
        page.locator("#search").fill(query)
        found = page.locator(".result").all_inner_texts()
        assert any(said.lower() in text.lower() for text in found)
    page.locator("#search").fill("walk front")
    page.locator(".result", has_text="Kind: show it alone").first.click()
    assert page.locator("#filtered-text").inner_text() == "Shown: Walk front."
    shown = sum(count for code, count in page.evaluate(CODES).items() if code != "255")
    assert shown == (shots["kind"] == "walk-front").sum()


def test_a_session_and_a_range_of_stations_can_be_looked_at_alone(sample, show):
    page = show(sample).page
    tiles = page.locator(".tile").all_inner_texts()
    shots = sample.shots
    page.locator("#filter-box > summary").click()
    page.locator("#filter-session").select_option("B")
    shown = sum(count for code, count in page.evaluate(CODES).items() if code != "255")
    assert shown == (shots["session"] == "B").sum()
    page.locator("#filter-clear").click()
    page.locator("#filter-from").fill("12+00")
    page.locator("#filter-to").fill("14+00")
    page.locator("#filter-to").press("Enter")
    station = shots["baseline_station"].round(2)
    shown = sum(count for code, count in page.evaluate(CODES).items() if code != "255")
    assert shown == station.between(1200, 1400).sum()
    assert page.locator(".tile").all_inner_texts() == tiles


def test_a_distance_is_measured_on_the_grid_from_shot_to_shot(street, show):
    page = show(street).page
    first, second = shot_of(street, "101"), shot_of(street, "105")
    page.evaluate(
        "([e, n]) => opened.map.setView([n - opened.about.origin[1], e - opened.about.origin[0]], 3, {animate: false})",
        [(first.easting + second.easting) / 2, (first.northing + second.northing) / 2],
    )
    page.locator("#measure-button").click()
    for shot in (first, second):
        page.mouse.click(*spot(page, shot.easting, shot.northing))
    told = page.locator("#measured").inner_text()
    east, north = second.easting - first.easting, second.northing - first.northing
    assert told.startswith(f"{math.hypot(east, north):.3f} ft at shot 105")
    assert f"dE {east:+.3f} · dN {north:+.3f}" in told
    assert f"azimuth {math.degrees(math.atan2(east, north)) % 360:.2f}°" in told
    page.keyboard.press("Escape")
    assert not page.locator("#measured").is_visible()
