import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoqa.errors import JobError
from geoqa.kernels.judging.verdict import IN, OUT, UNDECIDED, judge, judge_radial
from geoqa.kernels.precision.budget import (
    capability,
    combine,
    tilted_u,
)

INF, NAN = math.inf, math.nan


def test_the_budget_of_the_end_gauge():
    # GUM (JCGM 100:2008) H.1, seen in copies: four public test files agree
    length, theta, expansion = 50.000623e6, 0.1, 11.5e-6  # nm
    parts = np.array([25.0, 9.7, length * theta * 0.58e-6, length * expansion * 0.029])
    assert parts[2:] == pytest.approx([2.900, 16.675], abs=5e-4)
    u = combine(*parts)
    assert u == pytest.approx(31.7106, abs=1e-4)


@pytest.mark.parametrize(
    ("u", "accepted"), [(0.42434, 1.3854), (0.30011, 1.5897), (0.18991, 1.7710), (0.09521, 1.9267)]
)
def test_the_steepest_cross_slope_that_can_be_proven(u, accepted):
    # own arithmetic: 1:48 less 1.6449 u, in percent
    found = capability(lower=-INF, upper=100 / 48, u=u)
    assert found.in_to == pytest.approx(accepted, abs=1e-4)
    assert found.out_above == pytest.approx(100 / 48 + 1.6448536 * u, abs=1e-6)
    assert (found.in_from, found.provable) == (-INF, True)
    assert np.isnan(found.out_below)


def test_the_uncertainty_of_a_tilted_rod_by_its_closed_form():
    # own arithmetic: a 0.025 ft, v 0.045 ft, heading 1 degree, angle 0.3 degrees, rod 6.562 ft
    radial, tangential, vertical = tilted_u(
        [0, 15, 20, 30, 45], rod=6.562, u_heading=1.0, u_angle=0.3, plumb_h=0.025, plumb_v=0.045
    )
    assert combine(radial, tangential) == pytest.approx([0.049, 0.057, 0.062, 0.074, 0.092], abs=5e-4)
    assert (vertical[0], vertical[-1]) == pytest.approx((0.045, 0.051), abs=5e-4)
    limit = np.degrees(np.arcsin(math.sqrt((0.10 / 1.9599640) ** 2 - 0.025**2) / (6.562 * math.radians(1.0))))
    assert limit == pytest.approx(22.9, abs=0.05)


def test_a_heading_and_an_angle_that_wander_scatter_the_tip_as_the_formula_says():
    draw, tilt, azimuth, rod = np.random.default_rng(1), np.radians(30.0), np.radians(70.0), 6.562
    lean, turn = tilt + np.radians(draw.normal(0, 0.3, 200_000)), azimuth + np.radians(draw.normal(0, 1.0, 200_000))
    off_e = rod * (np.sin(lean) * np.sin(turn) - np.sin(tilt) * np.sin(azimuth))
    off_n = rod * (np.sin(lean) * np.cos(turn) - np.sin(tilt) * np.cos(azimuth))
    radial = off_e * np.sin(azimuth) + off_n * np.cos(azimuth)
    tangential = off_e * np.cos(azimuth) - off_n * np.sin(azimuth)
    vertical = rod * (np.cos(lean) - np.cos(tilt))
    expected = tilted_u(30.0, rod=rod, u_heading=1.0, u_angle=0.3, plumb_h=0.0, plumb_v=0.0)
    assert [np.std(each) for each in (radial, tangential, vertical)] == pytest.approx(expected, rel=0.01)


def test_missing_parts_make_the_sum_missing():
    assert np.isnan(combine([0.1, NAN], 0.2)).tolist() == [False, True]
    assert np.isnan(tilted_u(NAN, rod=2.0, u_heading=1, u_angle=1, plumb_h=0.01, plumb_v=0.01)[0])
    gone = capability(lower=-0.1, upper=[0.1, NAN, 0.1], u=[NAN, 0.02, 0.02])
    assert gone.provable.tolist() == [False, False, True]
    assert np.isnan(gone.in_to).tolist() == [True, True, False]
    assert np.isnan(gone.out_above).tolist() == [True, True, False]
    assert gone.one_third.tolist() == [False, False, False]


@pytest.mark.long
@settings(max_examples=40, deadline=None)
@given(st.floats(-1, 0), st.floats(0.001, 1), st.floats(1e-4, 0.5), st.sampled_from(["guarded", "simple", "guard 1"]))
def test_capability_and_the_verdict_never_disagree(lower, upper, u, rule):
    found = capability(lower=lower, upper=upper, u=u, rule=rule)
    step = 1e-9

    def verdict(deviation):
        return int(judge(deviation, lower=lower, upper=upper, u=u, rule=rule).verdict)

    if found.provable:
        assert verdict(float(found.in_to)) == IN
        assert verdict(float(found.in_from)) == IN
        assert verdict(float(found.in_to) + step) in {UNDECIDED, OUT}
        assert verdict(float(found.in_from) - step) in {UNDECIDED, OUT}
    else:
        assert np.isnan(found.in_to)
    assert verdict(float(found.out_above) + step) == OUT
    assert verdict(float(found.out_below) - step) == OUT
    assert verdict(float(found.out_above) - step) != OUT


def test_a_radius_is_proven_and_refuted_as_the_radial_rule_says():
    found = capability(lower=NAN, upper=0.30, u=0.02, radial=True)
    assert found.provable
    for deviation, verdict in (
        (found.in_to - 1e-9, IN),
        (found.in_to + 1e-9, UNDECIDED),
        (found.out_above - 1e-9, UNDECIDED),
        (found.out_above + 1e-9, OUT),
    ):
        assert int(judge_radial(deviation, limit=0.30, u=0.02).verdict) == verdict
    assert found.in_from == 0
    assert np.isnan(found.out_below)


def test_one_third_of_the_tolerance_is_asked_of_the_method():
    # 1/4 in is 0.0208 ft: the rule asks for U of about 0.007 ft; Access Board report of 2011
    quarter_inch = 0.25 / 12
    found = capability(lower=-quarter_inch, upper=quarter_inch, u=np.array([0.0069, 0.0070, 0.04]) / 1.9599640)
    assert found.one_third.tolist() == [True, False, False]
    assert found.provable.tolist() == [True, True, False]
    assert capability(lower=-INF, upper=0.06, u=0.01).one_third
    assert not capability(lower=0.0, upper=0.06, u=0.01).one_third  # half of the width counts


def test_what_does_not_fit_is_refused():
    with pytest.raises(JobError, match="not a decision rule"):
        capability(lower=-1, upper=1, u=1, rule="kind")
