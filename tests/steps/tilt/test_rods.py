"""Two rods in one tilt test: by receiver or length told apart, pooled only where they may be one."""

import numpy as np
import pandas as pd
import pytest

from bench.leaning import Compensation, read
from geoqa.model.quantity import METRE
from geoqa.steps.tilt.rods import rods_of, worst_of
from geoqa.steps.tilt.study import TiltStudy
from tests.steps.tilt.test_study import study

ONE = Compensation(heading_spread=0.5, angle_spread=0.2)


def shots_of_two(job, seed, other, *, rods=(6.562, 6.562)):
    draw, made = np.random.default_rng(seed), []
    for rod, wrong in enumerate((ONE, other)):
        for point in range(5):
            tilt = np.r_[np.zeros(3), np.repeat([10.0, 20.0, 30.0], 4)]
            toward = np.r_[np.zeros(3), np.tile([0.0, 90.0, 180.0, 270.0], 3)]
            shown, way, error = read(tilt, toward, wrong, draw)
            for n in range(tilt.size):
                off = draw.normal(0, 0.012, 3) + (error[n] if tilt[n] else 0)
                made.append(
                    {
                        "shot": f"{rod}-{point}-{n}", "line_id": f"P{point}", "session": "A", "source": "CD"[rod],
                        "tilt": abs(shown[n]) if tilt[n] else 0.2, "tilt_azimuth": way[n], "rod_height": rods[rod],
                        "offset": 15.0 * point + off[0], "station": off[1], "elevation": 100.0 + off[2],
                    }
                )  # fmt: skip
    return job.prepared(job.shots(made), kind="tilt-test", role="other", u_v_common=0.0)


def sources(job, receivers=("K1", "K2")):
    from geoqa.model.tables.columns import conform

    rows = [
        {"source": name, "role": "shots", "detected": f'{{"receiver": "{receiver}"}}'}
        for name, receiver in zip("CD", receivers, strict=True)
    ]
    return conform("sources", pd.DataFrame(rows))


def cautious(layers, check="offset"):
    limits = layers["tilt_limits"]
    mine = limits[(limits["check"] == check) & (limits["biases"] == "kept") & (limits["deviation"] > 0)]
    return float(np.nan_to_num(mine["cautious"].iloc[0]))


@pytest.mark.long
@pytest.mark.parametrize("seed", range(5))
def test_a_worse_rod_decides_where_the_receivers_tell_them_apart(job, seed):
    shots = shots_of_two(job, seed, Compensation(heading_spread=2.0, angle_spread=0.6))
    apart = study(job, shots, sources=sources(job))
    alone = study(job, shots[shots["source"] == "D"].reset_index(drop=True))
    assert cautious(apart) == pytest.approx(cautious(alone), abs=1e-6)
    told = apart["tilt_test"]["conclusion"].iloc[0]
    assert "receiver K1 and receiver K2 differ in" in told
    assert "each limit is that of the worse" in told
    assert "the worse of its rods" in apart["notes"]["proposal"].iloc[0]


@pytest.mark.long
def test_sound_rods_are_mostly_one(job):
    told = [
        study(job, shots_of_two(job, seed, ONE), sources=sources(job))["tilt_test"]["conclusion"].iloc[0]
        for seed in range(12)
    ]
    assert sum("show no difference: one limit for all" in each for each in told) >= 7


def test_without_receivers_or_with_one_nothing_is_said(job):
    shots = shots_of_two(job, 1, ONE)
    for tables in ({}, {"sources": sources(job, ("K1", "K1"))}):
        assert "one limit for all" not in study(job, shots, **tables)["tilt_test"]["conclusion"].iloc[0]


def test_lengths_tell_rods_apart_too():
    shots = pd.DataFrame({"source": "a", "rod_height": [2.0, 2.001, 2.4, np.nan]})
    assert rods_of(shots, {}, METRE).tolist() == ["rod of 2.0000 m"] * 2 + ["rod of 2.4000 m", "rod not stated"]


def test_the_least_of_tables_is_taken_row_by_row():
    one = pd.DataFrame({"cautious": [10.0, np.nan], "tilt": [12.0, np.nan], "plumb": [True, True], "n": [1, 1]})
    two = pd.DataFrame({"cautious": [8.0, np.nan], "tilt": [14.0, np.nan], "plumb": [True, False], "n": [2, 2]})
    assert worst_of([one, two])["n"].tolist() == [2, 2]
    assert TiltStudy().plumb_below == 3.0
