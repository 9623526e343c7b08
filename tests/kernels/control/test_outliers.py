import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoqa.errors import JobError
from geoqa.kernels.control.outliers import (
    AGREE,
    NAMED,
    TOO_FEW,
    UNLOCATED,
    grubbs,
    many_outliers,
    mean_of,
    snoop,
    snoop_in_turn,
)
from geoqa.kernels.control.similarity import fit_similarity

URANIUM = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
OF_ROSNER = """
-0.25 0.68 0.94 1.15 1.20 1.26 1.26 1.34 1.38 1.43 1.49 1.49 1.55 1.56 1.58 1.65 1.69 1.70
1.76 1.77 1.81 1.91 1.94 1.96 1.99 2.06 2.09 2.10 2.14 2.15 2.23 2.24 2.26 2.35 2.37 2.40
2.47 2.54 2.62 2.64 2.90 2.92 2.92 2.93 3.21 3.26 3.30 3.59 3.68 4.30 4.64 5.34 5.42 6.01
"""
ROSNER = [float(each) for each in OF_ROSNER.split()]
SIX = np.array([100.012, 100.008, 100.011, 100.009, 100.010, 100.060])
CONTROL = np.array([[516, 968], [839, 1092], [1284, 1105], [1620, 1161], [2042, 1058], [2446, 1086]], float)


def marks(measured, u=0.03):
    """Fit of measured marks on published ones, for naming in turn."""

    def fit(keep):
        found = fit_similarity(np.where(keep[:, None], measured, np.nan), CONTROL, u=u)
        return found.residuals, found.redundancy

    return fit


def test_the_outlying_mass_is_named():
    # NIST/SEMATECH e-Handbook 1.3.5.17.1, data of Tietjen and Moore, seen in a third party's copy
    found = grubbs(URANIUM)
    assert found.statistic == pytest.approx(2.46876461, abs=1e-8)
    assert found.critical == pytest.approx(2.1266451, abs=1e-7)
    assert (found.rows, found.verdict) == ((7,), NAMED)
    one_sided = grubbs(URANIUM, side="high")
    assert one_sided.critical == pytest.approx(2.0316520, abs=1e-7)
    assert one_sided.rows == (7,)
    assert grubbs(URANIUM, side="low").verdict == AGREE


def test_missing_values_keep_the_numbering_of_rows():
    assert grubbs([math.nan, *URANIUM[::-1], math.nan]).rows == (1,)
    assert many_outliers([math.nan, *URANIUM[::-1]], most=2).rows == (1,)


def test_three_outliers_are_found_though_the_first_two_do_not_stand_out():
    # NIST/SEMATECH e-Handbook 1.3.5.17.3 (data of Rosner), seen in a third party's copy; it cuts off three decimals
    found = many_outliers(ROSNER, most=10)
    assert found.statistic == pytest.approx(
        [3.11891, 2.94297, 3.17942, 2.81018, 2.81558, 2.84817, 2.27933, 2.31037, 2.10158, 2.06718], abs=1e-5
    )
    assert found.critical == pytest.approx(
        [3.15879, 3.15143, 3.14389, 3.13616, 3.12825, 3.12013, 3.11180, 3.10324, 3.09446, 3.08542], abs=1e-5
    )
    assert [ROSNER[row] for row in found.order] == [6.01, 5.42, 5.34, 4.64, -0.25, 4.30, 3.68, 3.59, 0.68, 3.30]
    assert [ROSNER[row] for row in found.rows] == [6.01, 5.42, 5.34]


def test_values_that_all_belong_are_let_alone_as_often_as_alpha_says():
    draw = np.random.default_rng(5)
    named = [many_outliers(draw.normal(size=30), most=3).verdict == NAMED for _ in range(600)]
    assert abs(np.mean(named) - 0.05) < 0.03
    named = [grubbs(draw.normal(size=8)).verdict == NAMED for _ in range(600)]
    assert abs(np.mean(named) - 0.05) < 0.03


def test_two_that_stand_out_alike_are_not_told_apart():
    mirrored = [-10.0, *np.linspace(-0.1, 0.1, 20), 10.0]
    assert grubbs(mirrored).verdict == UNLOCATED
    assert set(many_outliers(mirrored, most=2).rows) == {0, 21}
    assert many_outliers(mirrored, most=1).verdict == UNLOCATED


def test_two_values_or_none_are_too_few_and_equal_ones_agree():
    assert grubbs([1.0, 2.0]).verdict == TOO_FEW
    assert many_outliers([1.0, math.nan, 2.0], most=1).verdict == TOO_FEW
    assert grubbs([]).verdict == TOO_FEW
    assert grubbs([1.0, 1.0, 1.0]).verdict == AGREE
    assert many_outliers([1.0, 1.0, 1.0, 1.0], most=2).verdict == AGREE


def test_the_sixth_elevation_of_one_mark_is_named_and_the_others_agree():
    # own example; critical values and delta0 from memory (Baarda), arithmetic recomputed
    found = snoop_in_turn(mean_of(SIX, u=0.010), 6, u=0.010)
    assert found.first.statistic == pytest.approx([0.69378, 1.13196, 0.80333, 1.02242, 0.91287, 4.56435], abs=1e-5)
    assert found.first.critical == pytest.approx(3.2905, abs=5e-5)
    assert found.first.p_global == pytest.approx(0.00083389, abs=1e-8)
    assert found.first.detectable == pytest.approx(np.full(6, 0.0452654), abs=1e-7)
    assert (found.rows, found.verdict) == ((5,), NAMED)
    assert found.last.verdict == AGREE
    assert np.nansum(found.last.statistic**2) * 4 / 5 == pytest.approx(0.1)  # v'v over sigma squared, r = 4/5


@pytest.mark.parametrize(
    ("alpha", "critical", "delta"), [(0.001, 3.2905, 4.13215), (0.01, 2.5758, 3.41745), (0.05, 1.96, 2.80159)]
)
def test_the_constants_of_data_snooping(alpha, critical, delta):
    # values from memory (Baarda; lambda0 = delta0 squared is 17.0746, 11.6790, 7.8489), arithmetic recomputed
    found = snoop([0.0, 0.0], u=1.0, redundancy=0.25, alpha=alpha)
    assert found.critical == pytest.approx(critical, abs=5e-5)
    assert found.detectable[0] * 0.5 == pytest.approx(delta, abs=1e-5)


def test_the_detectable_blunder_of_a_plan_position_is_found_as_often_as_its_power():
    from scipy.stats import ncx2

    found = snoop(np.zeros((3, 2)), u=0.03, redundancy=0.5)
    shift = found.detectable[0, 0] * math.sqrt(0.5) / 0.03
    assert ncx2.sf(found.critical**2, 2, shift**2) == pytest.approx(0.80, abs=1e-6)


@given(st.floats(-5, 5), st.floats(0.2, 50), st.floats(0.01, 0.1), st.floats(0.01, 0.1))
def test_of_two_shots_that_disagree_neither_is_picked(value, apart, u_first, u_second):
    u = np.array([u_first, u_second])
    found = snoop_in_turn(mean_of([value, value + apart * 10 * u.max()], u=u), 2, u=u)
    assert found.first.statistic[0] == pytest.approx(found.first.statistic[1], rel=1e-6)
    assert found.rows == ()
    assert found.verdict in {UNLOCATED, AGREE}
    if apart > 1:
        assert found.verdict == UNLOCATED


def test_three_shots_that_all_disagree_leave_nobody_named():
    found = snoop_in_turn(mean_of([0.0, 1.0, 3.0], u=0.01), 3, u=0.01, most=2)
    assert (found.rows, found.verdict) == ((), UNLOCATED)
    assert snoop_in_turn(mean_of([0.0, 0.01, 3.0], u=0.01), 3, u=0.01).rows == (2,)


def test_one_disturbed_mark_of_six_is_named_nearly_always():
    # 0.15 ft at 0.03 ft per axis: 98 % by own simulation; the others are kept
    draw, hits, wrong = np.random.default_rng(9), 0, 0
    for _ in range(300):
        measured = CONTROL + draw.normal(0, 0.03, CONTROL.shape)
        measured[2, 0] += 0.15
        found = snoop_in_turn(marks(measured), 6, u=0.03, alpha=0.05)
        hits += found.first.rows == (2,)
        wrong += bool(found.first.rows) and found.first.rows != (2,)
    assert hits >= 0.93 * 300
    assert wrong <= 0.04 * 300


def test_two_disturbed_marks_are_named_in_turn():
    measured = CONTROL.copy()
    measured[2] += [0.8, 0.0]
    measured[4] += [0.0, -0.5]
    found = snoop_in_turn(marks(measured), 6, u=0.03)
    assert found.verdict == NAMED
    assert set(found.rows) == {2, 4}


def test_misfit_in_which_nobody_stands_out_is_not_agreement():
    spread_out = snoop(np.tile([0.025, -0.025], 20), u=0.01, redundancy=0.95)
    assert spread_out.statistic.max() < spread_out.critical
    assert spread_out.verdict == UNLOCATED


def test_an_observation_nothing_checks_is_not_tested():
    found = snoop([0.0, 0.5, math.nan], u=0.1, redundancy=[0.0, 0.5, 0.5])
    assert np.isnan(found.statistic).tolist() == [True, False, True]
    assert found.detectable[0] == math.inf
    assert np.isnan(found.detectable[2])
    assert snoop([0.0], u=0.1, redundancy=0.0).verdict == TOO_FEW
    assert snoop_in_turn(mean_of([1.0], u=0.1), 1, u=0.1).verdict == TOO_FEW


def test_options_outside_their_range_are_refused():
    with pytest.raises(JobError, match="allowed are both, high and low"):
        grubbs(URANIUM, side="up")
    with pytest.raises(JobError, match="not a probability"):
        grubbs(URANIUM, alpha=5)
    with pytest.raises(JobError, match="give 1 or more"):
        many_outliers(URANIUM, most=0)
