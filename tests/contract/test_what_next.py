"""What a finding means and what happens next is said once, for the terminal and the map."""

import math

import pandas as pd
import pytest

from geoqa.contract.checks import every_check
from geoqa.contract.what_next import (
    AGAIN,
    MEND,
    OR,
    SHOT_FIRST,
    beyond,
    chances,
    meaning,
    next_line,
    next_lines,
    what_next,
)

OUT = {"finding": "F1", "check": "elevation", "verdict": "OUT", "remedy": None}


@pytest.mark.parametrize(
    ("chance", "step"), [(None, f"{MEND}, {OR}"), (0.99, f"{MEND}, {OR}"), (0.5, AGAIN), (0.05, SHOT_FIRST)]
)
def test_what_is_out_is_mended_only_where_the_odds_are_not_against_it(chance, step):
    assert what_next(OUT, chance) == step


def test_what_may_be_chance_is_measured_again_before_anything_is_mended():
    assert what_next(OUT, 0.99, loose=True) == AGAIN
    assert what_next(OUT, 0.05, loose=True) == SHOT_FIRST
    claims = pd.DataFrame({"finding": ["F1"], "holds": [False]})
    findings = pd.DataFrame([OUT | {"item": "1"}])
    assert AGAIN in next_lines({"findings": findings, "many_checks": claims}, findings).iloc[0]


def test_a_remedy_of_the_finding_itself_goes_first():
    assert what_next(OUT | {"remedy": "level it"}, 0.05) == "level it"


def test_what_is_not_out_and_what_is_no_work_is_not_mended():
    assert what_next(OUT | {"verdict": "UNDECIDED"}, 0.99) == ""
    assert what_next(OUT | {"check": "control-position"}, None) == ""
    assert meaning(OUT | {"verdict": "UNDECIDED"}) == ""


def test_every_check_of_the_work_with_a_consequence_says_what_it_means():
    for check in every_check().values():
        if check.subject == "work" and check.consequence:
            assert meaning({"check": check.name, "verdict": "OUT"})


def test_the_odds_of_a_finding_are_the_sum_of_its_evidence():
    rows = pd.DataFrame({"finding": ["F1", "F1"], "log_ratio": [math.log(3.0), math.log(3.0)]})
    assert chances({"work_odds": rows}) == pytest.approx({"F1": 0.9})
    findings = pd.DataFrame([OUT, OUT | {"finding": "F2", "check": "extra", "verdict": "IN"}])
    lines = next_lines({"work_odds": rows, "findings": findings}, findings)
    assert lines.iloc[0] == next_line(OUT, 0.9)
    assert lines.isna().tolist() == [False, True]


@pytest.mark.parametrize(
    ("check", "quantity", "value", "lower", "upper", "unit", "told"),
    [
        ("clear-width", "length", 3.56, 4.0, math.inf, "ft", "0.44 ft"),
        ("elevation", "length", -0.22, -0.08, 0.08, "ftUS", "0.14 ftUS"),
        ("cross-slope", "slope", -0.0354, -0.02, 0.02, "ft", "1.5 %"),
        ("offset", "length", 0.045, -0.03, 0.03, "m", "0.015 m"),
        ("elevation", "length", -0.22, -math.inf, math.inf, "ft", ""),
        ("elevation", "length", math.nan, -0.08, 0.08, "ft", ""),
    ],
)
def test_what_is_out_says_by_how_much_it_misses_its_limit(check, quantity, value, lower, upper, unit, told):
    row = {"check": check, "quantity": quantity, "deviation": value, "lower": lower, "upper": upper, "verdict": "OUT",
           "u": 0.003 if quantity == "slope" else 0.02, "remedy": None}  # fmt: skip
    assert beyond(row, unit) == told
    assert what_next(row, 0.99, unit) == (f"{MEND}, by {told} at the least, {OR}" if told else f"{MEND}, {OR}")
    assert beyond(row | {"verdict": "IN"}, unit) == ""
    assert beyond(row | {"check": "control-position"}, unit) == ""
