"""Bellies of pipes from shots on their top: single shots, runs, reversals, and the lesser of two limits."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.utilities.straightness import Straightness

MM20 = 0.020 / 0.3048
LIMIT = ("storm-top", "straightness", -MM20, MM20)


def tops(job, dip, *, grade=0.005, step=12.5, count=21, line="P-3", seed=None, **columns):
    """Shots on top of a pipe along north, each 12.5 ft; `dip` by number of the shot."""
    noise = np.zeros(count) if seed is None else np.random.default_rng(seed).normal(0, 0.02, count)
    rows = [
        {"station": n * step, "elevation": 1450.0 - grade * n * step - dip.get(n, 0.0) + noise[n], "code": "STP"}
        | {"line_id": line, "time": pd.Timestamp("2026-03-14 14:00", tz="UTC") + pd.Timedelta(minutes=n)}
        for n in range(count)
    ]
    given = {"kind": "storm-top", "u_v_random": 0.02, "u_v_common": 0.03} | columns
    return job.prepared(job.shots(rows), **given)


def run(job, shots, *limits, **tables):
    return job.run(job.layers(shots=shots, limits=job.limits(*(limits or (LIMIT,))), **tables), Straightness())


def only(done, what):
    rows = done["findings"]
    is_run = rows["label"].str.contains("mean of")
    return rows[is_run if what == "runs" else ~is_run].reset_index(drop=True)


@pytest.mark.long
def test_a_straight_pipe_has_no_belly(job):
    done = run(job, tops(job, {}))
    assert set(only(done, "shots")["verdict"]) <= {"IN", "UNDECIDED"}
    assert len(only(done, "shots")) == 19
    assert not len(only(done, "runs"))


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.long) for seed in range(1, 4))])
def test_a_belly_is_one_run_judged_by_its_mean(job, seed):
    dip = {9: 0.12, 10: 0.20, 11: 0.22, 12: 0.19, 13: 0.10}
    done = run(job, tops(job, dip, seed=seed))
    (belly,) = only(done, "runs").query("verdict == 'OUT'").to_dict("records")
    assert belly["deviation"] == pytest.approx(-0.166, abs=0.06)
    assert "belly: mean of" in belly["label"]
    # the ends are half of what a chord is worth: never surer than they are
    assert belly["u"] >= 0.02 * np.sqrt(0.25 + 0.25)
    members = only(done, "shots").query("run == @belly['finding']")
    assert len(members) >= 4
    assert done["evidence"].query("finding == @belly['finding']")["key"].nunique() >= 6


@pytest.mark.long
def test_the_common_part_cancels_within_a_session(job):
    done = run(job, tops(job, {}))
    assert done["findings"]["u_common"].tolist() == pytest.approx([0.0] * 19, abs=1e-12)


def test_a_local_reversal_is_told(job):
    done = run(job, tops(job, {10: 0.22}))
    told = done["findings"]["cause"].dropna().tolist() + done["findings"]["label"].tolist()
    assert any("local reversal: the top rises 0.16 ft from shot 111 to 112" in each for each in told)
    one = only(done, "shots").query("shot == 'day1/111'").iloc[0]
    assert one["verdict"] == "OUT"


@pytest.mark.long
def test_the_lesser_of_two_limits_holds(job):
    """5 % of 12 in is 0.05 ft, less than 20 mm; of 18 in it is 0.075 ft, more."""
    share = ("storm-top", "straightness-of-diameter", -0.05, 0.05)
    for metres, least in ((0.3048, 0.05), (0.4572, MM20)):
        notes = pd.DataFrame([{"source": "n", "line": 2, "structure": "MH-2", "pipe": "P-3", "diameter": metres}])
        done = run(job, tops(job, {}), LIMIT, share, structure_notes=conform("structure_notes", notes))
        assert done["findings"]["upper"].tolist() == pytest.approx([least] * 19)


@pytest.mark.parametrize(("dip", "verdict"), [(0.040, "IN"), (0.060, "OUT")])
def test_a_percent_of_the_diameter_has_two_sides(job, dip, verdict):
    """5 % of 12 in is 0.05 ft; low as well as high."""
    share = ("storm-top", "straightness-of-diameter", -0.05, 0.05)
    notes = pd.DataFrame([{"source": "n", "line": 2, "structure": "MH-2", "pipe": "P-3", "diameter": 0.3048}])
    for sign in (1, -1):
        shots = tops(job, {1: sign * dip}, count=3, u_v_random=0.001)
        done = run(job, shots, share, structure_notes=conform("structure_notes", notes))
        assert done["findings"].query("check == 'straightness'")["verdict"].tolist() == [verdict]


def test_a_share_of_an_unknown_diameter_is_no_limit(job):
    done = run(job, tops(job, {}), ("storm-top", "straightness-of-diameter", -0.05, 0.05))
    assert job.told(done, "straightness-of-diameter") == {"-": ("NO_DATA", "no-diameter")}
    assert not len(done["findings"].query("check == 'straightness'"))


def test_two_shots_are_no_pipe(job):
    done = run(job, tops(job, {}, count=2))
    assert job.told(done, "straightness") == {"-": ("NO_DATA", "few-tops")}


@pytest.mark.long
def test_a_rejected_shot_is_listed_and_no_end(job):
    shots = tops(job, {})
    shots = shots.assign(use=shots["shot"] != "101")
    done = run(job, shots)
    assert job.told(done, "straightness")["101"] == ("NO_DATA", "screened")
    assert len(done["findings"]) == 19


@pytest.mark.long
def test_the_order_of_rows_changes_nothing(job):
    shots = tops(job, {10: 0.2}, seed=1)
    one, other = (run(job, each)["findings"] for each in (shots, shots.iloc[::-1].reset_index(drop=True)))
    one, other = (each.sort_values("finding") for each in (one, other))
    assert one["finding"].tolist() == other["finding"].tolist()
    assert one["deviation"].tolist() == pytest.approx(other["deviation"].tolist(), abs=1e-9)


@pytest.mark.parametrize(("vertex", "bend"), [(260.0, 0.0), (4.0, 0.0), (25.0, 0.0), (25.0, 0.6)])
def test_vertices_that_a_straight_design_line_does_not_need_are_no_bends(job, vertex, bend):
    """A line drawn with a vertex each few feet, rounded as drawings are; and one with a real bend, in its middle."""
    at = np.arange(0.0, 260.0 + vertex / 2, vertex)
    level = (1450.0 - 0.005 * at - bend * np.maximum(at - 125.0, 0.0) / 125.0).round(2)
    table = job.design({"P-3": ("storm-top", 0.0, 0, 260)})
    one = table["design_elements"].iloc[[0] * (len(at) - 1)].reset_index(drop=True)
    south = one["start_northing"].to_numpy()
    one["sequence"], one["start_station"], one["length"] = np.arange(len(one)), at[:-1], np.diff(at)
    one["start_northing"], one["end_northing"] = south + at[:-1], south + at[1:]
    one["start_elevation"], one["end_elevation"] = level[:-1], level[1:]
    table["design_elements"] = one
    dip = {n: 0.2 * (9 <= n <= 12) + bend * max(n - 10, 0) / 10 for n in range(21)}
    start = job.layers(shots=tops(job, dip), limits=job.limits(LIMIT), **table)
    done = job.run(start, MatchLines(), Straightness())
    rows = done["findings"].query("check == 'straightness'")
    assert not (rows["why"] == "few-tops").any()
    if not bend:
        assert len(rows.query("shot.notna()")) == 19
        (belly,) = rows[rows["label"].str.contains("mean of") & (rows["verdict"] == "OUT")].to_dict("records")
        assert belly["deviation"] == pytest.approx(-0.2, abs=0.04)
    else:
        assert len(rows.query("shot.notna()")) in (17, 18)


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.long) for seed in range(1, 6))])
@pytest.mark.parametrize("places", [range(20), (0, 1, 8, 9, 10, 11, 12, 13, 19, 20)])
def test_a_second_pass_has_its_own_line_and_takes_nothing_from_the_first(job, seed, places):
    first = tops(job, {9: 0.12, 10: 0.20, 11: 0.22, 12: 0.19, 13: 0.10}, seed=seed, session="A")
    alone = run(job, first)["findings"]
    again = tops(job, {}, seed=seed + 50, session="B").iloc[list(places)]
    again = again.assign(
        shot=again["shot"] + "-2", shot_key=again["shot_key"] + "-2", northing=again["northing"] + 3.0,
        time=again["time"] + pd.Timedelta(hours=20), elevation=again["elevation"] + 0.04, line=again["line"] + 100,
    )  # fmt: skip
    done = run(job, pd.concat([first, again], ignore_index=True))["findings"]
    mine = done[~done["shot"].fillna("-2").str.endswith("-2")].set_index("shot")
    before = alone[alone["shot"].notna()].set_index("shot")
    pd.testing.assert_frame_equal(
        mine.loc[before.index, ["deviation", "u", "verdict"]], before[["deviation", "u", "verdict"]]
    )
    assert len(done[done["shot"].fillna("").str.endswith("-2")]) == len(places) - 2
    assert not done["remedy"].fillna("").str.contains("more").any()


def test_a_pipe_that_the_next_session_carries_on_has_one_line(job):
    both = tops(job, {}).assign(session=["A"] * 11 + ["B"] * 10)
    assert len(run(job, both)["findings"]) == 19
