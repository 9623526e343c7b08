"""Numbers made of two shots: what they feel, what they wait for."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.reasons import WHY
from geoqa.model.tables.columns import conform
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import observed

RISE = {"elevation": np.array([[-1.0, 1.0]])}
PAIR = np.array([[0, 1]])


def table(job, rows, **tables):
    prepared = job.prepared(job.shots(rows))
    return job.layers(shots=prepared, limits=job.limits(), **tables)


def rise(layers, **options):
    shots = observed(layers)
    number = np.array([shots["elevation"].iloc[1] - shots["elevation"].iloc[0]])
    return derived_rows(layers, PAIR, RISE, number, show=lambda value: f"{value:+.2f} ft", **options).iloc[0]


def test_what_a_session_shares_cancels_and_between_sessions_it_does_not(job):
    one = rise(table(job, [{"elevation": 100.0}, {"elevation": 100.3}]))
    assert one["measured"] == pytest.approx(0.3)
    assert one["u_random"] == pytest.approx(0.02 * np.sqrt(2))
    assert one["u_common"] == pytest.approx(0, abs=1e-12)
    two = rise(table(job, [{"session": "A"}, {"session": "B"}]))
    assert two["u_common"] == pytest.approx(0.02 * np.sqrt(2))
    assert one["why"] == two["why"] == 0
    assert one["keys"] == ["day1/101", "day1/102"]


def caused(keys, **shift):
    row = {"cause": "rod-height", "subject": "A", "holds": True, "sure": True}
    row |= {f"shift_{axis}": size for axis, size in (("easting", 0.0), ("northing", 0.0), ("elevation", 0.656))}
    row |= {"u_easting": 0.0, "u_northing": 0.0, "u_elevation": 0.01} | shift
    return conform("cause_shots", pd.DataFrame([row | {"shot_key": key} for key in keys]))


def test_a_blunder_that_lifts_both_ends_is_not_felt(job):
    both = table(job, [{}, {"elevation": 100.3}], cause_shots=caused(["day1/101", "day1/102"]))
    assert rise(both)["why"] == 0
    assert pd.isna(rise(both)["cause"])


def test_a_blunder_that_lifts_one_end_is_shown_both_ways(job):
    made = rise(table(job, [{}, {"elevation": 100.7}], cause_shots=caused(["day1/102"])))
    assert made["why"] == WHY["open-blunder"]
    assert made["without"] == pytest.approx(0.7 - 0.656)
    assert made["u_without"] == pytest.approx(0.01)
    assert made["cause"].endswith("+0.70 ft as read, +0.04 ft without it")


def test_a_number_of_a_shot_that_a_blunder_moves_in_plan_says_that_its_place_is_as_read(job):
    moved = caused(["day1/102"], shift_easting=-4.46, shift_northing=-0.89)
    made = rise(table(job, [{}, {"elevation": 100.7}], cause_shots=moved))
    assert made["cause"].endswith("; its place is told as read, and lies 4.548 ft from there without it")


def test_a_blunder_of_unknown_size_is_felt(job):
    lost = caused(["day1/101", "day1/102"], shift_elevation=np.nan)
    assert rise(table(job, [{}, {}], cause_shots=lost))["why"] == WHY["open-blunder"]


def doubted(keys):
    row = {"off_plan": np.nan, "off_elevation": 0.5, "together_plan": 0.0, "together_elevation": 0.0, "widened": 1.0}
    return conform("survey_doubt", pd.DataFrame([row | {"shot_key": key} for key in keys]))


def test_a_doubt_is_felt_between_initializations_and_not_within_one(job):
    keys = ["day1/101", "day1/102"]
    within = table(job, [{}, {}], survey_doubt=doubted(keys))
    between = table(job, [{}, {"initialization": "A2"}], survey_doubt=doubted(keys))
    assert rise(within)["why"] == 0
    assert rise(between)["why"] == WHY["survey-doubt"]
    assert rise(between, beyond=2.0)["why"] == 0


@pytest.mark.parametrize(("row", "why"), [({"elevation": np.nan}, "no-elevation"), ({"use": False}, "screened")])
def test_what_keeps_a_shot_from_counting(job, row, why):
    use = row.pop("use", True)
    layers = table(job, [{}, row])
    shots = layers["shots"].copy()
    shots.loc[1, "use"] = use
    made = rise(job.layers(shots=shots, limits=job.limits()))
    assert made["why"] == WHY[why]


def test_a_shot_without_weight_keeps_nothing(job):
    layers = table(job, [{}, {"elevation": 100.3}, {"elevation": np.nan}])
    members, weights = np.array([[0, 1, 2]]), np.array([[-1.0, 1.0, 0.0]])
    made = derived_rows(layers, members, {"elevation": weights}, np.array([0.3]), show=str)
    assert made["why"].tolist() == [0]
    assert made["u_random"].iloc[0] == pytest.approx(0.02 * np.sqrt(2))


@pytest.mark.parametrize("shots", [1, 2, 0])
def test_a_job_without_a_usable_shot_knows_no_number(job, shots):
    prepared = job.prepared(job.shots([{}, {}]), role="check")
    layers = job.layers(shots=prepared, limits=job.limits())
    members = np.full((3, shots), -1)
    number = np.array([0.3, np.nan, 1.0])
    rows = derived_rows(layers, members, {"elevation": np.ones((3, shots))}, number, show=str)
    assert not len(observed(layers))
    assert rows[["measured", "deviation"]].isna().all(axis=None)
    assert rows["keys"].tolist() == [[], [], []]
