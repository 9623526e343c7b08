"""Which shots count as check points, and how these are spread over a data set."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, nan

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Booleans, Floats

SHARE, SPACING = 0.20, 0.10
"""Of the points in every quadrant at least; of the data set's diagonal between two points at least."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Checkpoints:
    """Which rows count as check points.

    Attributes
    ----------
    counted : (n,) bool
        One row for every distinct point that counts.
    left_out : dict
        Reason to number of rows left out for it; a row is left out for its first reason only.
    """

    counted: Booleans
    left_out: dict[str, int]


@dataclass(frozen=True, kw_only=True, eq=False)
class PointSpread:
    """How check points are spread over a data set.

    Attributes
    ----------
    share : (4,) float64
        Share of the points in the north-east, north-west, south-west and south-east quadrant.
    diagonal : float
        Of the data set.
    closest : float
        Smallest distance between two points; NaN for fewer than two.
    quadrants_met, spacing_met : bool
        At least 20 % in each quadrant; no two points closer than 10 % of the diagonal.
    """

    share: Floats
    diagonal: float
    closest: float
    quadrants_met: bool
    spacing_met: bool


def checkpoints(
    point: ArrayLike,
    *,
    better: ArrayLike,
    independent: ArrayLike = True,
    held: ArrayLike = False,
    site_fit: ArrayLike = False,
    repeat: ArrayLike = False,
) -> Checkpoints:
    """Choose the rows that count as check points.

    Parameters
    ----------
    point : (n,) array
        Name or number of the mark each row was measured on.
    better : bool or (n,) array
        Its known position comes from a source of higher accuracy.
    independent : bool or (n,) array
        That source has nothing to do with the survey under test.
    held : bool or (n,) array
        The survey was fixed to this mark.
    site_fit : bool or (n,) array
        The mark took part in fitting the survey to the site.
    repeat : bool or (n,) array
        A further shot of a point that is there already.

    Returns
    -------
    Checkpoints
        Of several rows on one mark that would count, the first does.

    Examples
    --------
    >>> found = checkpoints(["A", "A", "B", "C"], better=True, held=[False, False, True, False])
    >>> found.counted.tolist(), found.left_out
    ([True, False, False, True], {'held': 1, 'same point again': 1})
    """
    point = np.asarray(point)
    left = np.ones(point.shape, dtype=bool)
    reasons = {}
    marks = (
        ("not better known", ~_flags(better, point)),
        ("not independent", ~_flags(independent, point)),
        ("held", _flags(held, point)),
        ("part of the site fit", _flags(site_fit, point)),
        ("repeated shot", _flags(repeat, point)),
    )
    for reason, out in marks:
        reasons[reason] = int(np.sum(left & out))
        left &= ~out
    first = np.zeros(point.shape, dtype=bool)
    rows = np.flatnonzero(left)
    if rows.size:
        first[rows[np.unique(point[rows], return_index=True)[1]]] = True
    reasons["same point again"] = int(np.sum(left & ~first))
    return Checkpoints(counted=first, left_out={reason: count for reason, count in reasons.items() if count})


def point_spread(
    easting: ArrayLike, northing: ArrayLike, *, extent: tuple[float, float, float, float] | None = None
) -> PointSpread:
    """Describe how points are spread over a data set.

    Parameters
    ----------
    easting, northing : (n,) array
        Check points; a NaN leaves the row out.
    extent : (west, south, east, north), optional
        Of the data set; without, that of the points themselves.

    Returns
    -------
    PointSpread
        A point on a dividing line belongs to the quadrant north or east of it.

    Notes
    -----
    FGDC-STD-007.3-1998, 3-C.3: for a rectangular area of uniform accuracy.

    Examples
    --------
    >>> found = point_spread([1, 9, 9, 1, 5], [1, 1, 9, 9, 5], extent=(0, 0, 10, 10))
    >>> found.share.tolist(), round(found.closest, 2), found.spacing_met
    ([0.4, 0.2, 0.2, 0.2], 5.66, True)
    """
    e, n = np.asarray(easting, dtype=np.float64), np.asarray(northing, dtype=np.float64)
    used = np.isfinite(e) & np.isfinite(n)
    e, n = e[used], n[used]
    if e.size == 0:
        share = np.full(4, nan)
        return PointSpread(share=share, diagonal=nan, closest=nan, quadrants_met=False, spacing_met=False)
    west, south, east, north = extent or (e.min(), n.min(), e.max(), n.max())
    right, upper = e >= (west + east) / 2, n >= (south + north) / 2
    share = np.array(
        [np.mean(right & upper), np.mean(~right & upper), np.mean(~right & ~upper), np.mean(right & ~upper)]
    )
    diagonal = hypot(east - west, north - south)
    closest = _closest(e, n)
    return PointSpread(
        share=share,
        diagonal=diagonal,
        closest=closest,
        quadrants_met=bool(np.all(share >= SHARE - 1e-12)),
        spacing_met=bool(closest >= SPACING * diagonal),
    )


def _closest(easting: Floats, northing: Floats) -> float:
    if easting.size < 2:
        return nan
    from scipy.spatial import cKDTree

    places = np.column_stack([easting - easting.mean(), northing - northing.mean()])
    return float(cKDTree(places).query(places, k=2)[0][:, 1].min())


def _flags(given: ArrayLike, like: np.ndarray) -> Booleans:
    return np.broadcast_to(np.asarray(given, dtype=bool), like.shape)
