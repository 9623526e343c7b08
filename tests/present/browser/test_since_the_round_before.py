"""What became of an item since the round before stands beside it in the list, with the words of the counts."""

from dataclasses import replace

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.long]

STATES = {"new": ["1", "4"], "still open": ["2"], "not judged again": ["7"], "closed": ["900"]}
MARKS = """() => Object.fromEntries(Array.from(document.querySelectorAll("#list .item:has(.since)"), (each) =>
[each.querySelector(".pin").textContent, each.querySelector(".since").textContent]))"""


def test_each_listed_item_bears_its_state(sample, show):
    since = {"previous": "r1/out", "states": STATES, "numbers": 1003, "same": 812, "new_shots": 40, "shots": 980}
    page = show(replace(sample, summary={**sample.summary, "since": since})).page
    assert page.evaluate(MARKS) == {"1": "new", "4": "new", "2": "still open", "7": "not judged again"}
    page.locator("#changes summary").click()
    assert "1 still open (2)" in page.locator("#changes-text").inner_text()


def test_a_first_round_marks_nothing(sample, show):
    assert show(sample).page.locator(".since").count() == 0
