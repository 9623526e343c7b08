"""The map in a real browser, offline, from disk."""

import pytest

pytestmark = pytest.mark.browser


def click_finding(page, title):
    page.locator("#list .item", has_text=title).first.click()
    page.wait_for_selector(".card")
    return page.locator(".card").inner_text()


def test_the_map_asks_for_nothing_but_itself_and_says_nothing_to_the_console(street, show):
    opened = show(street)
    click_finding(opened.page, "CTB-L, 16+00 to 17+00")
    opened.page.locator("#legend-button").click()
    opened.page.locator("#zoom-in").click()
    opened.page.wait_for_timeout(300)
    assert opened.requests == [opened.url]
    assert opened.messages == []


def test_a_click_on_a_listed_finding_opens_its_popup_with_the_arithmetic(street, show):
    opened = show(street)
    findings = street.findings
    run = findings[findings["label"] == "CTB-L, 16+00 to 17+00"].iloc[0]
    text = click_finding(opened.page, "CTB-L, 16+00 to 17+00")
    for part in (
        "Out of tolerance",
        "Offset from design line",
        f"{run.deviation:.3f} right (measured minus design)",
        "0.10 left or right",
        "Drawing C-101, note 4, rev. B (compared with its source)",
        "±0.03 (95 %); 1 sigma 0.014: 0.008 shared by the session, 0.011 of its own",
        'in or out only where that is at least 95 % sure; otherwise undecided (rule "guarded")',
        "less than 0.1 % that the true value lies within the limits",
        "set back to line",
        "16+00 to 17+00",
        "Judged from 5 shots",
        run.finding,
    ):
        assert part in text


def test_the_map_shows_the_place_of_the_listed_finding(street, show):
    opened = show(street)
    run = street.findings[street.findings["label"] == "CTB-L, 16+00 to 17+00"].iloc[0]
    click_finding(opened.page, "CTB-L, 16+00 to 17+00")
    opened.page.wait_for_timeout(900)
    east, north = opened.page.evaluate(
        """() => { const b = opened.map.getBounds(), o = opened.about.origin;
        return [[b.getWest() + o[0], b.getEast() + o[0]], [b.getSouth() + o[1], b.getNorth() + o[1]]]; }"""
    )
    assert east[0] < run.easting < east[1]
    assert north[0] < run.northing < north[1]
    assert east[1] - east[0] < 400


def test_a_click_on_the_map_opens_the_shot_that_lies_there(street, show):
    opened = show(street)
    shot = street.shots[street.shots["shot"] == "C2"].iloc[0]
    opened.page.evaluate(
        "([e, n]) => opened.map.setView([n - opened.about.origin[1], e - opened.about.origin[0]], 2, {animate: false})",
        [shot.easting, shot.northing],
    )  # near enough that no pin lies over it
    where = opened.page.evaluate(
        """([e, n]) => { const o = opened.about.origin, p = opened.map.latLngToContainerPoint([n - o[1], e - o[0]]);
        const box = document.getElementById("map").getBoundingClientRect(); return [p.x + box.x, p.y + box.y]; }""",
        [shot.easting, shot.northing],
    )
    opened.page.mouse.click(*where)
    opened.page.wait_for_selector(".card")
    text = opened.page.locator(".card").inner_text()
    assert "Shot C2" in text
    assert "0.15 ft away" in text


def test_escape_closes_the_popup_and_gives_the_focus_back_to_the_list(street, show):
    opened = show(street)
    button = opened.page.locator("#list .item", has_text="CTB-L, 16+00 to 17+00").first
    button.focus()
    opened.page.keyboard.press("Enter")
    opened.page.wait_for_selector(".card")
    opened.page.keyboard.press("Escape")
    opened.page.wait_for_selector(".card", state="detached")
    assert "CTB-L, 16+00 to 17+00" in opened.page.evaluate("() => document.activeElement.innerText")


def test_notes_and_references_with_a_script_in_them_do_no_harm(street, show, lines):
    opened = show(street)
    opened.page.locator("#search").fill("901")
    opened.page.locator(".result", has_text="Shot 901hydrant").click()
    opened.page.wait_for_selector(".card")
    opened.page.locator(".card summary").evaluate_all("all => all.forEach((each) => each.parentElement.open = true)")
    assert opened.page.locator("blockquote").inner_text() == lines.hostile
    assert lines.hostile in opened.page.locator(".card").text_content()
    opened.page.wait_for_timeout(200)
    assert opened.page.evaluate("() => window.harm ?? null") is None
    assert opened.messages == []


def test_the_title_block_names_project_revision_frame_and_that_nobody_reviewed_it(street, reviewed_street, show):
    text = show(street).page.locator("#panel").inner_text()
    for part in (
        "Tannery Lane, phase 0",
        "Design rev. B, 2026-03-14",
        "EPSG:6547",
        "international foot",
        "NAVD88 height (ft)",
    ):
        assert part in text
    assert "PRELIMINARY – not reviewed by a licensee" in text
    text = show(reviewed_street).page.locator("#panel").inner_text()
    assert "PRELIMINARY" not in text
    assert "Reviewed by A. Licensee, PLS 0000, 2026-03-20" in text


def test_where_buried_lines_show_the_map_says_it_is_not_for_excavation(street, show):
    text = show(street).page.locator("#place").inner_text()
    assert "Not for excavation. Call 811 / the one-call centre before you dig." in text


def test_the_list_is_worst_first_and_the_counts_are_those_of_the_summary(street, show):
    opened = show(street)
    lines = opened.page.locator("#list > li:has(.chapter, .unseen), #list > li.chapter")
    told = lines.evaluate_all("all => all.map((e) => e.className || e.querySelector('.unseen').textContent)")
    rank = ["out of tolerance", "cannot be decided with this measurement", "not judged"]
    assert told[0] == "chapter"
    assert len(told) > told.count("chapter")
    for chapter in "|".join(told).split("chapter")[1:]:
        order = [rank.index(each) for each in chapter.split("|") if each]
        assert order
        assert order == sorted(order)
    rows = opened.page.locator("#overview-rows tr").evaluate_all(
        "all => all.map((row) => [...row.querySelectorAll('td')].map((cell) => Number(cell.textContent)))"
    )
    heads = [each.split()[-1] for each in opened.page.locator(".tile").all_inner_texts()]
    reported = street.summary["reported"]
    told = dict(zip(heads, map(sum, zip(*rows, strict=True)), strict=True))
    assert told == {
        "out": reported["OUT"],
        "undecided": reported["UNDECIDED"],
        "judged": reported["NO_DATA"],
        "in": reported["IN"],
    }
