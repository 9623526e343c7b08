"""How the design rises from one place to another near it, by what it knows of elevations round about."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats

_STEEPLY = 0.1  # two elevations of one place that differ by more are a face, not a grade; in the unit of the points
_FACE = 10.0  # so many times farther from a face, it is not felt
_NEAR_SHARE, _FAR_SHARE = 0.1, 0.5


@dataclass(frozen=True, kw_only=True, eq=False)
class Rise:
    """Rise of the design from one place to another; arrays of shape (n,), NaN where it is not known.

    Attributes
    ----------
    rise : float64
        Elevation at the second place minus that at the first.
    u : float64
        1 sigma of it.
    level : float64
        Elevation of the design at the first place, as found between its neighbours.
    """

    rise: Floats
    u: Floats
    level: Floats


def rise_between(first: ArrayLike, second: ArrayLike, known: ArrayLike, *, reach: float) -> Rise:
    """Rise of the design between pairs of neighbouring places.

    Parameters
    ----------
    first, second : (n, 2) array
        Easting and northing.
    known : (m, 3) array
        Easting, northing and elevation of places whose design elevation is known.
    reach : float
        Places farther than this from the first say nothing of the grade there.

    Returns
    -------
    Rise
        NaN where the known places do not surround both places, or where the design steps by a face close by.

    Raises
    ------
    GeometryInputError
        The arrays do not fit each other, or `reach` is not positive.

    Notes
    -----
    Elevations are interpolated in the triangles of Delaunay between the known places. The uncertainty is the larger of
    two: how far the rise over the same distance before and after differs from it, and a share of the rise that grows
    from a tenth, with a known place close by, to a half at `reach` (common practice, no source).

    Examples
    --------
    >>> slope = [[0, 0, 100.0], [30, 0, 110.0], [0, 30, 100.0], [30, 30, 110.0]]
    >>> found = rise_between([[15, 15], [60, 60]], [[15.3, 15], [60.3, 60]], slope, reach=50.0)
    >>> found.rise.round(3).tolist(), found.level.round(3).tolist(), found.u.round(3).tolist()
    ([0.1, nan], [105.0, nan], [0.027, nan])
    """
    one, other = (np.asarray(each, dtype=np.float64).reshape(-1, 2) for each in (first, second))
    places = np.asarray(known, dtype=np.float64).reshape(-1, 3)
    if one.shape != other.shape:
        raise GeometryInputError(f"There are {len(one)} first places and {len(other)} second ones; give pairs.")
    if not reach > 0:
        raise GeometryInputError(f"The reach of a grade is {reach}; give a positive length.")
    places = places[np.isfinite(places).all(axis=1)]
    made = np.full((3, len(one)), np.nan)
    there = np.flatnonzero(np.isfinite(one).all(axis=1) & np.isfinite(other).all(axis=1))
    if len(there) and len(places) >= 3:
        made[:, there] = _risen(one[there], other[there], places, reach)
    return Rise(rise=made[0], u=made[1], level=made[2])


_ON_EDGE = 1e-9
"""Share of a triangle by which a place may lie outside of it and is yet on its edge."""


def _risen(one: Floats, other: Floats, places: Floats, reach: float) -> Floats:
    from scipy.spatial import cKDTree

    origin = places[0, :2]
    tree = cKDTree(places[:, :2] - origin)
    pairs = tree.query_pairs(_STEEPLY, output_type="ndarray")
    faces = pairs[np.abs(np.diff(places[pairs, 2], axis=1)[:, 0]) > _STEEPLY].ravel() if len(pairs) else []
    steep = np.zeros(len(places), dtype=bool)
    steep[faces] = True
    made = np.full((3, len(one)), np.nan)
    for row, mine in enumerate(tree.query_ball_point(one - origin, reach)):
        local = places[sorted(mine)]
        step = other[row] - one[row]
        size = float(np.hypot(*step))
        away = np.hypot(*(local[:, :2] - one[row]).T)
        if len(local) < 3 or (steep[sorted(mine)] & (away < _FACE * max(size, _STEEPLY))).any():
            continue
        before, start, end, after = _levels(local - [*one[row], 0.0], step)
        rise = end - start
        uneven = np.nanmax(np.abs([0.0, start - before - rise, after - end - rise]))
        nearest = float(away[away > size].min(initial=reach))
        share = _NEAR_SHARE + (_FAR_SHARE - _NEAR_SHARE) * nearest / reach
        made[:, row] = rise, max(uneven, share * abs(rise)), start
    return made


def _levels(local: Floats, step: Floats) -> Floats:
    """Elevations one step before the origin, at it, at one step, and at two; NaN outside of what is known.

    Linear in the triangles of Delaunay. They are asked here and not by the interpolator of the same library, which
    inverts a matrix for each: the threads that are woken for that cost a hundred times what they do.
    """
    from scipy.spatial import Delaunay, QhullError

    try:
        corners = local[Delaunay(local[:, :2]).simplices]  # (t, 3, 3)
    except QhullError:  # all on one straight line: nothing is known aside of it
        return np.full(4, np.nan)
    asked = np.outer([-1.0, 0.0, 1.0, 2.0], step)
    shares = np.stack([_area(corners[:, one], corners[:, other], asked) for one, other in ((1, 2), (2, 0), (0, 1))])
    with np.errstate(divide="ignore", invalid="ignore"):
        shares /= shares.sum(axis=0)
    least = np.where(np.isfinite(shares).all(axis=0), shares.min(axis=0), -np.inf)  # (4, t)
    best = least.argmax(axis=1)
    rows = np.arange(len(asked))
    level = (shares[:, rows, best] * corners[best, :, 2].T).sum(axis=0)
    return np.where(least[rows, best] >= -_ON_EDGE, level, np.nan)


def _area(one: Floats, other: Floats, asked: Floats) -> Floats:
    """Twice the area, with its sign, of the triangle from each place asked for, (k, 2), to two corners, (t, 3)."""
    east, north = (one[None, :, axis] - asked[:, None, axis] for axis in (0, 1))
    on, up = (other[None, :, axis] - asked[:, None, axis] for axis in (0, 1))
    return np.asarray(east * up - north * on)
