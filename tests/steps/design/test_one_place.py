"""Several shots of one place are one value, weighed by what is independent in them."""

import numpy as np
import pandas as pd
import pytest

from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.one_place import OnePlace
from geoqa.steps.design.positions import Positions
from geoqa.steps.design.runs import Runs

LIMITS = [
    ("curb-top", "offset", -0.10, 0.10), ("curb-top", "elevation", -0.08, 0.08),
    ("hydrant", "position", -np.inf, 0.20), ("hydrant", "elevation", -0.10, 0.10),
]  # fmt: skip
DESIGN = {"lines": {"CTB-L": ("curb-top", 0.0, 0, 800)}, "points": {"HYD-1": ("hydrant", 50.0, 100.0, 100.0)}}
STEPS = (MatchLines(), MatchPoints(), Runs(), OnePlace(), Offsets(), Elevations(), Positions())


def at(minutes):
    return pd.Timestamp("2026-03-14 14:00", tz="UTC") + pd.to_timedelta(minutes, unit="min")


def judged(job, rows, kind="curb-top", steps=STEPS, **columns):
    shots = job.prepared(job.shots(rows), kind=kind, **columns)
    return job.run(job.layers(shots=shots, limits=job.limits(*LIMITS), **job.design(**DESIGN)), *steps)


def place_of(layers, check):
    found = layers["places"].query("check == @check")
    assert len(found) == 1
    own = layers["findings"].set_index("finding").loc[found["place"].iloc[0]]
    return found.iloc[0], own


CURB = [{"offset": 0.075, "station": 100.0 + 0.05 * n, "time": at(n)} for n in range(3)]


def test_three_shots_a_minute_apart_are_one_and_no_run(job):
    made = judged(job, CURB)
    place, own = place_of(made, "offset")
    assert own["verdict"] == "UNDECIDED"  # with u / sqrt(3) it would be IN
    assert own["u"] == pytest.approx(0.02, rel=0.01)
    assert place["independent"] == pytest.approx(1.0, abs=0.02)
    assert len(made["runs"]) == 0
    members = made["findings"].query("check == 'offset' and shot.notna()")
    assert (members["run"] == place["place"]).all()


def test_two_shots_in_two_sessions_are_two(job):
    rows = [{**CURB[0], "session": "A"}, {**CURB[1], "session": "B", "time": at(1440)}]
    place, own = place_of(judged(job, rows, u_h_common=0.005), "offset")
    assert own["verdict"] == "IN"
    assert own["u"] == pytest.approx(np.hypot(0.02, 0.005) / np.sqrt(2), rel=1e-4)
    assert place["independent"] == pytest.approx(2.0, abs=1e-3)
    assert own["label"] == "2 shots at 1+00.02, as good as 2.0 independent"


@pytest.mark.long
def test_two_sessions_do_not_share_a_common_part_and_one_does(job):
    later = {"elevation": 100.05, "time": at(1440)}
    for session, u in (("A", np.hypot(0.02 / np.sqrt(2), 0.02)), ("B", 0.02)):
        _, own = place_of(
            judged(job, [{"elevation": 100.05, "session": "A"}, {**later, "session": session}]), "elevation"
        )
        assert own["u"] == pytest.approx(u, rel=1e-4)


def test_a_hydrant_on_four_days_is_one_position_and_one_elevation(job):
    east = [50.18, 50.16, 50.165, 50.175]
    rows = [
        {"offset": each, "station": 100.0, "elevation": 100.02, "session": "ABCD"[n], "time": at(1440 * n)}
        for n, each in enumerate(east)
    ]
    made = judged(job, rows, kind="hydrant")
    place, own = place_of(made, "position")
    assert [own["deviation"], own["u"], own["verdict"]] == [pytest.approx(0.17), pytest.approx(0.01, rel=1e-3), "IN"]
    assert place["shots"] == 4
    single = made["findings"].query("check == 'position' and shot.notna()")
    assert "UNDECIDED" in set(single["verdict"])
    assert (single["run"] == place["place"]).all()
    assert place_of(made, "elevation")[1]["verdict"] == "IN"


def test_a_place_in_plan_is_the_mean_place_not_the_mean_distance(job):
    rows = [{"offset": 50.0 + side, "station": 100.0, "session": name, "time": at(1440 * n)}
            for n, (side, name) in enumerate([(0.05, "A"), (-0.05, "B")])]  # fmt: skip
    _, own = place_of(judged(job, rows, kind="hydrant", u_h_random=0.04), "position")
    assert own["deviation"] == pytest.approx(0.0, abs=1e-9)


def test_shots_that_differ_prove_nothing_and_say_so(job):
    rows = [{**CURB[0], "offset": 0.25}, {**CURB[1], "offset": 0.0, "session": "B", "time": at(1440)}]
    made = judged(job, rows)
    place, own = place_of(made, "offset")
    assert [own["verdict"], own["why"]] == ["UNDECIDED", "shots-differ"]
    assert place["enlarged"] == pytest.approx(0.25 / np.sqrt(2) / 0.02)
    assert "which of them is wrong" in own["remedy"]


@pytest.mark.parametrize("slip", [0.25, -0.18])
def test_of_shots_that_differ_the_one_that_all_others_contradict_is_named_and_without_it_the_place_is_decided(
    job, slip
):
    sound = [{**CURB[0], "offset": 0.02 * n, "session": "ABC"[n], "time": at(1440 * n), "shot": f"{n + 1}"}
             for n in range(2)]  # fmt: skip
    rows = [*sound, {**CURB[0], "offset": slip, "session": "C", "time": at(2880), "shot": "77"}]
    _, own = place_of(judged(job, rows), "offset")
    assert [own["verdict"], own["why"]] == ["UNDECIDED", "shots-differ"]
    assert own["remedy"].startswith(
        "shot 77 lies apart from the other 2, which agree: 0.01 ft right with u of 0.014 ft"
    )
    _, without = place_of(judged(job, sound), "offset")
    assert [without["verdict"], without["deviation"]] == ["IN", pytest.approx(0.01, abs=1e-3)]


def test_one_session_alone_contradicts_no_shot_of_another(job):
    close = [{**CURB[0], "offset": 0.0, "time": at(n)} for n in range(2)]
    rows = [*close, {**CURB[0], "offset": 0.25, "session": "B", "time": at(1440)}]
    assert "shoot the place again" in place_of(judged(job, rows), "offset")[1]["remedy"]


def test_shots_that_differ_far_beyond_the_limit_are_out_all_the_same(job):
    rows = [{**CURB[0], "offset": 0.60}, {**CURB[1], "offset": 0.40, "session": "B", "time": at(1440)}]
    assert place_of(judged(job, rows), "offset")[1]["verdict"] == "OUT"


def test_what_cannot_be_judged_and_what_lies_farther_along_is_in_no_place(job):
    rows = [CURB[0], {**CURB[1], "station": 100.4}, {**CURB[2], "station": 300.0}, {**CURB[2], "station": 300.0}]
    made = judged(job, rows, use=[True, True, True, False], flags=["", "", "", "spike"])
    assert len(made["places"]) == len(made["place_members"]) == 0
    assert made["findings"]["run"].isna().all()


def test_what_repeats_say_is_shared_decides_how_much_close_shots_count(job):
    said = pd.DataFrame({"axis": ["h", "v"], "part": "rho", "unit": "1", "value": 0.2, "high": [0.25, np.nan]})
    shots = job.prepared(job.shots([CURB[0], {**CURB[1], "time": at(1)}]))
    layers = job.layers(
        shots=shots, limits=job.limits(*LIMITS), crew_precision=said, **job.design(**DESIGN)
    )  # fmt: skip
    made = job.run(layers, *STEPS)
    _, own = place_of(made, "offset")
    assert own["u"] == pytest.approx(0.02 * np.sqrt((1 + 0.25 * np.exp(-1 / 80)) / 2), rel=1e-6)
    assert place_of(made, "elevation")[0]["independent"] == pytest.approx(1.0, abs=0.01)


def test_one_measurement_under_two_names_is_one(job):
    said = pd.DataFrame({"axis": ["h"], "part": "rho", "unit": "1", "value": 0.0, "high": [0.1]})
    rows = [CURB[0], {**CURB[0], "shot": "777"}]
    layers = job.layers(
        shots=job.prepared(job.shots(rows)), limits=job.limits(*LIMITS), crew_precision=said, **job.design(**DESIGN)
    )
    assert place_of(job.run(layers, *STEPS), "offset")[0]["independent"] == pytest.approx(1.0)


@pytest.mark.long
def test_a_place_is_one_member_of_a_run(job):
    rows = [{"offset": 0.12, "station": 100.0 + 25 * n, "time": at(n)} for n in range(4)]
    rows += [{**rows[1], "time": at(1.5)}, {**rows[1], "time": at(1.8)}]
    made = judged(job, rows, u_h_common=0.01)
    (run,) = made["runs"].to_dict("records")
    assert run["shots"] == 6
    weight = made["run_members"].set_index("shot_key")["weight"]
    assert weight.sum() == pytest.approx(1.0)
    triple = weight[["day1/102", "day1/105", "day1/106"]].sum()
    assert triple == pytest.approx(0.25, abs=0.01)
    (single,) = judged(job, rows[:4], u_h_common=0.01)["runs"].to_dict("records")
    assert run["u_random"] == pytest.approx(single["u_random"], rel=0.02)
    own = place_of(made, "offset")[1]
    assert own["run"] == run["run"]
    told = made["findings"].query("check == 'offset' and shot.notna()")
    assert (told["run"] == run["run"]).all()


@pytest.mark.long
def test_nothing_shot_twice_is_no_place(job):
    made = judged(job, [CURB[0], {**CURB[1], "station": 200.0}])
    assert len(made["places"]) == 0
    assert len(judged(job, [])["places"]) == 0


def test_a_place_whose_uncertainty_is_unknown_is_not_judged(job):
    _, own = place_of(judged(job, CURB, u_h_random=np.nan), "offset")
    assert [own["verdict"], own["why"]] == ["NO_DATA", "no-uncertainty"]
