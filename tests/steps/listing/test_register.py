"""Numbers of items from run to run, by hand."""

import pandas as pd
import pytest

from geoqa.steps.listing.register import numbered


def items(*rows):
    base = {"chapter": "work", "check": "offset", "kind": "curb", "subject": "L", "why": "proven", "findings": 1,
            "easting": 0.0, "northing": 0.0}  # fmt: skip
    return pd.DataFrame(
        [base | {"verdict": verdict, "finding": members.split(";")[0] or "U", "members": members, "kind": kind}
         for verdict, members, kind in rows]
    )  # fmt: skip


@pytest.fixture
def first():
    return numbered(items(("OUT", "F1;F2", "curb"), ("OUT", "F3", "curb"), ("UNDECIDED", "", "curb")))


def test_numbers_run_in_the_order_of_the_list(first):
    assert first["item"].tolist() == ["1", "2", "3"]
    assert set(first["state"]) == {"open"}


def test_another_order_changes_no_number(first):
    again = numbered(items(("UNDECIDED", "", "curb"), ("OUT", "F3", "curb"), ("OUT", "F2;F1", "curb")), first)
    assert again["item"].tolist() == ["3", "2", "1"]


def test_an_item_that_falls_apart_leaves_its_number_to_the_greater_part(first):
    again = numbered(items(("OUT", "F2", "curb"), ("OUT", "F1;F9", "curb"), ("OUT", "F3", "curb")), first)
    assert again["item"].tolist() == ["1", "4", "2", "3"]  # equal parts: the first in the list
    assert again["state"].tolist() == ["open", "open", "open", "gone"]


def test_two_items_that_grow_together_keep_the_number_of_the_greater_one(first):
    again = numbered(items(("OUT", "F1;F2;F3", "curb")), first)
    assert again["item"].tolist() == ["1", "2", "3"]
    assert again["state"].tolist() == ["open", "gone", "gone"]


def test_a_question_about_another_kind_is_another_item(first):
    again = numbered(items(("UNDECIDED", "", "walk"), ("UNDECIDED", "", "curb")), first)
    assert again["item"].tolist()[:2] == ["4", "3"]


def test_numbers_are_counted_not_spelt(first):
    many = first.assign(item=["9", "10", "11"])
    again = numbered(items(("OUT", "F7", "curb")), many)
    assert again["item"].tolist()[0] == "12"


def test_what_was_shot_anew_at_its_place_keeps_its_number_and_another_place_does_not():
    rows = items(("OUT", "F1", "curb"), ("OUT", "F2", "curb")).assign(easting=[0.0, 100.0], northing=0.0)
    first = numbered(rows)
    anew = items(("OUT", "F8", "curb"), ("OUT", "F9", "curb"), ("OUT", "F7", "walk"))
    anew = anew.assign(easting=[104.0, 50.0, 1.0], northing=0.0)
    assert numbered(anew, first, near=10.0)["item"].tolist() == ["2", "3", "4", "1"]
    assert numbered(anew, first)["item"].tolist() == ["3", "4", "5", "1", "2"]


def test_an_item_that_an_earlier_geoqa_listed_by_shorter_ids_keeps_its_number():
    earlier = numbered(items(("OUT", "F0123456789ab;F0000000000ff", "curb"), ("OUT", "F123456789abc", "curb")))
    now = items(("OUT", "F123456789abc1111", "curb"), ("OUT", "F0123456789ab2222", "curb"))
    assert numbered(now, earlier)["item"].tolist() == ["2", "1"]
