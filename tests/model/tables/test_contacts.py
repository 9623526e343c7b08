"""Telephone numbers and addresses in notes; numbers of the trade are none."""

import pandas as pd
import pytest

from geoqa.model.tables.contacts import file_names, with_contact


@pytest.mark.parametrize(
    "text",
    [
        "(701) 555-0134", "701-555-0134", "701.555.0134", "701 555 0134", "+1 701 555 0134", "1-701-555-0134",
        "call 555-0134", "Tel. 7015550134", "cell no 555 0134 after 5", "a.b-c@mail.example.org",
    ],
)  # fmt: skip
def test_how_to_reach_a_person_is_seen(text):
    assert with_contact(pd.Series([text], dtype="str")).tolist() == [True]


@pytest.mark.parametrize(
    "text",
    [
        "2228000.500 444000.250 1457.12", "E 2228000.5 N 444000.2", "12+50.25 to 12+75", "10-100-200", "CP-101-2000",
        "8 in. PVC SDR35", "md 6.25", "2026-05-15 08:15:00", "call before you dig", "TBM 101.25", "1:48", "@ 12+00",
        "701555", "-101.555.0134", "rev 2026.11.28", "",
    ],
)  # fmt: skip
def test_numbers_of_the_trade_are_none(text):
    assert with_contact(pd.Series([text], dtype="str")).tolist() == [False]


def test_folders_of_either_system_are_taken_off_and_names_stay():
    names = pd.Series(["a b.jpg", "/x/y z/a.jpg;b.jpg", r"\\host\share\c.jpg; d.jpg", None], dtype="str")
    assert file_names(names).tolist()[:3] == ["a b.jpg", "a.jpg; b.jpg", "c.jpg; d.jpg"]
