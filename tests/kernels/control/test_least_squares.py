import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoqa.errors import GeometryInputError
from geoqa.kernels.control.least_squares import adjust

NORRIS = """0.1 0.2; 338.8 337.4; 118.1 118.2; 888.0 884.6; 9.2 10.1; 228.1 226.5; 668.5 666.3; 998.5 996.3;
449.1 448.6; 778.9 777.0; 559.2 558.2; 0.3 0.4; 0.1 0.6; 778.1 775.5; 668.8 666.9; 339.3 338.0; 448.9 447.5;
10.8 11.6; 557.7 556.0; 228.3 228.1; 998.0 995.8; 888.8 887.6; 119.6 120.2; 0.3 0.3; 0.6 0.3; 557.6 556.8;
339.3 339.1; 888.0 887.2; 998.5 999.0; 778.9 779.0; 10.2 11.1; 117.6 118.3; 228.9 229.2; 668.4 669.1; 449.2 448.9;
0.2 0.5"""


def line(along):
    along = np.asarray(along, float)
    return np.column_stack([np.ones_like(along), along])


def test_a_straight_line_of_the_norris_data():
    # NIST StRD, linear regression, Norris: certified values (public domain)
    y, x = np.array([pair.split() for pair in NORRIS.split(";")], float).T
    found = adjust(line(x), y)
    assert found.parameters == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-10)
    assert found.se == pytest.approx([0.232818234301152, 0.000429796848199937], rel=1e-10)
    assert found.sigma0 == pytest.approx(0.884796396144373, rel=1e-10)
    assert np.sum(found.residuals**2) == pytest.approx(26.6173985294224, rel=1e-10)
    assert found.dof == 34


def test_a_line_through_four_points_with_computed_minus_observed_residuals():
    # value from memory (Ghilani, Adjustment Computations, ch. 11), arithmetic recomputed
    found = adjust(line([3, 4.25, 5.5, 8]), [4.5, 4.25, 5.5, 5.5])
    assert found.parameters == pytest.approx([3.662857, 0.245714], abs=1e-6)
    assert found.residuals == pytest.approx([-0.1, 0.4571, -0.4857, 0.1286], abs=5e-5)
    assert found.sigma0 == pytest.approx(0.485504, abs=1e-6)


@given(st.lists(st.floats(-100, 100), min_size=3, max_size=12, unique=True), st.integers(0, 2**32 - 1))
def test_redundancy_numbers_add_up_to_the_degrees_of_freedom(along, seed):
    along = np.round(along, 2)
    if np.ptp(along) < 1:
        return
    draw = np.random.default_rng(seed)
    found = adjust(line(along), draw.normal(size=along.size), u=draw.uniform(0.5, 2.0, along.size))
    assert found.redundancy.sum() == pytest.approx(along.size - 2)


def test_the_redundancy_number_is_the_share_of_an_error_that_shows_in_its_own_residual():
    observed = np.array([1.0, 2.2, 2.9, 4.1, 5.0])
    wrong = observed + np.array([0, 0, 0, 1.0, 0])
    u = [0.1, 0.2, 0.1, 0.3, 0.1]
    right, moved = adjust(line(range(5)), observed, u=u), adjust(line(range(5)), wrong, u=u)
    assert (right.residuals - moved.residuals)[3] == pytest.approx(right.redundancy[3])


def test_declared_uncertainties_give_the_covariance_and_a_test_of_themselves():
    found = adjust(np.ones((4, 1)), [0.0, 0.0, 2.0, 2.0], u=0.5)
    assert found.se[0] == pytest.approx(0.25)
    assert found.sigma0 == pytest.approx(math.sqrt(16 / 3))
    assert found.p_global == pytest.approx(0.0011339843)  # chi-square of 16 with 3 degrees of freedom
    free = adjust(np.ones((4, 1)), [0.0, 0.0, 2.0, 2.0])
    assert free.se[0] == pytest.approx(math.sqrt(4 / 3) / 2)
    assert math.isnan(free.p_global)


def test_a_missing_value_is_left_out_and_stays_missing():
    whole = adjust(line([0, 1, 2]), [1.0, 2.0, 3.5])
    gappy = adjust(line([0, 1, 5, 2, math.nan]), [1.0, 2.0, math.nan, 3.5, 1.0])
    assert gappy.parameters.tolist() == whole.parameters.tolist()
    assert np.isnan(gappy.residuals).tolist() == [False, False, True, False, True]
    assert np.isnan(gappy.redundancy).tolist() == [False, False, True, False, True]


def test_an_exact_fit_has_no_sigma():
    found = adjust(line([0, 1]), [1.0, 2.0])
    assert found.dof == 0
    assert math.isnan(found.sigma0)
    assert found.redundancy == pytest.approx([0, 0])


def test_what_cannot_be_settled_is_refused():
    with pytest.raises(GeometryInputError, match="1 complete observations cannot settle 2"):
        adjust(line([1.0, math.nan]), [1.0, 1.0])
    with pytest.raises(GeometryInputError, match="leave a parameter open"):
        adjust(line([1.0, 1.0, 1.0]), [1.0, 1.0, 2.0])
    with pytest.raises(GeometryInputError, match="gives no weight"):
        adjust(line([1.0, 2.0]), [1.0, 1.0], u=0.0)
