import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.equal_by_chance import expected_equal, poisson_limit, poisson_tail


def test_a_fine_step_gives_step_times_normal_density():
    r, u = 0.001, 0.02
    assert expected_equal([[r, r, r]], [[u, u, u]]) == pytest.approx((r / u / math.sqrt(2 * math.pi)) ** 3, rel=1e-3)


def test_a_coarse_step_always_agrees():
    assert expected_equal([[10.0]], [[0.02]]) == pytest.approx(1.0)
    assert expected_equal([[0.01]], [[0.0]]) == 1.0


def test_honest_work_agrees_as_often_as_expected():
    rng = np.random.default_rng(3)
    rows, step = 400_000, 0.01
    u = np.array([0.02, 0.02, 0.03])
    # recorded in steps of 0.01, beside a design written in the same steps
    design = np.round(rng.uniform(0, 1, (rows, 3)) / step) * step
    measured = design + rng.normal(0, u, (rows, 3))
    equal = (np.round(measured / step) == np.round(design / step)).all(axis=1).sum()
    expected = expected_equal(np.full((rows, 3), step), np.tile(u, (rows, 1)))
    assert equal == pytest.approx(expected, abs=3.3 * math.sqrt(expected))


def test_a_component_that_cannot_be_compared_counts_for_nothing():
    two = expected_equal([[0.01, 0.01, np.nan]], [[0.02, 0.02, 0.02]])
    assert two == expected_equal([[0.01, 0.01]], [[0.02, 0.02]])
    assert expected_equal([[np.nan, np.nan]], [[0.02, 0.02]]) == 0
    assert expected_equal(np.zeros((0, 3)), np.zeros((0, 3))) == 0


def test_an_unknown_uncertainty_never_makes_agreement_rarer():
    assert expected_equal([[0.01, 0.01]], [[0.02, np.nan]]) == expected_equal([[0.01]], [[0.02]])


@given(count=st.integers(0, 60), expected=st.floats(0, 30))
def test_the_tail_is_the_sum_of_poisson_terms(count, expected):
    below = math.fsum(math.exp(-expected) * expected**k / math.factorial(k) for k in range(count))
    assert poisson_tail(count, expected) == pytest.approx(1 - below, abs=1e-12)


@given(expected=st.floats(0, 1e5), tail=st.floats(1e-9, 0.5))
def test_the_limit_is_the_first_count_beyond_which_chance_is_out(expected, tail):
    limit = poisson_limit(expected, tail=tail)
    assert poisson_tail(limit + 1, expected) < tail
    assert limit == 0 or poisson_tail(limit, expected) >= tail


def test_what_does_not_fit_is_refused():
    with pytest.raises(GeometryInputError, match="positive steps"):
        expected_equal([[0.0]], [[1.0]])
    with pytest.raises(GeometryInputError, match="give 0 < tail < 1"):
        poisson_limit(1.0, tail=0.0)
