"""Fall of a pipe between two inverts, with what each coordinate of its ends does to it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Grades:
    """Slopes of pipes; the columns of the gradients are the upper and the lower end.

    Attributes
    ----------
    length : (m,) float64
        In plan.
    slope : (m,) float64
        Fall over length, positive where the water runs from the first end to the second; NaN without length.
    easting, northing, elevation : (m, 2) float64
        How much the slope changes by a change of each coordinate.
    """

    length: Floats
    slope: Floats
    easting: Floats
    northing: Floats
    elevation: Floats


def grades(upper: ArrayLike, lower: ArrayLike) -> Grades:
    """Slope of straight pipes from the invert where water enters to the invert where it leaves.

    Parameters
    ----------
    upper, lower : (m, 3) array
        Easting, northing and elevation of both ends; one unit.

    Returns
    -------
    Grades

    Examples
    --------
    An 8 in sewer of 300 ft at its usual minimum falls 1.200 ft:

    >>> found = grades([[0.0, 0.0, 101.2]], [[300.0, 0.0, 100.0]])
    >>> found.slope.round(6).tolist(), (found.elevation * 300).round(6).tolist()
    ([0.004], [[1.0, -1.0]])
    """
    upper, lower = (np.asarray(each, dtype=np.float64).reshape(-1, 3) for each in (upper, lower))
    along = lower[:, :2] - upper[:, :2]
    length = np.hypot(along[:, 0], along[:, 1])
    known = np.where(length > 0, length, np.nan)
    slope = (upper[:, 2] - lower[:, 2]) / known
    # a longer pipe of one fall is a flatter one
    flatter = (slope / known**2)[:, None] * along
    level = 1 / known
    return Grades(
        length=length,
        slope=slope,
        easting=np.column_stack([flatter[:, 0], -flatter[:, 0]]),
        northing=np.column_stack([flatter[:, 1], -flatter[:, 1]]),
        elevation=np.column_stack([level, -level]),
    )
