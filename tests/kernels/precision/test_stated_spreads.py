import numpy as np
import pytest

from geoqa.kernels.precision.components import Contrasts
from geoqa.kernels.precision.stated_spreads import stated_spreads


def sample(draw, base, extra, multiplier):
    return Contrasts(value=draw.normal(0.0, np.sqrt(base**2 + multiplier * extra**2)), multiplier=multiplier)


@pytest.mark.long
@pytest.mark.parametrize("stated", [1.0, 0.5, 1 / 3, 0.0])
@pytest.mark.parametrize("high", [6.0, 1.1])
def test_the_upper_end_of_what_a_later_value_scatters_by_holds_whatever_was_stated(stated, high):
    """The 97.5 % of likely totals, at the multipliers tested, and where nothing feels the extra spread at all."""
    draw, held = np.random.default_rng(3), []
    multiplier = np.repeat([1.0, high], 12)
    for number in range(300):
        extra = (0.0, 0.4, 1.5)[number % 3]
        found = stated_spreads(sample(draw, 1.0, extra, multiplier), stated=stated)
        ends = [np.quantile(found.base_likely + m * found.extra_likely, 0.975) for m in (0.0, 1.0, high)]
        held.append([end >= 1.0 + m * extra**2 for end, m in zip(ends, (0.0, 1.0, high), strict=True)])
    # where all values feel nearly alike, what none feels is told by nothing but the sums
    assert (np.mean(held, axis=0) >= [0.95 if high > 2 else 0.90, 0.95, 0.95]).all()


@pytest.mark.parametrize("seed", range(6))
def test_a_base_stated_too_small_is_not_believed_and_a_sound_one_is(seed):
    draw = np.random.default_rng(seed)
    made = sample(draw, 1.0, 0.3, np.r_[np.full(30, 0.2), np.full(30, 4.0)])
    few = stated_spreads(made, stated=0.2)
    assert np.isfinite(few.base.dof)
    assert few.base.value == pytest.approx(1.0, abs=0.35)
    assert stated_spreads(made, stated=float(few.base.value)).base.dof == np.inf


def test_a_base_stated_larger_than_shown_is_taken():
    made = sample(np.random.default_rng(1), 1.0, 0.3, np.r_[np.full(30, 0.2), np.full(30, 4.0)])
    assert stated_spreads(made, stated=5.0).base.value == 5.0


def test_repeats_elsewhere_count_as_values_of_the_base():
    made = sample(np.random.default_rng(1), 1.0, 0.3, np.r_[np.full(4, 0.2), np.full(4, 4.0)])
    alone, more = (stated_spreads(made, stated=0.01, **told) for told in ({}, {"sum_squares": 100.0, "dof": 100.0}))
    assert more.base.high - more.base.low < alone.base.high - alone.base.low
    assert more.base.value == pytest.approx(1.0, abs=0.1)


def test_one_value_tells_nothing_of_a_stated_base():
    found = stated_spreads(Contrasts(value=np.array([1.0]), multiplier=np.array([1.0])), stated=0.5)
    assert found.base.value == 0.5
