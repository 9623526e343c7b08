"""How a kind fills its tolerance."""

import numpy as np
import pytest
from scipy.stats import norm

from geoqa.errors import GeometryInputError
from geoqa.kernels.rules.near_limit import limit_use


def test_the_work_is_seen_through_the_errors_of_measuring():
    """Planted: work normal about 0.05 with 0.02, measured with 0.03 for each shot."""
    rng, count = np.random.default_rng(5), 20_000
    value = 0.05 + 0.02 * rng.normal(size=count) + 0.03 * rng.normal(size=count)
    found = limit_use(value, np.full(count, 0.03), np.zeros(count), lower=-0.08, upper=0.08)
    assert found.mean == pytest.approx(0.05, abs=0.001)
    assert found.spread == pytest.approx(0.02, abs=0.001)
    assert found.beyond == pytest.approx(norm.sf(0.08, 0.05, 0.02), abs=0.005)
    assert found.near == pytest.approx(norm.sf(0.064, 0.05, 0.02) - norm.sf(0.08, 0.05, 0.02), abs=0.01)


def test_what_a_session_shares_stays_in_the_mean():
    found = limit_use([0.01, 0.03], [0.001, 0.001], [0.02, 0.02], lower=-0.1, upper=0.1)
    assert found.u_mean == pytest.approx(np.hypot(0.01, 0.02))


def test_the_side_of_the_mean_counts_and_an_open_one_has_none():
    values = np.array([-0.03, -0.05, -0.04])
    assert limit_use(values, [0.0] * 3, [0.0] * 3, lower=-0.05, upper=0.2).used == pytest.approx(0.8)
    open_side = limit_use(values, [0.0] * 3, [0.0] * 3, lower=-np.inf, upper=0.2)
    assert np.isnan(open_side.used)
    assert open_side.near + open_side.beyond == pytest.approx(0.0, abs=1e-12)


def test_work_without_spread_lies_on_one_side_of_a_limit():
    found = limit_use([0.09, 0.09], [0.01, 0.01], [0.0, 0.0], lower=-0.1, upper=0.1)
    assert (found.near, found.beyond) == (1.0, 0.0)


def test_one_number_says_nothing_and_crossed_limits_are_refused():
    assert limit_use([0.1, np.nan], [0.1, 0.1], [0.1, 0.1], lower=-1, upper=1) is None
    with pytest.raises(GeometryInputError, match="above"):
        limit_use([0.1], [0.1], [0.1], lower=1, upper=-1)
