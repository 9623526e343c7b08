import math
import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoqa.errors import JobError
from geoqa.kernels.judging.verdict import (
    IN,
    NO_DATA,
    OUT,
    UNDECIDED,
    best_deciding_u,
    deciding_u,
    judge,
    judge_radial,
    provable,
)

NAN, INF = math.nan, math.inf
Z95, Z975 = 1.6448536269514722, 1.9599639845400545  # normal quantiles, any table of the normal distribution

lengths = st.floats(-10, 10, allow_nan=False)
sizes = st.floats(1e-6, 10)


def one(deviation, **given_):
    return int(judge(deviation, **given_).verdict)


def test_conformity_probability_of_a_single_upper_limit():
    # value from memory (JCGM 106:2012, 7.3.3, example 1), arithmetic recomputed
    found = judge(-5.47, lower=-INF, upper=-5.40, u=0.05)
    assert found.p_conform == pytest.approx(0.919243, abs=1e-6)
    assert found.verdict == UNDECIDED


def test_a_value_at_a_guarded_limit_of_one_u_conforms_with_98_percent():
    # guard band w = rU with r = 1, U = 2u: Phi(2); formula from memory (JCGM 106:2012), arithmetic recomputed
    found = judge(0.10 - 2 * 0.02, lower=-INF, upper=0.10, u=0.02, rule="guard 1")
    assert found.p_conform == pytest.approx(0.977250, abs=1e-6)


@pytest.mark.parametrize("sign", [-1, 1])
def test_decisions_turn_at_the_one_sided_95_percent_quantile(sign):
    # guard band of 1.6449 u: value from memory (ISO 14253-1:2017), arithmetic recomputed
    limits = {"lower": -1.0, "upper": 1.0, "u": 0.1}
    assert one(sign * (1 - 0.1 * Z95 - 1e-9), **limits) == IN
    assert one(sign * (1 - 0.1 * Z95 + 1e-9), **limits) == UNDECIDED
    assert one(sign * (1 + 0.1 * Z95 - 1e-9), **limits) == UNDECIDED
    assert one(sign * (1 + 0.1 * Z95 + 1e-9), **limits) == OUT


def test_the_three_ways_and_the_fourth():
    found = judge([0.0, 0.2, 0.1, NAN], lower=-0.1, upper=0.1, u=0.02)
    assert found.verdict.tolist() == [IN, OUT, UNDECIDED, NO_DATA]
    assert np.isnan(found.p_conform[3])
    assert np.isnan(found.excess[3])


@given(u=st.floats(0, 1e9), half=st.floats(0, 100))
def test_deviation_0_is_never_out_whatever_the_uncertainty(u, half):
    assert one(0.0, lower=-half, upper=half, u=u) != OUT
    assert int(judge_radial(0.0, limit=half, u=u).verdict) != OUT


@given(deviation=lengths, half=sizes, u=sizes)
def test_left_and_right_are_judged_alike(deviation, half, u):
    one_way = judge(deviation, lower=-half, upper=half, u=u)
    other = judge(-deviation, lower=-half, upper=half, u=u)
    assert one_way.verdict == other.verdict
    assert one_way.p_conform == pytest.approx(float(other.p_conform), abs=1e-15)
    assert one_way.excess == other.excess


@given(deviation=st.floats(0, 10), farther=sizes, half=sizes, u=sizes)
def test_farther_out_is_never_better(deviation, farther, half, u):
    near, far = judge([deviation, deviation + farther], lower=-half, upper=half, u=u).verdict
    assert far >= near
    near, far = judge_radial([deviation, deviation + farther], limit=half, u=u).verdict
    assert far >= near


@given(deviation=lengths, half=sizes, u=sizes)
def test_a_better_measurement_never_unmakes_a_decision(deviation, half, u):
    rough, fine = judge(deviation, lower=-half, upper=half, u=[u, u / 3]).verdict
    assert rough in (UNDECIDED, fine)


@given(deviation=lengths, half=sizes, u=sizes)
def test_probabilities_agree_with_the_error_function(deviation, half, u):
    def phi(z):
        return math.erfc(-z / math.sqrt(2)) / 2

    expected = phi((half - deviation) / u) - phi((-half - deviation) / u)
    assert judge(deviation, lower=-half, upper=half, u=u).p_conform == pytest.approx(expected, abs=1e-12)


def test_a_small_probability_keeps_its_digits():
    found = judge([0.3, -0.3], lower=-0.1, upper=0.1, u=0.02)
    assert found.p_conform == pytest.approx([7.61985302e-24] * 2, rel=1e-6)  # erfc(10/sqrt 2)/2


def test_an_exact_number_is_judged_by_comparison_and_the_limit_itself_conforms():
    found = judge([0.1, np.nextafter(0.1, 1), -0.1, 0.05], lower=-0.1, upper=0.1, u=0.0)
    assert found.verdict.tolist() == [IN, OUT, IN, IN]
    assert found.p_conform.tolist() == [1, 0, 1, 1]
    assert found.excess.tolist() == [0, INF, 0, -INF]


def test_one_sided_limits_leave_the_other_side_open():
    assert judge([-99, 31.0, 29.0], lower=-INF, upper=30.0, u=0.1).verdict.tolist() == [IN, OUT, IN]
    assert judge([99, -31.0], lower=-30.0, upper=INF, u=0.1).verdict.tolist() == [IN, OUT]


@pytest.mark.parametrize(
    "missing",
    [
        {"deviation": NAN},
        {"lower": NAN},
        {"upper": NAN},
        {"u": NAN},
        {"deviation": INF},
        {"u": INF},
        {"lower": -INF, "upper": INF},
    ],
)
def test_what_is_missing_is_no_data(missing):
    numbers = {"deviation": 0.0, "lower": -0.1, "upper": 0.1, "u": 0.02} | missing
    assert one(numbers.pop("deviation"), **numbers) == NO_DATA


def test_the_simple_rule_compares_as_measured_and_needs_no_uncertainty():
    found = judge([0.099, 0.101, 0.05], lower=-0.1, upper=0.1, u=[0.02, 0.02, NAN], rule="simple")
    assert found.verdict.tolist() == [IN, OUT, IN]
    assert found.p_conform[:2] == pytest.approx([0.5199, 0.4801], abs=1e-4)
    assert np.isnan(found.p_conform[2])


def test_a_guard_band_draws_the_limits_in_and_out_by_a_multiple_of_U():
    limits = {"lower": -0.1, "upper": 0.1, "u": 0.02, "rule": "guard 0.5"}  # band 0.5 * 2 * 0.02 = 0.02
    assert judge([0.0799, 0.0801, 0.1199, 0.1201, NAN], **limits).verdict.tolist() == [IN, UNDECIDED, UNDECIDED, OUT, 0]
    assert judge_radial([0.0799, 0.0801, 0.1201], limit=0.1, u=0.02, rule="guard 0.5").verdict.tolist() == [1, 2, 3]
    assert one(0.0, **limits | {"u": NAN}) == NO_DATA


@pytest.mark.parametrize("rule", ["strict", "guard", "guard x", "guard -1", "guard inf", ""])
def test_an_unknown_rule_is_refused(rule):
    with pytest.raises(JobError, match="is not a decision rule; allowed are guarded, simple"):
        judge(0.0, lower=-1, upper=1, u=0.1, rule=rule)


def test_limits_the_wrong_way_round_are_refused():
    with pytest.raises(JobError, match=r"lower limit 2\.0 stands above the upper limit 1\.0 \(row 1\); swap them"):
        judge([0, 0], lower=[0, 2], upper=[1, 1], u=0.1)


def test_negative_sizes_are_refused():
    with pytest.raises(JobError, match=r"uncertainty of -0\.1 is negative"):
        judge(0.0, lower=-1, upper=1, u=-0.1)
    with pytest.raises(JobError, match=r"distance of -0\.5 is negative"):
        judge_radial(-0.5, limit=1, u=0.1)


def test_radial_probability_is_the_noncentral_chi_square():
    assert judge_radial(0.27, limit=0.30, u=0.02).p_conform == pytest.approx(0.9285, abs=5e-5)
    # centred: P(|e| <= R) = 1 - exp(-R²/2u²), the Rayleigh distribution
    assert judge_radial(0.0, limit=0.05, u=0.02).p_conform == pytest.approx(1 - math.exp(-3.125), abs=1e-12)


@pytest.mark.parametrize(("distance", "limit"), [(0.3, 0.3), (0.02, 0.05), (5.0, 5.02), (7.0, 7.05), (30.0, 29.97)])
def test_radial_probability_agrees_with_a_sum_over_the_plane(distance, limit):
    u = 0.02
    across = np.linspace(-8 * u, 8 * u, 4001)
    half = np.sqrt(np.maximum(limit**2 - across**2, 0))
    erf = np.vectorize(math.erf)
    chord = (erf((half - distance) / u / math.sqrt(2)) - erf((-half - distance) / u / math.sqrt(2))) / 2
    chord[np.abs(across) > limit] = 0
    density = np.exp(-((across / u) ** 2) / 2) / u / math.sqrt(2 * math.pi)
    assert judge_radial(distance, limit=limit, u=u).p_conform == pytest.approx(
        float((chord * density).sum() * (across[1] - across[0])), abs=3e-6
    )


def test_out_by_radius_implies_a_95_percent_probability_of_lying_beyond():
    distance, u = (grid.ravel() for grid in np.meshgrid(np.linspace(0, 3, 61), np.geomspace(0.01, 30, 40)))
    found = judge_radial(distance, limit=1.0, u=u)
    assert (found.p_conform[found.verdict == OUT] <= 0.05 + 1e-9).all()
    assert (distance[found.verdict == OUT] > 1).all()


def test_radial_missing_numbers_and_an_exact_position():
    assert judge_radial([NAN, 0.1, 0.1], limit=[1, NAN, INF], u=0.1).verdict.tolist() == [NO_DATA] * 3
    assert judge_radial([0.3, np.nextafter(0.3, 1)], limit=0.3, u=0.0).verdict.tolist() == [IN, OUT]


@pytest.mark.parametrize("u", [0.005, 0.02, 0.1, 1.0])
def test_wrong_verdicts_in_the_long_run_stay_at_or_below_5_percent_on_each_side(u):
    rng = np.random.default_rng(7)
    at_limit = 0.1 + u * rng.standard_normal(200_000)
    verdict = judge(at_limit, lower=-0.1, upper=0.1, u=u).verdict
    room = 3.3 * math.sqrt(0.05 * 0.95 / len(at_limit))
    other_tail = math.erfc((Z95 + 0.2 / u) / math.sqrt(2)) / 2
    assert (verdict == OUT).mean() == pytest.approx(0.05 + other_tail, abs=1.4 * room)  # at the limit conforms
    beyond = judge(np.nextafter(0.1, 1) + at_limit - 0.1, lower=-0.1, upper=0.1, u=u).verdict
    assert (beyond == IN).mean() <= 0.05 + room


@pytest.mark.parametrize("u", [0.02, 0.3, 3.0])
def test_wrong_radial_verdicts_in_the_long_run_stay_at_or_below_5_percent(u):
    rng = np.random.default_rng(8)
    measured = np.hypot(0.3 + u * rng.standard_normal(50_000), u * rng.standard_normal(50_000))
    verdict = judge_radial(measured, limit=0.3, u=u).verdict
    room = 3.3 * math.sqrt(0.05 * 0.95 / len(measured))
    assert (verdict == OUT).mean() == pytest.approx(0.05, abs=room)
    assert (verdict == IN).mean() <= 0.05 + room


def test_a_tolerance_below_two_u_cannot_be_proven():
    assert provable(lower=-1, upper=1, u=[1 / Z975 - 1e-9, 1 / Z975 + 1e-9]).tolist() == [True, False]
    assert provable(lower=-INF, upper=1, u=[1 / Z95 - 1e-9, 1 / Z95 + 1e-9]).tolist() == [True, False]
    # Rayleigh: 1 - exp(-R²/2u²) = 0.95
    turn = 1 / math.sqrt(-2 * math.log(0.05))
    assert provable(lower=-INF, upper=1, u=[turn - 1e-6, turn + 1e-6], radial=True).tolist() == [True, False]
    assert not provable(lower=NAN, upper=NAN, u=0.1)


@given(deviation=lengths, half=sizes)
def test_the_deciding_u_decides_and_a_larger_one_does_not(deviation, half):
    limits = {"lower": -half, "upper": half}
    u = float(deciding_u(deviation, **limits))
    if u > 1e-9:
        assert one(deviation, **limits, u=u * 0.999) in (IN, OUT)
        assert one(deviation, **limits, u=u * 1.001) == UNDECIDED


def test_the_deciding_u_of_a_radius_and_of_one_limit():
    assert deciding_u(0.4, lower=-INF, upper=0.3) == pytest.approx(0.1 / Z95)
    u = float(deciding_u(0.27, lower=-INF, upper=0.3, radial=True))
    assert judge_radial(0.27, limit=0.3, u=[u * 0.999, u * 1.001]).verdict.tolist() == [IN, UNDECIDED]
    assert deciding_u(0.1, lower=-0.1, upper=0.1) == 0
    assert np.isnan(deciding_u(NAN, lower=-0.1, upper=0.1))
    assert deciding_u(0.5, lower=-0.1, upper=0.1, rule="simple") == INF
    assert best_deciding_u(lower=-0.02, upper=0.08) == pytest.approx(0.05 / Z975)
    assert best_deciding_u(lower=-INF, upper=0.3, radial=True) == pytest.approx(0.3 / math.sqrt(-2 * math.log(0.05)))


def test_a_million_numbers_are_judged_in_a_moment():
    deviation = np.random.default_rng(1).normal(0, 0.1, 1_000_000)
    started = time.perf_counter()
    found = judge(deviation, lower=-0.1, upper=0.1, u=0.03)
    assert time.perf_counter() - started < 3
    assert found.verdict.shape == deviation.shape


def test_a_least_width_can_be_proven_however_wide_it_has_to_be():
    # a limit on a number of its own: 0 lies outside, and the easiest value to prove is far inside
    assert provable(lower=4.9, upper=np.inf, u=0.03)
    assert provable(lower=-np.inf, upper=-4.9, u=0.03)
    assert not provable(lower=0.0, upper=np.inf, u=0.03)
    assert not provable(lower=4.9, upper=5.0, u=0.03)
