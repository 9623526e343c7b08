"""Reported precisions rescaled by repeats on marks: what is proven too small, and what buys itself nothing."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from geoqa.model.tables.columns import conform, empty
from geoqa.steps.precision.uncertainty import Uncertainty

START = pd.Timestamp("2026-03-14 07:00", tz="UTC")
REPORTED_H, REPORTED_V = 0.02 * np.sqrt(2), 0.02  # radial and vertical at 1 sigma: 0.0141 random on each axis
HALF = 0.02 / np.sqrt(2)


def crew(job, real_h, real_v, seed=1, marks=8, sessions=3, hours=12.0, change=None, **options):
    """Every mark shot once in every session, with known scatter; and one curb shot without repeats."""
    rng = np.random.default_rng(seed)
    rows = []
    for session in range(sessions):
        shift = rng.normal(0, 0.02, 3)
        for mark in range(marks):
            e, n, z = shift + rng.normal(0, [real_h, real_h, real_v])
            when = START + pd.Timedelta(hours * session, "h") + pd.Timedelta(3 * mark, "min")
            rows.append({"offset": 50.0 * mark + e, "station": n, "elevation": 100.0 + z, "time": when,
                         "session": f"S{session}", "line_id": f"CP-{mark}", "code": "CHK"})  # fmt: skip
    if change is not None:
        change(rows)
    rows = [{"reported_h": REPORTED_H, "reported_v": REPORTED_V} | row for row in [*rows, {"offset": 3.0}]]
    shots = job.shots(rows)
    check = (shots["code"] == "CHK").to_numpy()
    shots = shots.assign(kind=np.where(check, "control", "curb-top"), role=np.where(check, "check", "feature"))
    shots = shots.astype({"kind": "str", "role": "str"})
    known = pd.DataFrame({"mark": [f"CP-{mark}" for mark in range(marks)]})
    known = known.assign(easting=job.origin[0] + 50.0 * np.arange(marks), northing=job.origin[1], elevation=100.0)
    known = known.assign(source="control", line=1, held=False, independent=True, u_h=0.0, u_v=0.0)
    sources = conform("sources", pd.DataFrame({"source": ["day1"], "role": ["shots"], "confidence": ["1 sigma"]}))
    tables = {"shots": shots, "control": conform("control", known), "sources": sources, "precision": empty("precision")}
    return job.run(job.layers(**tables), Uncertainty(**options))


def scale(layers, axis):
    return layers["reported_scale"].set_index("axis").loc[axis]


def curb(layers):
    return layers["shots"].iloc[-1]


def test_a_precision_that_repeats_prove_too_small_is_taken_larger_for_every_shot(job):
    layers = crew(job, 3 * HALF, HALF)
    found = scale(layers, "h")
    assert found["factor"] == pytest.approx(3.0, rel=0.3)
    assert found["low"] > 1
    assert found["applied"] == found["factor"]
    assert curb(layers)["u_h_random"] == pytest.approx(HALF * found["factor"])
    assert curb(layers)["u_h_common"] == pytest.approx(HALF)  # of that the repeats of a session say nothing
    assert curb(layers)["u_v_random"] == pytest.approx(HALF)


def test_the_factor_and_its_band_are_those_of_a_two_way_layout(job):
    layers = crew(job, 3 * HALF, 2 * HALF, seed=4)
    checks = layers["shots"].query("role == 'check'")
    table = checks.pivot(index="session", columns="line_id", values="elevation").to_numpy()
    # textbook two-way layout without interaction: 3 sessions by 8 marks leave (3-1)(8-1) = 14 degrees of freedom
    left = table - table.mean(axis=0) - table.mean(axis=1)[:, None] + table.mean()
    squares = np.sum(left**2)
    found = scale(layers, "v")
    assert found["dof"] == 14
    assert found["factor"] == pytest.approx(np.sqrt(squares / 14) / HALF)
    ends = [np.sqrt(squares / stats.chi2.ppf(p, 14)) / HALF for p in (0.975, 0.025)]
    assert [found["low"], found["high"]] == pytest.approx(ends)
    assert (found["marks"], found["visits"]) == (8, 24)


def test_the_budget_says_what_was_taken_larger_and_by_what_proof(job):
    layers = crew(job, 3 * HALF, HALF)
    budget = layers["budget"].query("kind == 'curb-top'").set_index(["axis", "part"])
    said = budget.loc[("h", "random"), "source"]
    assert "reported by the log (1 sigma); half of its variance taken as random, taken" in said
    assert "times what the log says (95 %:" in said
    assert "by 24 visits to 8 marks" in said
    assert "visits" not in budget.loc[("h", "common"), "source"]
    assert "no proof that it is too small; taken as reported" in budget.loc[("v", "random"), "source"]


@pytest.mark.long
def test_honest_logs_are_seldom_taken_larger_and_never_smaller(job):
    found = [crew(job, HALF, 0.4 * HALF, seed=seed)["reported_scale"]["applied"].tolist() for seed in range(30)]
    assert np.min(found) == 1.0
    # in plan 2.5 % of 30 is 0.75, more than 4 has a chance of 0.1 %; in elevation the band lies below 1
    assert np.sum(np.array(found) > 1) <= 4


def test_a_session_that_is_off_as_a_whole_buys_itself_no_uncertainty(job):
    def other_foot_and_rod(rows):
        for row in rows:
            if row["session"] == "S1":
                row["offset"] += 4.46
                row["station"] += 0.89
                row["elevation"] += 0.656

    honest, off = crew(job, HALF, HALF), crew(job, HALF, HALF, change=other_foot_and_rod)
    for axis in "hv":
        assert scale(off, axis)["factor"] == pytest.approx(scale(honest, axis)["factor"], rel=1e-6)
        assert scale(off, axis)["applied"] == 1.0


def test_one_visit_that_is_off_is_left_out_and_is_no_precision(job):
    def one_off(rows):
        rows[10]["offset"] += 0.2
        rows[10]["elevation"] += 0.2

    def one_missing(rows):
        del rows[10]

    off, without = crew(job, HALF, HALF, change=one_off), crew(job, HALF, HALF, change=one_missing)
    for axis in "hv":
        assert scale(off, axis)["factor"] == pytest.approx(scale(without, axis)["factor"], rel=1e-9)
        assert scale(off, axis)["applied"] == 1.0
        assert "by 23 visits to 8 marks without one that stands out" in scale(off, axis)["words"]


def test_half_a_session_that_is_off_is_a_blunder_and_no_precision(job):
    def from_the_middle_on(rows):
        for row in rows[12:16]:
            row["offset"] += 0.5
            row["elevation"] += 0.5

    layers = crew(job, HALF, HALF, change=from_the_middle_on)
    for axis in "hv":
        assert scale(layers, axis)["factor"] > 4
        assert scale(layers, axis)["applied"] == 1.0
        assert "look for a blunder; taken as reported" in scale(layers, axis)["words"]
    assert curb(layers)["u_h_random"] == pytest.approx(HALF)


def test_repeats_that_come_too_soon_tell_nothing(job):
    layers = crew(job, 3 * HALF, 3 * HALF, hours=1.0)
    assert scale(layers, "h")["applied"] == 1.0
    assert "cannot be held against independent repeats on marks" in scale(layers, "h")["words"]


def test_a_declared_precision_and_a_log_without_one_are_left_alone(job):
    def silent(rows):
        for row in rows:
            row |= {"reported_h": np.nan, "reported_v": np.nan}

    layers = crew(job, 3 * HALF, 3 * HALF, change=silent)
    assert scale(layers, "h")["visits"] == 0
    assert layers["shots"]["u_h_random"].iloc[0] == pytest.approx(0.01 / 0.3048 / np.sqrt(2))
    assert len(crew(job, 3 * HALF, HALF, rescale=False)["reported_scale"]) == 0
    assert curb(crew(job, 3 * HALF, HALF, rescale=False))["u_h_random"] == pytest.approx(HALF)


@pytest.mark.parametrize("reported", [REPORTED_V, 0.0])
def test_visits_that_agree_to_the_last_digit_buy_no_precision_and_are_no_error(job, reported):
    def alike(rows):
        for row in rows:
            row |= {"offset": np.rint(row["offset"] / 50.0) * 50.0, "station": 0.0, "elevation": 100.0}
            row |= {"reported_v": reported}

    layers = crew(job, 0.01, 0.01, change=alike)
    assert curb(layers)["u_v_random"] == pytest.approx(HALF)
    assert layers["reported_scale"]["applied"].isna().all() or (layers["reported_scale"]["applied"] >= 1).all()
