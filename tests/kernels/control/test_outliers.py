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
    mean_of,
    snoop,
    snoop_in_turn,
)
from geoqa.kernels.control.similarity import fit_similarity

SIX = np.array([100.012, 100.008, 100.011, 100.009, 100.010, 100.060])
CONTROL = np.array([[516, 968], [839, 1092], [1284, 1105], [1620, 1161], [2042, 1058], [2446, 1086]], float)


def marks(measured, u=0.03):
    """Fit of measured marks on published ones, for naming in turn."""

    def fit(keep):
        found = fit_similarity(np.where(keep[:, None], measured, np.nan), CONTROL, u=u)
        return found.residuals, found.redundancy

    return fit


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
    with pytest.raises(JobError, match="not a probability"):
        snoop([0.0, 0.5], u=0.1, redundancy=0.5, alpha=5)
