"""What a number of several expected shots can prove, held against the decision rule and against runs."""

import math

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.checks import check_named
from geoqa.kernels.judging.verdict import IN, OUT, UNDECIDED, judge
from geoqa.model.tables.columns import conform
from geoqa.steps.precision.capability_together import CanDecideTogether

SIZE = {"first": "walk-front", "second": "walk-back", "axis": None, "length": 5.0, "u_beside": 0.0,
        "second_weight": 1.0, "averaged": 1.0, "shots": "two edges", "assumed": None}  # fmt: skip


def able(job, check, lower, upper, *, kind="walk", u_h=0.02, u_v=(0.02, 0.02), common=0.02, **size):
    rows = [dict(SIZE, kind=kind, check=check) | size]
    sizes = conform("expected_sizes", pd.DataFrame(rows))
    shots = pd.concat(
        [job.prepared(job.shots([{"name": name}]), kind=name, u_h_random=u_h, u_v_random=u, u_v_common=common)
         for name, u in zip(("walk-front", "walk-back"), u_v, strict=True)],
        ignore_index=True,
    )  # fmt: skip
    limits = job.limits((kind, check, lower, upper)).assign(quantity=check_named(check).quantity)
    made = job.run(job.layers(shots=shots, limits=limits, expected_sizes=sizes), CanDecideTogether())
    (row,) = made["capability_together"].to_dict("records")
    return row


@pytest.mark.parametrize(("width", "u"), [(4.0, 0.00707), (5.0, 0.00566), (10.0, 0.00283)])
def test_a_cross_slope_of_two_shots_feels_their_own_parts_over_the_width(job, width, u):
    row = able(job, "cross-slope", -1 / 48, 1 / 48, length=width)
    assert row["u"] == pytest.approx(u, abs=5e-6)  # 0.02 ft √2 over the width; what the session shares cancels
    assert able(job, "cross-slope", -1 / 48, 1 / 48, length=width, common=0.5)["u"] == row["u"]
    for value, verdict in (
        (row["in_to"] - 1e-6, IN), (row["in_to"] + 1e-6, UNDECIDED),
        (row["out_above"] - 1e-6, UNDECIDED), (row["out_above"] + 1e-6, OUT),
    ):  # fmt: skip
        assert judge([value], lower=-1 / 48, upper=1 / 48, u=row["u"]).verdict[0] == verdict
    assert row["words"].startswith("within ±")


def test_a_steep_slope_feels_its_length_too(job):
    flat, steep = (able(job, "ramp-slope", -math.inf, most, u_h=0.5, length=6.0)["u"] for most in (0.001, 1 / 12))
    assert steep == pytest.approx(math.hypot(0.02 / 6, 0.5 / 12 / 6) * 2**0.5)
    assert flat < steep


def test_both_shots_bear_their_own_part_and_what_is_read_beside_them(job):
    row = able(job, "pipe-slope", 0.003, math.inf, kind="pipe", u_v=(0.02, 0.03), u_beside=0.02, length=300.0)
    assert row["u"] == pytest.approx(math.sqrt(0.02**2 + 0.03**2 + 2 * 0.02**2) / 300, rel=1e-4)
    assert row["words"].startswith("at least 0.3")


def test_against_an_exact_surface_what_the_session_shares_stays_in(job):
    row = able(job, "cover", 7.0, math.inf, axis="v", second_weight=0.0, length=np.nan)
    assert row["u"] == pytest.approx(math.hypot(0.02, 0.02))
    plane = able(job, "cover", 7.0, math.inf, axis="v", second_weight=1 / 3, length=np.nan)
    assert plane["u"] == pytest.approx(0.02 * math.sqrt(4 / 3))


def test_a_range_tells_both_of_its_ends(job):
    row = able(job, "reveal", 0.42, 0.58, kind="curb", axis="v", length=np.nan)
    assert row["in_from"] == pytest.approx(0.42 + 1.6448536 * 0.0282843, abs=1e-4)
    assert row["words"] == "0.467 ft to 0.533 ft proves IN, below 0.373 ft or above 0.627 ft proves OUT"
    tight = able(job, "reveal", 0.49, 0.51, kind="curb", axis="v", length=np.nan)
    assert not tight["provable"]
    assert tight["words"].startswith("IN can never be proven so")


@pytest.mark.parametrize("missing", [{"u_v": (np.nan, 0.02)}, {"length": np.nan}, {"length": 0.0}])
def test_without_an_uncertainty_or_a_length_nothing_is_claimed(job, missing):
    row = able(job, "cross-slope", -1 / 48, 1 / 48, **missing)
    assert not row["provable"]
    assert row["words"] == "nothing can be said: no uncertainty is known"
