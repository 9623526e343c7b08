"""The ellipse round plan differences in which the next one will lie."""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtri

from geoqa.errors import GeometryInputError, JobError

_FEWEST = 3


@dataclass(frozen=True, kw_only=True)
class Ellipse:
    """An ellipse in plan; NaN where too few values tell it.

    Attributes
    ----------
    centre_e, centre_n : float
        Mean of the values.
    major, minor : float
        Half axes.
    direction : float
        Azimuth of the major axis, degrees clockwise from grid north, 0 to 180.
    count : int
        Values it rests on.
    """

    centre_e: float
    centre_n: float
    major: float
    minor: float
    direction: float
    count: int


def next_ellipse(difference_e: ArrayLike, difference_n: ArrayLike, *, confidence: float = 0.95) -> Ellipse:
    """Find the ellipse that holds the next plan difference with a given probability.

    Parameters
    ----------
    difference_e, difference_n : (n,) array
        Independent differences, normal in both axes; a row with a NaN is left out.
    confidence : float
        Probability that another difference of the same kind lies inside.

    Returns
    -------
    Ellipse
        Half axes NaN from fewer than three values.

    Raises
    ------
    GeometryInputError
        Arrays of different length.
    JobError
        A confidence not between 0 and 1.

    Notes
    -----
    Half axes sqrt(lambda · 2 (n - 1)(n + 1)/(n (n - 2)) · F(2, n - 2)), lambda the eigenvalues of the sample
    covariance: Hotelling's T² for one further observation, any textbook of multivariate statistics; for many values
    2.4477 standard deviations.

    Examples
    --------
    >>> found = next_ellipse([0.2, -0.2, 0.0, 0.0], [0.0, 0.0, 0.1, -0.1])
    >>> round(found.direction, 1), round(found.major / found.minor, 6), found.count
    (90.0, 2.0, 4)
    """
    if not 0 < confidence < 1:
        raise JobError(f"A confidence of {confidence} is not between 0 and 1; 0.95 is usual.")
    e, n = np.asarray(difference_e, dtype=np.float64), np.asarray(difference_n, dtype=np.float64)
    if e.shape != n.shape:
        raise GeometryInputError(f"Differences in easting {e.shape} and northing {n.shape} differ in length.")
    whole = np.isfinite(e) & np.isfinite(n)
    values = np.column_stack([e[whole], n[whole]])
    count = len(values)
    centre = values.mean(axis=0) if count else np.full(2, np.nan)
    if count < _FEWEST:
        return Ellipse(
            centre_e=float(centre[0]), centre_n=float(centre[1]),
            major=np.nan, minor=np.nan, direction=np.nan, count=count,
        )  # fmt: skip
    size, turn = np.linalg.eigh(np.cov(values.T))
    reach = 2 * (count - 1) * (count + 1) / (count * (count - 2)) * float(fdtri(2, count - 2, confidence))
    minor, major = (sqrt(max(float(each), 0.0) * reach) for each in size)
    east, north = turn[:, 1]
    return Ellipse(
        centre_e=float(centre[0]), centre_n=float(centre[1]),
        major=major, minor=minor, direction=degrees(np.arctan2(east, north)) % 180.0, count=count,
    )  # fmt: skip
