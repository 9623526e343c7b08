"""A note is whole wherever it is written, and short where it is read first."""

import json
import pickle

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.model.note_line import LONGEST, NoteLine, in_short, more_of, short_of
from geoqa.steps.tilt.proofs import Scope, headline

LONG = ("Mark CP-3 moved or wrongly published in plan; easting +0.166 \u00b1 0.022, northing -0.017 \u00b1 0.022 ft "
        "(\u00b1 at 95 %); 4 shots, the first day1/1004; probability more than 99.9 %; what is left at control is 0.9 "
        "times the expected scatter")  # fmt: skip
MARK = {"note": "survey-blunder", "subject": "mark", "place": "mark CP-3 moved or wrongly published in plan",
        "count": 4, "written": LONG,
        "proposal": "do not hold CP-3; keep the others, and have the mark itself checked"}  # fmt: skip
SHARED = {
    "note": "budget",
    "variant": "1",
    "subject": "walk-back",
    "unit": "job",
    "second": 0.02,
    "reference": "assumed: heading 1\u00b0, tilt angle 0.3\u00b0 at 1 sigma; " + "common practice, no source; " * 9,
}
BUDGET = [{**SHARED, "place": axis, "number": u} for axis, u in (("h", 0.02), ("v", 0.028))]
SHIFT = {"note": "session-shift", "session": "A", "number": -0.039, "u": 0.013, "third": 0.023, "unit": "job",
         "place": "elevation", "total": 210, "written": "0 out, 154 undecided, 56 in",
         "proposal": "0 out, 121 undecided, 89 in"}  # fmt: skip


DOUBT = {
    "note": "frame-doubt",
    "written": "Is the frame of tue.csv right? Declared as Ohio North in US survey foot, its check shots lie 4.433 "
    "ftUS off 4 marks (median). Read in international foot, 0.020 ftUS (root mean square). The check shots of mon "
    "lie on the same marks, so the control is not the odd one. What to do: ask how the file was made; if it is so, "
    'set unit = "ft" in [[shots]] of tue. Nothing was changed.',
}
LEFT_OUT = {
    "note": "left-out", "count": 6, "total": 0,
    "written": "1004, 1240, 2001, 2004 (mark disturbed or wrongly published); 1630 (check shot taken on another mark "
    "than it names); 2002 (one check shot alone is off)",
}  # fmt: skip
GAPS = [{"note": "linework", "variant": "unused", "count": 11, "total": 25},
        {"note": "linework", "variant": "gap", "count": 3, "total": 25, "number": 201.795, "unit": "job",
         "written": "WKB WKB4, WKF WKF4, WTP WTP1"}]  # fmt: skip


@pytest.mark.parametrize("rows", [[DOUBT], [LEFT_OUT], GAPS], ids=["frame", "left out", "gaps"])
def test_what_speaks_for_it_and_what_it_is_about_stands_behind_the_line(rows):
    (line,) = note_lines(pd.DataFrame(rows), "ftUS")
    assert len(short_of(line)) <= 160 < len(line)
    words = set(line.replace(".", " ").replace(";", " ").split())
    assert words <= set(f"{short_of(line)} {more_of(line)}".replace(".", " ").replace(";", " ").split())


@pytest.mark.parametrize("rows", [[MARK], BUDGET, [SHIFT]], ids=["blunder", "budget", "shift"])
def test_the_page_reads_one_short_sentence_and_nothing_is_lost(rows):
    (line,) = note_lines(pd.DataFrame(rows), "ft")
    assert len(short_of(line)) <= 200 < len(line)
    assert json.loads(json.dumps(line)) == line
    words = set(line.replace(".", " ").replace(";", " ").split())
    both = f"{short_of(line)} {more_of(line)}"
    assert words <= set(both.replace(".", " ").replace(";", " ").split())
    again = pickle.loads(pickle.dumps(line))
    assert (again, again.short, again.more) == (line, line.short, line.more)


def test_a_headline_of_many_kinds_counts_them_and_the_whole_names_them():
    kinds = [f"k-{n}" for n in range(14)]
    table = pd.DataFrame({"kind": kinds, "check": "offset", "cautious": [np.nan] * 7 + [29.9] * 7, "plumb": True})
    table = table.assign(limit=0.1, tested=30.0, biases="kept", deviation=0.05)
    short = headline(table, Scope(sides=4, sessions=2))
    assert (
        short
        == "Rod lean with half of a tolerance used up. In plan: at most 29\u00b0 for 7 kinds; plumb only for 7 kinds."
    )
    # what a test does not cover takes room, and costs neither of the planes
    level = table.assign(check="elevation", plumb=[True] + [False] * 13, cautious=np.nan)
    table.loc[0, "cautious"], table.loc[7:9, "cautious"] = 20.9, np.nan
    narrow = headline(pd.concat([table, level]), Scope(sides=4, sessions=1))
    assert "(one session). In plan: 29° for 4 kinds, 20° for k-0" in narrow
    assert "In elevation: plumb for k-0, not even plumb for 13 kinds." in narrow
    assert len(narrow) <= LONGEST
    assert headline(table.iloc[:0], Scope(sides=4, sessions=2)) == ""
    (line,) = note_lines(pd.DataFrame([{"note": "tilt-test", "written": "all of it", "proposal": short}]), "ft")
    assert (line, short_of(line), more_of(line)) == ("all of it", short, "all of it")


@pytest.mark.parametrize(
    ("text", "short"),
    [
        ("Two marks disagree. " + "far " * 50, "Two marks disagree."),
        (
            "It lies apart; " + "far " * 50 + ". What to do: ask. Nothing was changed.",
            "It lies apart. What to do: ask.",
        ),
        ("A name: " + "far " * 50 + "What to do: " + "ask " * 40 + ".", "A name."),
        ("far " * 60, "far " * 38 + "far …"),
        ("short", "short"),
    ],
)
def test_whatever_is_noted_is_read_first_in_a_short_line_and_stands_whole_behind_it(text, short):
    rows = pd.DataFrame([{"note": "not-known-to-anybody", "written": text}])
    note = in_short(text)
    assert (note, short_of(note)) == (text, short)
    assert more_of(note) == (text.strip() if short != text else "")
    assert all(len(short_of(line)) <= 160 for line in note_lines(rows, "ft"))


def test_a_first_line_that_is_too_long_loses_nothing_to_what_stands_behind_it():
    note = in_short(NoteLine("all of it", short="It is so. " + "far " * 50, more="Behind."))
    assert (short_of(note), more_of(note)) == ("It is so.", "It is so. " + "far " * 50 + " Behind.")


def test_a_plain_note_has_nothing_behind_it():
    assert (short_of("a note"), more_of("a note")) == ("a note", "")
    assert isinstance(NoteLine("a b", short="a", more="b"), str)


@pytest.mark.parametrize(
    ("twice", "why"),
    [
        (0, "for a survey blunder acts on them."),
        (2, "for a survey blunder acts on them or they are one measurement listed twice."),
        (6, "for they are one measurement listed twice."),
    ],
)
def test_a_second_listing_is_called_no_blunder(twice, why):
    (line,) = note_lines(pd.DataFrame([LEFT_OUT | {"third": twice}]), "ftUS")
    assert short_of(line).endswith(why)
