"""Rules of a crew's own checking, held against sessions whose minutes are written down."""

import numpy as np
import pandas as pd
import pytest

from geoqa import plugins
from geoqa.errors import JobError
from geoqa.job.inputs.tables import preset
from geoqa.model.tables.columns import conform
from geoqa.steps.control.check_policy import CheckPolicy

START = pd.Timestamp("2026-03-14 12:00", tz="UTC")


def held(job, rule, limit, checks, features, *, action="warn", marks=None):
    """Layers after the rule; checks and features by their minute. Checks are 101, ...; features follow."""
    names = [*(marks or ["CP-1"] * len(checks)), *["S1"] * len(features)]
    rows = [
        {"time": START + pd.Timedelta(minute, "min"), "line_id": name}
        for minute, name in zip([*checks, *features], names, strict=True)
    ]
    shots = job.shots(rows).assign(role=["check"] * len(checks) + ["feature"] * len(features))
    policy = pd.DataFrame([{"rule": rule, "limit": limit, "action": action, "reference": "Job"}])
    return job.run(job.layers(shots=shots, check_policy=conform("check_policy", policy)), CheckPolicy())


def answer(layers):
    (row,) = layers["session_checks"].to_dict("records")
    met = None if row["met"] is pd.NA else bool(row["met"])
    return met, row["measured"], row["shots"]


CASES = [
    # rule, limit, checks, features, kept, measured, flagged
    ("opening", "30 min", [0], [10, 20], True, 10.0, []),
    ("opening", "30 min", [0], [31, 40], False, 31.0, []),
    ("opening", "30 min", [25], [10, 20, 30], False, np.nan, ["102", "103"]),
    ("closing", "30 min", [50], [10, 20], True, 30.0, []),
    ("closing", "30 min", [60], [10, 20], False, 40.0, []),
    ("closing", "30 min", [15], [10, 20, 30], False, np.nan, ["103", "104"]),
    ("interval", "6 h", [0, 360], [10, 350], True, 360.0, []),
    ("interval", "6 h", [0, 361, 400], [10, 350, 390], False, 361.0, ["104", "105"]),
    ("pause", "60 min", [0], [10, 70], True, 60.0, []),
    ("pause", "60 min", [0, 90], [10, 75, 80, 95], False, 65.0, ["104", "105"]),
    ("pause", "60 min", [0, 74], [10, 75, 80], True, 64.0, []),  # checked before work went on
]


@pytest.mark.parametrize(("rule", "limit", "checks", "features", "kept", "measured", "flagged"), CASES)
def test_a_rule_is_kept_or_broken_and_what_no_check_vouches_for_is_flagged(
    job, rule, limit, checks, features, kept, measured, flagged
):
    layers = held(job, rule, limit, checks, features)
    met, number, shots = answer(layers)
    assert (met, shots) == (kept, len(flagged))
    assert number == pytest.approx(measured, nan_ok=True)
    flag = {
        "opening": "no-opening-check", "closing": "no-closing-check", "interval": "no-check-between",
        "pause": "no-check-after-pause",
    }[rule]  # fmt: skip
    assert job.raised(layers) == {(name, flag, False) for name in flagged}


@pytest.mark.parametrize(("marks", "kept", "count"), [(["CP-1", "CP-1"], False, 1), (["CP-1", "CP-2"], True, 2)])
def test_marks_are_counted_once_each_and_no_shot_is_to_blame(job, marks, kept, count):
    layers = held(job, "marks", "2", [0, 50], [10], marks=marks)
    assert answer(layers) == (kept, count, 0)
    assert job.raised(layers) == set()


def test_a_rule_that_rejects_leaves_the_shots_out(job):
    layers = held(job, "closing", "30 min", [0], [10], action="reject")
    assert job.raised(layers) == {("102", "no-closing-check", True)}


def test_without_times_it_cannot_be_told_and_nothing_is_flagged(job):
    shots = job.shots([{}, {}]).assign(role=["check", "feature"])
    shots["time"] = shots["time"].where(shots["time"].isna())
    policy = pd.DataFrame({"rule": ["closing", "marks"], "limit": ["30 min", "1"]}).assign(
        action="warn", reference="Job"
    )
    layers = job.run(job.layers(shots=shots, check_policy=conform("check_policy", policy)), CheckPolicy())
    assert layers["session_checks"]["met"].isna().tolist() == [True, False]
    assert job.raised(layers) == set()


def test_each_session_is_held_by_itself_and_one_without_features_is_no_work(job):
    rows = [("A", "check", 0), ("A", "feature", 10), ("B", "feature", 20), ("C", "check", 30)]
    shots = job.shots([{"session": name, "time": START + pd.Timedelta(at, "min")} for name, _, at in rows])
    shots = shots.assign(role=[role for _, role, _ in rows])
    policy = pd.DataFrame([{"rule": "opening", "limit": "30 min", "action": "warn", "reference": "Job"}])
    layers = job.run(job.layers(shots=shots, check_policy=conform("check_policy", policy)), CheckPolicy())
    table = layers["session_checks"]
    assert dict(zip(table["session"], table["met"].tolist(), strict=True)) == {"A": True, "B": False}
    assert job.raised(layers) == {("103", "no-opening-check", False)}


@pytest.mark.parametrize(
    ("rule", "limit", "action", "message"),
    [
        ("closing", "30", "warn", "is no time"),
        ("marks", "two", "warn", "no count of marks"),
        ("lunch", "1 h", "warn", "no rule 'lunch'"),
        ("closing", "30 min", "shout", "neither warn nor reject"),
    ],
)
def test_a_rule_that_says_nothing_is_refused(job, rule, limit, action, message):
    with pytest.raises(JobError, match=message):
        held(job, rule, limit, [0], [10], action=action)


def test_the_preset_names_no_source_it_does_not_have():
    assert set(preset("check_policy")["reference"]) == {"common practice, no source"}
    assert plugins.load("readers", "check_policy.csv").role == "check_policy"


@pytest.mark.parametrize(("hours", "sessions"), [(1, {"A"}), (24, {"A of day1", "A of part2"}), (None, {"A"})])
def test_one_session_in_two_files_is_one_and_the_same_name_next_day_is_another(job, hours, sessions):
    rows = [
        {"source": file, "session": "A", "time": START + pd.Timedelta(later * (hours or 0), "h")}
        for file, later in (("day1", 0), ("day1", 0), ("part2", 1), ("part2", 1))
    ]
    shots = job.shots(rows).assign(role="feature")
    if hours is None:
        shots["time"] = pd.Series(pd.NaT, index=shots.index, dtype=shots["time"].dtype)
    policy = pd.DataFrame([{"rule": "marks", "limit": "1", "action": "warn", "reference": "Job"}])
    layers = job.run(job.layers(shots=shots, check_policy=conform("check_policy", policy)), CheckPolicy())
    assert set(layers["session_checks"]["session"]) == sessions


@pytest.mark.parametrize("rule", ["closing", "pause"])
def test_a_row_without_a_place_asks_for_no_check(job, rule):
    rows = [{"time": START + pd.Timedelta(minute, "min")} for minute in (0, 10, 20, 200)]
    shots = job.shots(rows).assign(role=["check", "feature", "check", "feature"])
    shots.loc[3, ["easting", "northing", "elevation"]] = np.nan
    policy = pd.DataFrame([{"rule": rule, "limit": "30 min", "action": "warn", "reference": "Job"}])
    layers = job.run(job.layers(shots=shots, check_policy=conform("check_policy", policy)), CheckPolicy())
    assert layers["session_checks"]["met"].tolist() == [True]
    assert job.raised(layers) == set()
