"""Findings in one line, as an engineer says them."""

import math

import numpy as np
import pytest

from geoqa.contract.spoken import grade, head_of, spoken, where
from geoqa.model import words

WALK = {
    "check": "cross-slope", "kind": "walk", "subject": "WKB 1 / WKF 1", "quantity": "slope", "u": 0.0029,
    "deviation": 0.0354, "lower": -1 / 48, "upper": 1 / 48, "station": math.nan, "station_end": math.nan,
    "baseline_station_end": 1274.3, "baseline_place": "Main Street 12+01 to 12+74, left side",
}  # fmt: skip


def test_a_kind_that_the_name_ends_with_is_not_said_twice_nor_is_a_station():
    rim = {"check": "elevation", "kind": "rim", "subject": "MH-2 rim", "quantity": "length", "u": 0.01,
           "deviation": 0.2, "lower": -0.1, "upper": 0.1, "station": 100.001, "station_end": 100.002}  # fmt: skip
    assert spoken(rim, "ft").startswith("MH-2 rim, 1+00.00: elevation 0.20 ft high")
    assert spoken(rim | {"subject": "MH-2", "station": math.nan}, "ft").startswith("rim MH-2: ")


@pytest.mark.parametrize(
    ("axis", "by", "said"), [("elevation", -0.039, "0.039 ft low"), ("easting", 0.02, "0.02 ft east")]
)
def test_the_shift_of_a_session_has_a_way(axis, by, said):
    row = {"check": "session-shift", "kind": "control", "subject": "session A", "label": f"session A, {axis}",
           "quantity": "length", "u": 0.013, "deviation": by, "lower": -0.039, "upper": 0.039}  # fmt: skip
    assert spoken(row, "ft").startswith(f"session A: session shift {said} ± 0.0")


def test_a_stretch_of_walk():
    assert spoken(WALK, "ft") == (
        "walk, Main Street 12+01 to 12+74, left side: cross slope 3.5 % ± 0.6; allowed ±2.083 %"
    )


@pytest.mark.parametrize(
    ("change", "end"),
    [
        ({"check": "clear-width", "quantity": "length", "deviation": 3.565, "u": 0.025, "lower": 4.0,
          "upper": math.inf},
         "clear width 3.56 ft ± 0.05; allowed at least 4.00 ft"),
        ({"check": "offset", "quantity": "length", "deviation": 0.16, "u": 0.02, "lower": -0.1, "upper": 0.1},
         "offset 0.16 ft right ± 0.04; allowed 0.10 ft left or right"),
        ({"check": "invert-reading", "quantity": "length", "deviation": -5.0, "u": 0.04, "lower": -math.inf,
          "upper": math.inf},
         "invert reading 5.00 ft too short ± 0.08"),
        ({"check": "gutter-fall", "deviation": -0.003, "u": 0.00029, "lower": 0.003, "upper": math.inf},
         "gutter fall runs backwards by 0.30 % ± 0.06; allowed at least 0.300 %"),
        ({"check": "gutter-fall", "deviation": 0.0012, "u": 0.00029, "lower": 0.0, "upper": math.inf},
         "gutter fall 0.12 % along the flow ± 0.06; may not run backwards"),
        ({"check": "pipe-slope", "deviation": -0.0151, "u": 0.0001, "lower": 0.0, "upper": math.inf},
         "pipe slope runs backwards by 1.51 % ± 0.02; may not run backwards"),
        ({"check": "offset", "quantity": "length", "deviation": 0.1534, "u": 0.004, "lower": -0.1, "upper": 0.1},
         "offset 0.153 ft right ± 0.008; allowed 0.10 ft left or right"),
        ({"deviation": math.nan}, "cross slope of a walk"),
        ({"u": 0.0}, "cross slope 3.540 %; allowed ±2.083 %"),
    ],
)  # fmt: skip
def test_what_else_is_judged(change, end):
    assert spoken(WALK | change, "ft").endswith(f": {end}")


def test_without_a_baseline_the_line_and_its_own_stations_say_where():
    line = WALK | {"baseline_place": None, "baseline_station_end": None, "station": 1201.0, "station_end": 1274.0}
    assert where(line, "ft") == "12+01 to 12+74"
    assert spoken(line, "ft").startswith("walk, 12+01 to 12+74 of WKB 1 / WKF 1: ")
    assert where(line | {"station": math.nan}, "ft") == ""


@pytest.mark.parametrize(
    ("kind", "subject", "place", "head"),
    [
        ("walk-front", "WKF-R-2", "Elm 22+10.00, 21.00 ft right", "walk front, Elm 22+10.00, 21.00 ft right"),
        ("walk-front", "WKF-R-2", None, "walk front, 12+10.00 of WKF-R-2"),
        ("detectable-warning", "CR-1 W1", None, "detectable warning CR-1 W1"),
        ("ramp", "CR-1, run", "Elm 14+20.01, 19.00 ft left", "ramp CR-1, run, Elm 14+20.01, 19.00 ft left"),
        ("walk", "SWF -", None, "walk, 12+10.00 of SWF without a line ID"),
        ("walk-front", "-", None, "walk front"),
    ],
)  # fmt: skip
def test_a_heading_speaks_of_the_work_before_the_code(kind, subject, place, head):
    on_a_line = kind.startswith("walk") and subject != "-"
    row = {"check": "offset", "kind": kind, "subject": subject, "baseline_place": place, "quantity": "length",
           "station": 1210.0 if on_a_line else math.nan}  # fmt: skip
    assert head_of(row, "ft") == head


@pytest.mark.parametrize(
    ("subject", "head"),
    [
        ("mark: CP-3", "control CP-3"),
        ("bad-shot: CP-5", "control CP-5"),
        ("unchecked: shots day1/5254 to day1/5346", "shots day1/5254 to day1/5346"),
        ("work-or-survey: shots day1/52 to day1/74", "shots day1/52 to day1/74"),
        ("rod: session B", "session B"),
        ("initialization: B2", "initialization B2"),
        ("none-fits: A and B", "sessions A and B"),
        ("none-fits: A", "session A"),
        ("tilt-off: 6 shots at 15°", "6 shots at 15°"),
    ],
)
def test_what_a_cause_acts_on_is_no_control_unless_it_is_a_mark(subject, head):
    assert head_of({"check": "diagnosis", "kind": "control", "subject": subject}, "ft") == head


def test_a_cause_is_told_as_the_question_it_asks():
    row = {"check": "diagnosis", "kind": "control", "quantity": "count", "deviation": 23.0, "u": 0.0,
           "lower": -math.inf, "upper": 0.0}  # fmt: skip
    for subject, told in (
        ("rod: session B", "session B: survey blunder"),
        ("work-or-survey: shots day1/52 to day1/74", "shots day1/52 to day1/74: work or survey"),
    ):
        assert spoken(row | {"subject": subject}, "ft") == told


def test_what_was_built_less_the_design_reads_as_the_deviation_beside_it():
    rng, agreed = np.random.default_rng(3), 0
    for _ in range(400):
        design, deviation = 806.0 + rng.uniform(0, 1), rng.uniform(-0.5, 0.5)
        row = {"check": "elevation", "design": design, "measured": design + deviation, "deviation": deviation,
               "quantity": "length", "u": rng.uniform(0.01, 0.05), "lower": -0.1, "upper": 0.1}  # fmt: skip
        digits = words.judged_digits(row, "ft")
        built, drawn = (float(part.split()[1]) for part in grade(row, "ft").split(", "))
        agreed += words.number(built - drawn, digits) == words.number(deviation, digits)
    assert agreed >= 392  # a number that lies between two printed ones is told apart by no fifth decimal


def test_a_deviation_from_which_something_was_taken_off_leaves_built_and_design_as_they_are():
    row = {"check": "elevation", "design": 806.514, "measured": 806.836, "deviation": 0.202, "quantity": "length",
           "u": 0.02, "lower": -0.1, "upper": 0.1}  # fmt: skip
    assert grade(row, "ft") == "built 806.84, design 806.51"
