"""Decisions on items: what still fits is shown, the rest is told."""

import pandas as pd

from geoqa.model.tables.columns import conform
from geoqa.steps.listing.decided import Decided

ITEMS = [("1", "open", "a" * 16), ("2", "open", "b" * 16), ("3", "open", "c" * 16), ("4", "gone", "d" * 16)]


def made(decisions):
    tables = {
        "items": pd.DataFrame(ITEMS, columns=["item", "state", "seen"]),
        "findings": pd.DataFrame({"item": ["1", "2", "1", None, "3"]}).astype("str"),
        "decisions": conform("decisions", pd.DataFrame(decisions)),
    }
    return Decided().run(tables)


def row(item, decision, seen, settled=True):
    return {"item": item, "decision": decision, "decided_on": "2026-05-20", "seen": seen * 16, "settled": settled}


def test_a_decision_stands_with_its_item_and_all_its_findings():
    told = made([row("1", "accept", "a"), row("2", "fix", "b")])
    assert told["items"]["decision"].fillna("").tolist() == ["accept", "fix", "", ""]
    assert told["items"]["decided_on"].fillna("").tolist() == ["2026-05-20", "2026-05-20", "", ""]
    assert told["findings"]["decision"].fillna("").tolist() == ["accept", "fix", "accept", "", ""]
    assert not len(told["notes"])


def test_a_number_that_was_given_anew_does_not_carry_a_decision_to_another_item():
    told = made([row("3", "accept", "a")])  # what was seen as item 3 is item 1 now
    assert told["items"]["decision"].fillna("").tolist() == ["accept", "", "", ""]


def test_what_changed_since_is_told_and_what_is_gone_is_not():
    told = made([row("2", "accept", "e"), row("4", "fix", "d")])
    assert told["items"]["decision"].isna().all()
    (note,) = told["notes"].to_dict("records")
    assert (note["note"], note["count"], note["written"]) == ("decisions-changed", 1, "item 2 (accept, 2026-05-20)")


def test_reviewers_who_disagree_decide_nothing_and_are_told():
    told = made([row("3", "accept", "c", False), row("3", "fix", "c", False)])
    assert told["items"]["decision"].isna().all()
    (note,) = told["notes"].to_dict("records")
    assert (note["note"], note["written"]) == ("decisions-apart", "item 3 (accept / fix)")
