"""Uncertainty of a number that several expected shots make, before any of them is taken."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats


def difference_u(first: ArrayLike, second: ArrayLike) -> Floats:
    """Standard uncertainty of a difference of two shots of one session, which feels their random parts alone.

    Parameters
    ----------
    first, second : float or (n,) array
        1 sigma of either shot, its own part.

    Returns
    -------
    (n,) float64 array
        In their unit.

    Examples
    --------
    >>> float(difference_u(0.03, 0.04))
    0.05
    """
    return np.hypot(np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64))


def slope_u(u_fall: ArrayLike, u_length: ArrayLike, *, length: ArrayLike, slope: ArrayLike) -> Floats:
    """Standard uncertainty of a slope, fall over length.

    Parameters
    ----------
    u_fall, u_length : float or (n,) array
        1 sigma of the fall and of the length, in one unit.
    length : float or (n,) array
        In that unit, positive.
    slope : float or (n,) array
        Slope at which it is asked, rise over run.

    Returns
    -------
    (n,) float64 array
        Rise over run; NaN where the length is not positive.

    Notes
    -----
    u(s)² = (u(fall) / length)² + (s u(length) / length)²: JCGM 100:2008, 5.1.2.

    Examples
    --------
    >>> round(100 * float(slope_u(0.02 * 2**0.5, 0.0, length=5.0, slope=0.02)), 3)
    0.566
    """
    over = np.asarray(length, dtype=np.float64)
    over = np.where(over > 0, over, np.nan)
    return np.hypot(np.asarray(u_fall, dtype=np.float64) / over, np.asarray(slope) * np.asarray(u_length) / over)
