"""Runs and places of a line that was shot before and after it was rebuilt."""

import numpy as np
import pandas as pd
import pytest

from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.one_place import OnePlace
from geoqa.steps.design.runs import Runs

LINE = {"CTB-L": ("curb-top", 0.0, 0, 800)}
LIMITS = [("curb-top", "offset", -0.10, 0.10), ("curb-top", "elevation", -0.08, 0.08)]
FIRST = np.arange(20.0, 401.0, 20.0)
START = pd.Timestamp("2026-03-14 14:00", tz="UTC")


def taken(stations, rise, *, day=0, session="A", seed=1, line_id="1"):
    """Shots of one visit, a minute apart."""
    noise = np.random.default_rng(seed).normal(0, 0.01, len(stations))
    return [
        {"offset": 0.0, "station": float(at), "elevation": 100.0 + rise + float(by), "session": session,
         "line_id": line_id, "sequence": None, "time": START + pd.Timedelta(days=day, minutes=n)}
        for n, (at, by) in enumerate(zip(stations, noise, strict=True))
    ]  # fmt: skip


def judged(job, *visits):
    shots = job.prepared(job.shots([row for visit in visits for row in visit]))
    layers = job.layers(shots=shots, limits=job.limits(*LIMITS), **job.design(LINE))
    return job.run(layers, MatchLines(), Runs(), OnePlace(), Offsets(), Elevations())


def of_runs(layers):
    """Sessions, shots and mean of each run in elevation."""
    runs, shots = layers["runs"], layers["shots"].set_index("shot_key")
    runs = runs[runs["check"] == "elevation"].sort_values(["mean", "station"])
    members = layers["run_members"].groupby("run")["shot_key"].agg(list)
    sessions = ["".join(sorted(set(shots.loc[members[run], "session"]))) for run in runs["run"]]
    return list(zip(sessions, runs["shots"].tolist(), runs["mean"].tolist(), runs["verdict"].tolist(), strict=True))


@pytest.mark.parametrize("line_id", ["1", "12"])
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("shift", [9.0, 0.1])
def test_shots_of_before_a_rework_wear_down_no_run_of_after_it(job, shift, turned, line_id):
    stations = FIRST[:-1] + shift
    raised = taken(stations[::-1] if turned else stations, 0.15, day=1, session="B", seed=2, line_id=line_id)
    ((session, shots, mean, verdict),) = of_runs(judged(job, taken(FIRST, 0.0), raised))
    assert (session, shots, verdict) == ("B", 19, "OUT")
    assert mean == pytest.approx(0.15, abs=0.01)


def test_a_third_pass_that_agrees_with_the_second_is_in_one_run_with_it(job):
    raised = [taken(FIRST[:-1] + 6.0 * n, 0.15, day=n, session="ABC"[n], seed=n) for n in (1, 2)]
    ((sessions, shots, mean, _),) = of_runs(judged(job, taken(FIRST, 0.0), *raised))
    assert (sessions, shots) == ("BC", 38)
    assert mean == pytest.approx(0.15, abs=0.01)


def test_passes_that_agree_are_one_run(job):
    again = taken(FIRST[:-1] + 9.0, 0.11, day=1, session="B", seed=2)
    ((sessions, shots, _, verdict),) = of_runs(judged(job, taken(FIRST, 0.12), again))
    assert (sessions, shots, verdict) == ("AB", 39, "OUT")


def test_what_carries_a_line_on_and_another_string_of_it_are_in_one_run(job):
    on = taken(FIRST[10:], 0.12, day=1, session="B", seed=2)
    ((sessions, shots, *_),) = of_runs(judged(job, taken(FIRST[:10], 0.12), on))
    assert (sessions, shots) == ("AB", 20)
    other = taken(FIRST[:-1] + 9.0, 0.12, day=1, session="B", seed=2, line_id="2")
    ((sessions, shots, *_),) = of_runs(judged(job, taken(FIRST, 0.12), other))
    assert (sessions, shots) == ("AB", 39)


def test_what_differs_by_less_than_both_allow_is_one_run(job):
    again = taken(FIRST[:-1] + 9.0, 0.14, day=1, session="B", seed=2)
    ((sessions, *_),) = of_runs(judged(job, taken(FIRST, 0.11), again))
    assert sessions == "AB"


@pytest.mark.parametrize("seed", [3, 4, 5])
@pytest.mark.parametrize("line_id", ["1", "12"])
@pytest.mark.parametrize(("before", "after"), [(0.20, 0.0), (0.0, 0.20), (-0.25, 0.12)])
def test_a_place_shot_before_and_after_a_rework_is_two_values_each_judged_by_itself(job, before, after, line_id, seed):
    """Planted: each pass shows its own work, and no number stands that nobody built."""
    day_two = taken(FIRST, after, day=1, session="B", seed=seed + 10, line_id=line_id)
    made = judged(job, taken(FIRST, before, seed=seed), day_two)
    findings = made["findings"].query("check == 'elevation'")
    single = findings[findings["shot"].notna()].merge(made["shots"][["shot_key", "session"]].rename(
        columns={"shot_key": "shot"}), on="shot")  # fmt: skip
    assert not len(made["places"].query("check == 'elevation'"))
    assert (findings["why"].fillna("") != "shots-differ").all()
    for session, built in (("A", before), ("B", after)):
        mine = single[single["session"] == session]
        assert mine["deviation"].to_numpy() == pytest.approx(np.full(len(FIRST), built), abs=0.05)
        assert set(mine["verdict"]) <= ({"IN", "UNDECIDED"} if not built else {"OUT", "UNDECIDED"})
    # what did not move is one value all the same
    assert (made["places"]["check"] == "offset").all()
    assert made["places"]["shots"].tolist() == [2] * len(FIRST)


def test_places_of_two_passes_that_agree_are_one_value_beside_one_that_differs(job):
    raised = [taken(FIRST, 0.20, day=n, session="ABC"[n], seed=n + 5) for n in (1, 2)]
    made = judged(job, taken(FIRST, 0.0), *raised)
    places = made["places"].query("check == 'elevation'")
    assert places["shots"].tolist() == [2] * len(FIRST)
    assert (places["verdict"] == "OUT").all()
    members = made["place_members"].merge(made["shots"][["shot_key", "session"]], on="shot_key")
    assert set(members.query("check == 'elevation'")["session"]) == {"B", "C"}
