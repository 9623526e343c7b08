"""A session that is shifted as a whole is a finding of the survey; its verdicts without the shift are one line."""

import numpy as np
import pandas as pd
import pytest

from bench import make
from geoqa.contract.sentences import note_lines
from geoqa.frames.systems.resolve import resolve
from geoqa.job.execute import execute
from geoqa.job.plan import default_steps
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers, placed
from geoqa.simulate.site import scenario
from geoqa.steps.control.session_shifts import MOST, SessionShifts, spread

pytestmark = pytest.mark.long

PLACES = {"CP-1": (0.0, 0.0), "CP-2": (400.0, 0.0), "CP-3": (400.0, 400.0), "CP-4": (0.0, 400.0)}


def found(job, high, *, common, sessions="A", limits=None, **options):
    """Three checks an hour on each of four marks, `high` above them; each session shares `common`."""
    control = pd.DataFrame({"mark": list(PLACES), "elevation": 100.0, "held": False, "independent": True})
    control["easting"], control["northing"] = (job.origin + np.array(list(PLACES.values()))).T
    control = conform("control", control.assign(u_h=0.0, u_v=0.0, reference="Sheet 2"))
    rng, rows = np.random.default_rng(8), []
    for session in sessions:
        for mark, (east, north) in list(PLACES.items()) * 3:
            rows.append(
                {"line_id": mark, "session": session, "offset": east, "station": north}
                | {"elevation": 100.0 + high + rng.normal(0, 0.02)}
            )
    shots = job.prepared(job.shots(rows), kind="control", role="check")
    shots["u_v_random"], shots["u_v_common"], shots["u_h_common"] = 0.02, common, 0.0
    shots["time"] = pd.date_range("2026-05-12T12:00Z", periods=len(shots), freq="3h")
    layers = job.layers(shots=shots, control=control, limits=job.limits() if limits is None else limits)
    return job.run(layers, SessionShifts(**options))


@pytest.mark.parametrize(
    ("high", "common", "verdict"),
    [(0.06, 0.06, "IN"), (0.06, 0.03, "UNDECIDED"), (0.06, 0.005, "OUT"), (-0.06, 0.0, "OUT")],
)
def test_a_proven_shift_is_held_against_what_a_session_is_stated_to_share(job, high, common, verdict):
    layers = found(job, high, common=common)
    (row,) = layers["findings"].to_dict("records")
    assert (row["check"], row["subject"], row["verdict"]) == ("session-shift", "session A", verdict)
    assert row["deviation"] == pytest.approx(high, abs=0.02)
    assert row["upper"] == -row["lower"] >= 1.95 * common


@pytest.mark.parametrize(("narrowest", "verdict"), [(0.10, "OUT"), (0.30, "IN")])
def test_a_shift_that_is_small_beside_every_limit_is_told_and_nothing_to_clear_first(job, narrowest, verdict):
    limits = job.limits(("curb-top", "elevation", -narrowest, narrowest), ("curb-top", "offset", -0.02, 0.02))
    (row,) = found(job, 0.06, common=0.005, limits=limits)["findings"].to_dict("records")
    assert row["verdict"] == verdict
    assert row["deviation"] == pytest.approx(0.06, abs=0.02)
    assert row["upper"] == pytest.approx(max(narrowest / 4, 0.01), abs=0.01)


def test_of_thousands_of_checks_as_many_count_as_can_be_weighed_spread_over_the_session(job):
    table = pd.DataFrame({"group": ["A"] * 4_000 + ["B"] * 3, "shot_key": [str(each) for each in range(4_003)]})
    table["time"] = pd.date_range("2026-05-12T12:00Z", periods=4_003, freq="10s")
    kept = spread(table)
    assert kept["group"].value_counts().to_dict() == {"A": MOST, "B": 3}
    gaps = kept.loc[kept["group"] == "A", "time"].diff().dropna().dt.total_seconds()
    assert gaps.min() >= 60
    assert gaps.max() <= 70


def test_what_may_be_chance_is_in_the_table_and_no_finding(job):
    layers = found(job, 0.004, common=0.0, sessions="AB")
    assert not len(layers["findings"])
    assert len(layers["session_shifts"]) == 6
    assert not layers["session_shifts"]["proven"].any()


def test_a_long_job_is_estimated_in_parts_of_whole_sessions(job):
    assert len(found(job, 0.06, common=0.0, sessions="ABC")["findings"].query("verdict == 'OUT'")) == 3
    apart = found(job, 0.06, common=0.0, sessions="ABC", together=12)
    assert apart["session_shifts"]["dof"].max() < 20  # 8 stated, 11 of one session
    assert len(apart["findings"]) == 3


STEPS = {
    *("kinds", "uncertainty", "screening", "usable-shots", "session-shifts", "match-lines", "match-points", "offsets"),
    *("elevations", "positions", "shifted-verdicts"),
}


def shifted(simulated, session, by):
    layers = simulated.layers()
    shots = pd.DataFrame(layers["shots"].drop(columns="geometry"))
    mine = shots["session"] == session
    for axis, size in by.items():
        shots.loc[mine, axis] += size
    layers = Layers({**layers, "shots": placed("shots", shots, layers.frame)}, frame=layers.frame)
    return execute(layers, [step for step in default_steps() if step.name in STEPS])


@pytest.mark.parametrize(("zone", "seed"), [("EPSG:6547", 31), ("EPSG:6559", 32), ("EPSG:6405", 33)])
def test_a_session_that_is_high_as_a_whole_is_found_and_told_both_ways(zone, seed):
    simulated = make(seed=seed, plants=(), frame=resolve(zone, scenario.VERTICAL))
    layers = shifted(simulated, "B", {"elevation": 0.11})
    table = layers["session_shifts"].set_index(["session", "axis"])
    row = table.loc[("B", "elevation")]
    assert row["proven"]
    assert row["low"] < 0.11 + 0.045
    assert row["high"] > 0.11 - 0.045
    assert (table["shots"] >= 6).all()
    (finding,) = layers["findings"].query("check == 'session-shift' and subject == 'session B'").to_dict("records")
    assert finding["label"] == "session B, elevation"
    assert finding["verdict"] in ("OUT", "UNDECIDED")  # 0.11 ft, against 0.039 ft that 0.020 ft allows
    assert finding["deviation"] == pytest.approx(row["shift"])
    evidence = layers["evidence"].query("finding == @finding['finding']")
    assert len(evidence) == row["shots"]
    lines = [line for line in note_lines(layers["notes"], layers.frame.unit.name) if line.startswith("Session B")]
    (line,) = lines
    assert "Single shots as read: " in line
    fact = layers["notes"].query("note == 'session-shift' and session == 'B'").iloc[0]
    shots = layers["shots"]
    feature = shots["session"].eq("B") & shots["role"].eq("feature")
    assert 0 < fact["count"] <= fact["total"] <= feature.sum()
    before, after = (
        dict(reversed(part.split()) for part in fact[name].split(", ")) for name in ("written", "proposal")
    )
    assert sum(map(int, before.values())) == fact["total"] == sum(map(int, after.values()))
    assert int(after["in"]) > int(before["in"])
    # nothing is judged by it: the verdicts stand as read
    found = layers["findings"]
    single = found[found["check"].eq("elevation") & found["shot"].isin(shots.loc[feature, "shot_key"])]
    assert int(before["undecided"]) == (single["verdict"] == "UNDECIDED").sum()


def test_a_session_that_lies_aside_is_told_in_plan():
    simulated = make(seed=7, plants=(), frame=resolve("EPSG:6559", scenario.VERTICAL))
    layers = shifted(simulated, "A", {"easting": 0.09, "northing": -0.08})
    proven = layers["session_shifts"].query("proven and session == 'A'")
    assert set(proven["axis"]) >= {"easting", "northing"}
    fact = layers["notes"].query("note == 'session-shift' and session == 'A'").iloc[0]
    assert {fact["place"], *fact["other"].split("; ")} >= {"easting", "northing"}
    assert fact["count"] > 0


def test_sound_jobs_prove_no_shift_in_plan():
    for seed in (2, 3, 4):
        layers = shifted(make(seed=seed, plants=(), frame=resolve("EPSG:6405", scenario.VERTICAL)), "A", {})
        plan = layers["session_shifts"].query("axis != 'elevation'")
        assert not plan["proven"].any()
        assert np.isfinite(plan["u"]).all()


def test_without_check_shots_there_is_no_shift():
    simulated = make(seed=2, plants=(), frame=resolve("EPSG:6547", scenario.VERTICAL))
    layers = simulated.layers()
    shots = pd.DataFrame(layers["shots"].drop(columns="geometry"))
    shots = shots[shots["code"] != "CHK"].reset_index(drop=True)
    layers = Layers({**layers, "shots": placed("shots", shots, layers.frame)}, frame=layers.frame)
    made = execute(layers, [step for step in default_steps() if step.name in STEPS])
    assert not len(made["session_shifts"])
    assert not len(made["notes"].query("note == 'session-shift'"))
