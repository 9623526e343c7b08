"""Uncertainty of a number of two expected shots, against simulation and the published arithmetic."""

import numpy as np
import pytest

from geoqa.kernels.precision.several import difference_u, slope_u


@pytest.mark.parametrize(("u", "percent"), [(0.005, 0.141), (0.010, 0.283), (0.020, 0.566), (0.030, 0.849)])
def test_cross_slopes_of_a_walk_of_5_ft(u, percent):
    """Own arithmetic of the check values, 5.3: independent shots, error of the width ignored."""
    assert 100 * slope_u(difference_u(u, u), 0.0, length=5.0, slope=1 / 48) == pytest.approx(percent, abs=5e-4)


def test_the_table_of_a_walk_with_an_uncertain_width():
    """dz 0.10, w 5.00, u 0.015 of either shot, 0.02 of the width: 0.42434 %."""
    assert 100 * slope_u(difference_u(0.015, 0.015), 0.02, length=5.0, slope=0.02) == pytest.approx(0.42434, abs=5e-6)


def test_simulated_slopes_scatter_so():
    rng = np.random.default_rng(7)
    fall, run = 0.8 + rng.normal(0, [[0.02], [0.03]], (2, 40_000)), 10 + rng.normal(0, 0.05, 40_000)
    slopes = (fall[0] - fall[1] + 0.8) / run
    told = slope_u(difference_u(0.02, 0.03), 0.05, length=10.0, slope=0.08)
    assert np.std(slopes) == pytest.approx(float(told), rel=0.02)


def test_without_a_length_there_is_no_slope():
    assert np.isnan(slope_u([0.02, 0.02], 0.0, length=[0.0, -1.0], slope=0.0)).all()
