"""Other jobs than the street: the sample job, a job in metres, a job with nothing in it."""

import math
from dataclasses import replace

import pytest

from geoqa.contract.checks import check_named
from geoqa.contract.shown_by import cause_of_checks
from geoqa.model import words
from geoqa.model.quantity import METRE
from geoqa.model.results import Results, Title
from geoqa.model.shown import slope_digits
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers, placed

pytestmark = [pytest.mark.browser, pytest.mark.long]


def test_every_listed_failure_of_the_sample_job_opens_with_its_number(sample, show):
    opened = show(sample)
    page = opened.page
    findings = sample.findings.set_index("finding")
    # control checks stand folded below the cause that explains them
    closed = page.locator("#list .item.crowd[aria-expanded=false]")
    while closed.count():
        closed.first.click()
    failures = page.locator("#list .item:not(.crowd)", has_text="out of tolerance")
    assert failures.count() == sample.summary["reported"]["OUT"]
    itself = 0
    for place in range(failures.count()):
        failures.nth(place).click()
        page.wait_for_selector(".card")
        text = page.locator(".card").inner_text()
        name = page.locator(".card .arithmetic").first.locator("dd").last.inner_text()
        row = findings.loc[name]
        assert "Out of tolerance" in text
        assert words.limits(row.lower, row.upper, check_named(row.check), row.quantity, "ft", bare=True) in text
        if math.isnan(row.measured):  # the mean of a run stands under its deviation alone
            assert "Measured" not in text
        else:
            slope = row.quantity == "slope"  # at the resolution of its uncertainty
            digits = slope_digits(row.measured, u=row.u, bounds=(row.lower, row.upper)) if slope else None
            assert words.quantity(row.measured, row.quantity, "ft", digits=digits, bare=True) in text
        if row.quantity != "count":
            assert words.judged(row, check_named(row.check), "ft") in text
            assert f"(95 %); 1 sigma {words.quantity(row.u, row.quantity, 'ft', bare=True)}" in text
        # of a reveal or a fall nothing was taken off: its design stands beside it
        less = abs(row.measured - row.design - row.deviation) < 1e-6
        itself += not less and not math.isnan(row.measured) and not math.isnan(row.design)
        assert "measured minus design" not in text or less or math.isnan(row.measured)
        page.keyboard.press("Escape")
    assert itself > 0
    assert opened.requests == [opened.url]
    assert opened.messages == []


def test_the_worst_have_the_same_number_in_list_and_map(sample, show):
    page = show(sample).page
    ranks = [int(text) for text in page.locator("#list .pin").all_inner_texts()]
    explained = int(cause_of_checks(sample.layers, sample.reported).notna().sum())
    assert explained > 0
    items = sample.layers["items"]
    assert ranks == [int(item) for item in items.loc[items["verdict"] == "OUT", "item"]]
    row = page.locator("#list .item").first.get_attribute("data-finding")
    assert page.evaluate("(row) => String(geoqa.pins.rankOf(row))", int(row)) == str(ranks[0])


def test_a_job_in_metres_is_printed_in_metres_and_drawn_with_signs_of_the_same_size(street, show):
    frame = replace(street.layers.frame, unit=METRE, horizontal="EPSG:6546", horizontal_wkt="EPSG:6546")
    tables = {
        name: street.layers[name] for name in ("shots", "evidence", "design_lines", "design_elements", "findings")
    }
    bare = {
        name: placed(name, table.drop(columns="geometry"), frame) if name in ("shots", "findings") else table
        for name, table in tables.items()
    }
    page = show(Results(title=street.title, layers=Layers(bare, frame=frame), summary={}, record={})).page
    page.locator("#list .item", has_text="CTB-L, 16+00 to 17+00").first.click()
    page.wait_for_selector(".card")
    text = page.locator(".card").inner_text()
    run = street.findings[street.findings["label"] == "CTB-L, 16+00 to 17+00"].iloc[0]
    assert f"{run.deviation:.3f} m right" in text
    assert "0.100 left or right" in text
    page.wait_for_timeout(900)
    near = page.evaluate("() => 2 ** opened.map.getZoom() * geoqa.view.foot()")
    assert near <= 4.01


def test_a_job_with_nothing_in_it_opens_and_says_so(street, show):
    tables = {"shots": placed("shots", empty("shots"), street.layers.frame), "design_lines": empty("design_lines")}
    opened = show(
        Results(title=Title(name="Empty"), layers=Layers(tables, frame=street.layers.frame), summary={}, record={})
    )
    assert opened.messages == []
    assert "Nothing is out of tolerance" in opened.page.locator("#list").inner_text()
    opened.page.mouse.click(900, 400)
    opened.page.locator("#search").fill("12+50")
    assert "Nothing found" in opened.page.locator("#search-results").inner_text()
    assert opened.messages == []
