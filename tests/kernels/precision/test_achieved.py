"""What was achieved, and its band."""

import numpy as np
import pytest

from geoqa.kernels.precision.achieved import achieved


def test_the_root_mean_square_of_both_axes_is_per_axis():
    found = achieved([[0.03, 0.04], [0.03, 0.04]], [1, 2])
    assert found.u == pytest.approx(np.sqrt((0.03**2 + 0.04**2) / 2))
    assert np.isnan(found.high), "two groups tell no band"


def test_the_band_is_that_of_the_chi_square_table():
    """Points of the chi-square distribution with 10 degrees of freedom: 3.247 and 20.483 (any printed table)."""
    found = achieved(np.full(10, 0.02), range(10))
    assert found.low == pytest.approx(0.02 * np.sqrt(10 / 20.483), rel=1e-4)
    assert found.high == pytest.approx(0.02 * np.sqrt(10 / 3.247), rel=1e-3)


def test_the_band_holds_although_a_session_shares_its_error():
    draw, hits = np.random.default_rng(3), 0
    for _ in range(600):
        session = np.repeat(np.arange(8), 5)
        values = draw.normal(size=8)[session] * 0.02 + draw.normal(size=40) * 0.01
        found = achieved(values, session)
        hits += found.low <= np.hypot(0.02, 0.01) <= found.high
    assert hits / 600 >= 0.94


def test_what_is_missing_counts_for_nothing():
    assert achieved([np.nan, 0.02, -0.02], [1, 2, 3]).values == 2
    assert np.isnan(achieved([np.nan], [1]).u)
