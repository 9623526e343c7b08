"""The unit stands once: in the heading of the list, at the first number of a card's text, once in a note."""

import re

import pytest

from geoqa.contract.control_sentences import session_shift
from geoqa.contract.precision_sentences import believed_parts, budget
from geoqa.contract.tolerance_sentences import undecided
from geoqa.contract.work import ELEVATION, OFFSET, POSITION
from geoqa.model import words
from geoqa.model.tables.fact import Fact
from geoqa.write.sheets.lists import _in_words

UNITS = re.compile(r"\b(?:ftUS|ft|m)\b")


@pytest.mark.parametrize("check", [OFFSET, ELEVATION, POSITION])
@pytest.mark.parametrize("unit", ["ft", "ftUS", "m"])
def test_a_line_of_a_list_bears_the_unit_once_or_not_at_all(check, unit):
    row = {"check": check.name, "deviation": 0.153, "quantity": "length", "u": 0.02, "lower": -0.08, "upper": 0.1,
           "toward": "north side", "label": "x"}  # fmt: skip
    assert UNITS.findall(_in_words(row, unit)) == [unit]
    assert not UNITS.findall(words.judged(row, check, unit, toward="north side", bare=True))
    assert not UNITS.findall(words.limits(-0.08, 0.1, check, "length", unit, bare=True))
    assert UNITS.findall(words.limits(-0.08, 0.1, check, "length", unit)) == [unit]


@pytest.mark.parametrize("unit", ["ft", "ftUS", "m"])
def test_a_note_with_many_lengths_bears_it_once_and_stays_short(unit):
    sizes = {"number": 0.02, "u": 0.021, "limit": 0.02, "second": 0.02, "third": 0.02, "fourth": 0.014}
    about = {"unit": "job", "count": 714, "total": 18}
    both = [Fact(place=place, **sizes, **about) for place in ("plan", "elevation")]
    axes = [Fact(subject=kind, place=axis, reference="declared: crew", **{**sizes, "fourth": 0.0}, **about)
            for kind in ("curb-top", "rim", "walk", "valve", "ramp") for axis in "hv"]  # fmt: skip
    open_now = [Fact(subject="walk-back", place="elevation", **sizes, **about),
                 *(Fact(variant=way, **sizes, **about) for way in ("shift", "again", "better"))]  # fmt: skip
    shift = Fact(session="A", place="elevation", written="0 out, 154 undecided, 56 in",
                 proposal="0 out, 35 undecided, 175 in", **sizes, **about)  # fmt: skip
    for line, longest in (
        (believed_parts(both, unit), 230),
        (budget(axes, unit), 240),
        (undecided(open_now, unit), 240),
        (session_shift(shift, unit), 320),
    ):
        assert len(UNITS.findall(line)) <= 1, line
        assert len(line) <= longest, line
