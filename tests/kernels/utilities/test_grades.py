"""Slopes of pipes against published values: minimum sewer slopes by Manning, and the uncertainty of 300 ft."""

import numpy as np
import pytest

from geoqa.kernels.precision.combination import combined
from geoqa.kernels.utilities.grades import grades

# inches: ft per 100 ft; Waverly OH code 937.10 (the list of Ten States), its 27 in misprint mended
MINIMUM = {8: 0.40, 10: 0.28, 12: 0.22, 15: 0.15, 18: 0.12, 21: 0.10, 24: 0.08, 27: 0.067, 30: 0.058, 36: 0.046}
SPEED = {8: 2.189, 10: 2.126, 12: 2.128, 15: 2.039, 18: 2.059, 21: 2.083, 24: 2.037, 27: 2.016, 30: 2.012, 36: 2.024}


@pytest.mark.parametrize("inches", MINIMUM)
def test_minimum_slopes_run_full_at_two_feet_a_second(inches):
    """Manning, n 0.013: V = 1.486/n (D/4)^(2/3) S^(1/2); ft/s."""
    fall = MINIMUM[inches] * 3.0
    slope = grades([[1000.0, 2000.0, 100.0 + fall]], [[1180.0, 2240.0, 100.0]]).slope[0]
    assert slope == pytest.approx(MINIMUM[inches] / 100, rel=1e-12)
    assert 1.486 / 0.013 * (inches / 48) ** (2 / 3) * slope**0.5 == pytest.approx(SPEED[inches], abs=0.0005)


def test_eight_inches_over_three_hundred_feet():
    """1.200 ft of fall; u 0.02 ft each and nothing shared that counts: 0.0094 % (section 10 of the check values)."""
    found = grades([[0.0, 0.0, 101.2]], [[300.0, 0.0, 100.0]])
    for shared in (0.0, 0.05):
        u = combined(found.elevation, [[0.02, 0.02]], [[shared, shared]], [[0, 0]])
        assert np.hypot(u.u_random, u.u_common)[0] * 100 == pytest.approx(0.0094, abs=5e-5)
    across = combined(found.elevation, [[0.02, 0.02]], [[0.05, 0.05]], [[0, 1]])
    assert across.u_common[0] == pytest.approx(0.05 * np.sqrt(2) / 300)


def test_gradients_are_those_of_the_slope():
    rng = np.random.default_rng(5)
    ends = rng.normal([2.2e6, 4e5, 1450], 40, size=(2, 20, 3))
    found = grades(*ends)
    for axis, gradient in enumerate((found.easting, found.northing, found.elevation)):
        for end in (0, 1):
            moved = ends.copy()
            moved[end, :, axis] += 0.01
            change = (grades(*moved).slope - found.slope) / 0.01
            assert change == pytest.approx(gradient[:, end], rel=1e-2, abs=1e-5)


def test_a_pipe_without_length_has_no_slope():
    assert np.isnan(grades([[0, 0, 1.0]], [[0, 0, 0.5]]).slope[0])
