"""Sizes of the differences between tilted and plumb shots, by class of tilt: all that can be said without azimuths."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import log, sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import bdtr, ndtri

from geoqa.errors import GeometryInputError, JobError
from geoqa.kernels.arrays import Floats, Integers

EDGES = (0.0, 5.0, 12.0, 18.0, 25.0, 38.0, 52.0, 90.0)
"""Degrees that part classes about the leans a crew usually tries: 10, 15, 20, 30, 45; common practice, no source."""

_PLAN, _LEVEL = sqrt(2 * log(2)), float(ndtri(0.75))  # medians of sizes over sigma, in the plane and on a line


@dataclass(frozen=True, kw_only=True, eq=False)
class TiltClasses:
    """Robust sizes of differences by class of tilt; arrays of shape (k,), one row a class.

    Attributes
    ----------
    low, high : float64
        Degrees, from `low` (included) to `high` (left out).
    largest : float64
        Largest tilt in the class; NaN without shots.
    count : int64
        Shots in the class.
    u_h, u_v : float64
        Per axis and in elevation, from the medians of sizes; a bias counts as scatter, and so does
        the plumb shot's own error. NaN without shots.
    u_h_low, u_h_high, u_v_low, u_v_high : float64
        Band of the same; infinite above where fewer than six shots set no end.
    largest_h, largest_v : float64
        Largest difference seen.
    """

    low: Floats
    high: Floats
    largest: Floats
    count: Integers
    u_h: Floats
    u_h_low: Floats
    u_h_high: Floats
    u_v: Floats
    u_v_low: Floats
    u_v_high: Floats
    largest_h: Floats
    largest_v: Floats


def tilt_classes(
    tilt: ArrayLike,
    difference_h: ArrayLike,
    difference_v: ArrayLike,
    *,
    edges: ArrayLike = EDGES,
    confidence: float = 0.95,
) -> TiltClasses:
    """Size differences between tilted and plumb shots by class of tilt.

    Parameters
    ----------
    tilt : (n,) array
        Degrees from plumb; a shot outside the classes is in none.
    difference_h : (n,) array
        Distance in plan from the plumb position; NaN is missing.
    difference_v : (n,) array
        Elevation, tilted minus plumb.
    edges : (k + 1,) array
        Rising degrees.
    confidence : float
        At least this of every band.

    Returns
    -------
    TiltClasses
        Medians, so that one stray shot does not decide.

    Raises
    ------
    GeometryInputError
        Arrays of different length.
    JobError
        Edges that do not rise.

    Notes
    -----
    The band of a median by order statistics holds for any distribution of independent differences (any
    textbook). The median distance in the plane is 1.1774 sigma per axis, the median size on a line 0.6745 sigma.

    Examples
    --------
    >>> found = tilt_classes([10, 10, 30], [0.02, 0.04, 0.10], [0.01, -0.03, 0.05], edges=[0, 20, 40])
    >>> found.count.tolist(), found.u_h.round(4).tolist(), found.largest_v.tolist()
    ([2, 1], [0.0255, 0.0849], [0.03, 0.05])
    """
    tilt, h, v = (np.asarray(each, dtype=np.float64) for each in (tilt, difference_h, difference_v))
    edges = np.asarray(edges, dtype=np.float64)
    if not tilt.shape == h.shape == v.shape:
        raise GeometryInputError(f"tilt {tilt.shape} and differences {h.shape}, {v.shape} differ in length.")
    if edges.ndim != 1 or edges.size < 2 or not np.all(np.diff(edges) > 0):
        raise JobError(
            f"Tilt classes {edges.tolist()} do not rise; give at least two edges, each above the one before."
        )
    with np.errstate(invalid="ignore"):
        groups = [(tilt >= low) & (tilt < high) for low, high in pairwise(edges.tolist())]
    plan = np.array([_robust(np.abs(h[rows]), _PLAN, confidence) for rows in groups])
    level = np.array([_robust(np.abs(v[rows]), _LEVEL, confidence) for rows in groups])
    return TiltClasses(
        low=edges[:-1],
        high=edges[1:],
        largest=np.array([_largest(tilt[rows]) for rows in groups]),
        count=np.array([int(rows.sum()) for rows in groups]),
        u_h=plan[:, 0],
        u_h_low=plan[:, 1],
        u_h_high=plan[:, 2],
        u_v=level[:, 0],
        u_v_low=level[:, 1],
        u_v_high=level[:, 2],
        largest_h=np.array([_largest(np.abs(h[rows])) for rows in groups]),
        largest_v=np.array([_largest(np.abs(v[rows])) for rows in groups]),
    )


def _robust(sizes: Floats, of_median: float, confidence: float) -> tuple[float, float, float]:
    sizes = np.sort(sizes[np.isfinite(sizes)])
    n = sizes.size
    if n == 0:
        return np.nan, np.nan, np.nan
    # outermost ranks that leave no more than half the doubt on either side
    rank = int(np.sum(bdtr(np.arange(n), n, 0.5) <= (1 - confidence) / 2))
    low, high = (sizes[rank - 1], sizes[n - rank]) if rank else (0.0, np.inf)
    return float(np.median(sizes)) / of_median, float(low) / of_median, float(high) / of_median


def _largest(values: Floats) -> float:
    values = values[np.isfinite(values)]
    return float(values.max()) if values.size else np.nan
