"""Outlines that nearly close, and legs across a place where nothing is designed."""

import pandas as pd
import pytest

from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.shots.string_faults import StringFaults


def string(places, **more):
    """Shots of one string at (offset, station)."""
    return [
        {"offset": e, "station": n, "line_id": "S1", "sequence": nth + 1} | more for nth, (e, n) in enumerate(places)
    ]


def raised(job, rows, lines=None, **columns):
    layers = job.layers(shots=job.prepared(job.shots(rows), **columns), **job.design(lines))
    return job.raised(job.run(layers, *([MatchLines()] if lines else []), StringFaults()))


def outline(gap):
    """Three sides of a square of 100 ft, and a fourth that ends `gap` from where the first began."""
    return [(0, 0), (100, 0), (100, 100), (0, 100), (0, gap)]


BOTH_ENDS = {("101", "unclosed", False), ("105", "unclosed", False)}


@pytest.mark.parametrize(("gap", "expected"), [
    (0.0, set()), (0.09, set()), (0.11, BOTH_ENDS), (5.0, BOTH_ENDS),
    (18.0, BOTH_ENDS),  # 5 % of 382 ft are 19.1 ft
    (20.0, set()),  # 5 % of 380 ft are 19.0 ft
])  # fmt: skip
def test_an_outline_that_nearly_closes_is_flagged_at_both_ends(job, gap, expected):
    found = {each for each in raised(job, string(outline(gap))) if each[1] == "unclosed"}
    assert found == expected


def test_three_shots_are_no_outline(job):
    assert raised(job, string([(0, 0), (100, 0), (1, 0)])) == set()


def along(*stations):
    return [(0.0, at) for at in stations]


JUMP = {("104", "false-jump", False), ("105", "false-jump", False)}


@pytest.mark.parametrize(("stations", "expected"), [
    ((0, 25, 50, 75, 100, 125, 150), set()),
    ((0, 25, 50, 75, 149, 174, 199), set()),  # 74 ft: less than three times 25
    ((0, 25, 50, 75, 151, 176, 201), JUMP),
    ((0, 1, 2, 3, 7.9, 9, 10), set()),  # 4.9 ft: legs up to 5 ft are no jumps
    ((0, 25, 50, 75, 200), set()),  # four legs know no usual one
])  # fmt: skip
def test_without_design_a_leg_of_more_than_three_usual_ones_is_a_jump(job, stations, expected):
    assert raised(job, string(along(*stations))) == expected


def test_shots_of_another_code_in_the_gap_make_it_a_question_of_codes(job):
    rows = string(along(0, 25, 50, 75, 175, 200, 225))
    for row in rows[4:]:
        row["sequence"] += 1
    between = {"offset": 0.0, "station": 125.0, "line_id": "S1", "code": "CFL", "sequence": 5}
    assert raised(job, rows) == JUMP
    assert raised(job, [*rows, between]) == set()


TWO = {"A": ("curb-top", 0.0, 0, 100), "B": ("curb-top", 0.0, 160, 260)}
ONE = {"A": ("curb-top", 0.0, 0, 260)}


@pytest.mark.parametrize(("lines", "expected"), [(TWO, JUMP), (ONE, set())])
def test_with_design_a_leg_from_one_line_to_another_is_a_jump_and_a_long_one_on_a_line_is_none(job, lines, expected):
    # B begins 60 ft behind the end of A
    assert raised(job, string(along(25, 50, 75, 100, 160, 185, 210)), lines) == expected
    assert raised(job, string(along(0, 5, 10, 15, 99)), lines) == set()


def test_two_strings_are_not_joined_and_what_has_no_line_id_is_no_string(job):
    places = along(0, 25, 50, 75, 175, 200, 225)
    assert raised(job, string(places[:4]) + string(places[4:], line_id="S2")) == set()
    assert raised(job, string(places, line_id=None)) == set()
    assert raised(job, string(places), role="check") == set()
    assert raised(job, []) == set()


def test_without_a_sequence_the_order_is_that_of_time(job):
    rows = string(along(0, 25, 50, 75, 151, 176, 201), sequence=None)
    start = pd.Timestamp("2026-03-14 14:00", tz="UTC")
    for nth, row in enumerate(rows):
        row |= {"time": start + pd.Timedelta(nth, "min"), "shot": str(101 + nth)}
    assert raised(job, rows[::-1]) == JUMP
