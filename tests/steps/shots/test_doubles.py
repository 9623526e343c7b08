import pandas as pd
import pytest

from geoqa.steps.shots.doubles import Doubles

AT = pd.Timestamp("2026-03-14 14:00", tz="UTC")
LATER = pd.Timestamp("2026-03-14 14:03", tz="UTC")


def flags_of(job, *rows):
    made = job.run(job.layers(shots=job.shots(list(rows))), Doubles())
    return dict(zip(made["flags"]["shot_key"], made["flags"]["flag"], strict=True))


@pytest.mark.parametrize(
    ("lines", "codes", "told"),
    [
        (("C1", "C1"), ("CTB", "CTB"), {"day1/102": "same-place"}),
        (("P1", "P2"), ("STP", "STP"), {}),  # two pipes that meet at a manhole
        ((None, None), ("STP", "STP"), {}),  # the same two, in a log without line IDs
        (("C1", "C1"), ("CTB", "CFL"), {}),
        (("C1", "C1"), (None, None), {}),
    ],
)
def test_a_repeat_under_another_name_is_told_from_features_that_meet(job, lines, codes, told):
    rows = [
        {"line_id": line, "code": code, "station": 0.02 * nth, "time": when}
        for nth, (line, code, when) in enumerate(zip(lines, codes, (AT, LATER), strict=True))
    ]
    assert flags_of(job, *rows) == told


def test_a_name_shot_again_is_told_without_a_line_id_too(job):
    again = {"shot": "101", "shot_key": "day1/101~2", "station": 0.02, "time": LATER}
    assert flags_of(job, {"shot": "101", "time": AT}, again) == {"day1/101~2": "re-shot"}


def test_the_same_row_exported_twice_is_judged_once(job):
    again = {"shot": "101", "shot_key": "day1/101~2"}
    made = job.run(job.layers(shots=job.shots([{}, again])), Doubles())
    assert job.raised(made) == {("101~2", "row-twice", True)}


@pytest.mark.parametrize("other", [{}, {"code": "CFL"}], ids=["another name", "another code"])
def test_one_measurement_under_two_names_is_told_of_both(job, other):
    made = job.run(job.layers(shots=job.shots([{}, other])), Doubles())
    assert job.raised(made) == {("101", "two-names", False), ("102", "two-names", False)}


@pytest.mark.parametrize("apart", [{"station": 0.11}, {"elevation": 100.11}, {"station": 0.08, "elevation": 100.08}])
def test_shots_farther_apart_than_a_tenth_are_two_places(job, apart):
    row = {"line_id": "C1", "time": LATER}
    assert flags_of(job, {"line_id": "C1"}, row | apart) == {}
    assert flags_of(job, {"line_id": "C1"}, row | {"station": 0.09}) == {"day1/102": "same-place"}


def test_check_shots_are_meant_to_repeat(job):
    shots = job.prepared(job.shots([{}, {}]), role="check")
    assert job.raised(job.run(job.layers(shots=shots), Doubles())) == set()
