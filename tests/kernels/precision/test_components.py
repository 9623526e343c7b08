import math

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.precision.components import Contrasts, contrasts, two_spreads


def one_way(values):
    """Contrasts of a balanced one-way table: rows are groups."""
    groups, each = values.shape
    belongs = np.kron(np.eye(groups), np.ones((each, 1)))
    n = values.size
    return contrasts(values.ravel(), fixed=np.ones((n, 1)), base=np.eye(n), extra=belongs @ belongs.T)


def test_balanced_groups_give_the_estimates_of_the_analysis_of_variance():
    # own, by hand: within (2 + 0 + 0.5)/3 = 5/6; between 2 x variance of 2, 6, 10 = 32; (32 - 5/6)/2 = 187/12
    found = two_spreads(one_way(np.array([[1.0, 3.0], [6.0, 6.0], [9.5, 10.5]])))
    assert found.base.value == pytest.approx(math.sqrt(5 / 6))
    assert found.extra.value == pytest.approx(math.sqrt(187 / 12))
    assert found.base.dof == 3
    assert found.extra.dof == 2


def test_the_band_of_the_ratio_is_the_exact_one_of_f():
    from scipy.stats import f

    values = np.array([[1.0, 3.0], [6.0, 6.0], [9.5, 10.5]])
    found = two_spreads(one_way(values))
    ratio = found.extra.value**2 / found.base.value**2 * 2 + 1
    assert found.ratio.value == pytest.approx((ratio - 1) / 2)
    assert found.ratio.low == pytest.approx((ratio / f.ppf(0.975, 2, 3) - 1) / 2)
    assert found.ratio.high == pytest.approx((ratio / f.ppf(0.025, 2, 3) - 1) / 2)


def test_contrasts_carry_the_residual_sum_of_squares_of_weighted_least_squares():
    draw = np.random.default_rng(7)
    n, fixed = 9, np.column_stack([np.ones(9), np.arange(9.0)])
    values = draw.normal(size=n)
    root = draw.normal(size=(n, n))
    base, extra = np.eye(n) + 0.1 * root @ root.T, np.diag(np.arange(9.0))
    made = contrasts(values, fixed=fixed, base=base, extra=extra)
    for ratio in (0.0, 0.3, 20.0):
        weight = np.linalg.inv(base + ratio * extra)
        effects = np.linalg.solve(fixed.T @ weight @ fixed, fixed.T @ weight @ values)
        left = values - fixed @ effects
        assert np.sum(made.value**2 / (1 + ratio * made.multiplier)) == pytest.approx(left @ weight @ left)
    assert made.value.size == 7


def test_unequal_multipliers_are_turned_round_as_exactly_as_equal_ones():
    even = Contrasts(value=np.array([3.0, -2.0, 4.0]), multiplier=np.full(3, 2.0))
    nearly = Contrasts(value=np.array([3.0, -2.0, 4.0]), multiplier=np.array([2.0, 2.0 + 1e-7, 2.0 - 1e-7]))
    first, second = (two_spreads(each, sum_squares=6.0, dof=6) for each in (even, nearly))
    assert second.extra.value == pytest.approx(first.extra.value, rel=1e-4)
    assert second.extra.high == pytest.approx(first.extra.high, rel=1e-3)


def test_bands_hold_the_truth_as_often_as_they_say():
    draw, trials = np.random.default_rng(20), 500
    groups, each = 6, 4
    held = {"base": 0, "extra": 0, "ratio": 0, "together": 0}
    for _ in range(trials):
        values = draw.normal(0, 2.0, (groups, 1)) + draw.normal(0, 1.5, (groups, each))
        found = two_spreads(one_way(values))
        for name, truth in (("base", 1.5), ("extra", 2.0), ("ratio", 16 / 9)):
            band = getattr(found, name)
            held[name] += band.low <= truth <= band.high
        band = found.together()
        held["together"] += band.low <= 2.5 <= band.high
    assert {name: abs(count / trials - 0.95) <= 0.03 for name, count in held.items()} == dict.fromkeys(held, True)


def test_a_declared_base_is_not_learned_again():
    made = Contrasts(value=np.array([5.0, -5.0]), multiplier=np.array([1.0, 1.0]))
    found = two_spreads(made, base=3.0)
    assert (found.base.value, found.base.low, found.base.high) == (3.0, 3.0, 3.0)
    assert found.extra.value == pytest.approx(4.0)
    assert math.isnan(two_spreads(made).extra.value)  # nothing tells the base: nothing is claimed


def test_scatter_that_needs_no_second_source_gives_0_with_a_band_from_0():
    made = Contrasts(value=np.array([0.1, -0.1]), multiplier=np.array([1.0, 1.0]))
    found = two_spreads(made, sum_squares=20.0, dof=20)
    assert (found.extra.value, found.extra.low) == (0.0, 0.0)
    assert found.extra.high >= 0


def test_effects_that_take_up_every_value_leave_no_contrast():
    none = contrasts([1.0, 2.0], fixed=np.eye(2), base=np.eye(2), extra=np.eye(2))
    assert none.value.size == 0
    assert math.isnan(two_spreads(none).base.value)


def test_arrays_that_do_not_fit_are_refused():
    with pytest.raises(GeometryInputError, match="do not fit"):
        contrasts([1.0, 2.0], fixed=np.ones((3, 1)), base=np.eye(2), extra=np.eye(2))
