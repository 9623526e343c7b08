"""Lines that cross or run beside each other: where, how far apart in plan, and how far in elevation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats, Integers

_PARALLEL = 1e-9


@dataclass(frozen=True, kw_only=True, eq=False)
class Crossings:
    """Places at which two drawn lines cross in plan.

    Attributes
    ----------
    one, other : (m,) int64
        Leg of the first and of the second line, by the number of its first point.
    share_one, share_other : (m,) float64
        Place on each leg, 0 to 1.
    easting, northing : (m,) float64
    angle : (m,) float64
        Between the two, degrees, 0 to 90.
    """

    one: Integers
    other: Integers
    share_one: Floats
    share_other: Floats
    easting: Floats
    northing: Floats
    angle: Floats


def crossings(one: ArrayLike, other: ArrayLike) -> Crossings:
    """Where two lines of straight legs cross.

    Parameters
    ----------
    one, other : (n, 2) and (k, 2) arrays
        Easting and northing of their points, in order.

    Returns
    -------
    Crossings
        A crossing at a point that two legs share is told once, for the leg that begins there.

    Examples
    --------
    >>> found = crossings([[0, 0], [10, 0]], [[4, -5], [4, 15]])
    >>> found.easting.tolist(), found.share_one.tolist(), found.share_other.tolist(), found.angle.tolist()
    ([4.0], [0.4], [0.25], [90.0])
    """
    a, b = (np.asarray(each, dtype=np.float64).reshape(-1, 2) for each in (one, other))
    da, db = np.diff(a, axis=0), np.diff(b, axis=0)
    first, second = (each.ravel() for each in np.mgrid[0 : len(da), 0 : len(db)])
    p, q = da[first], db[second]
    start = b[second] - a[first]
    turn = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    size = np.hypot(*p.T) * np.hypot(*q.T)
    with np.errstate(divide="ignore", invalid="ignore"):
        s = (start[:, 0] * q[:, 1] - start[:, 1] * q[:, 0]) / turn
        t = (start[:, 0] * p[:, 1] - start[:, 1] * p[:, 0]) / turn
        # a leg holds its first point, and its last one only where no other leg begins there
        s_most, t_most = (
            np.where(leg == count - 1, 1.0, np.nextafter(1.0, 0.0))
            for leg, count in ((first, len(da)), (second, len(db)))
        )
        meets = (np.abs(turn) > _PARALLEL * size) & (s >= 0) & (s <= s_most) & (t >= 0) & (t <= t_most)
        angle = np.degrees(np.arcsin(np.clip(np.abs(turn) / size, 0, 1)))
    at = np.flatnonzero(meets)
    place = a[first[at]] + s[at, None] * p[at]
    return Crossings(
        one=first[at], other=second[at], share_one=s[at], share_other=t[at], easting=place[:, 0],
        northing=place[:, 1], angle=angle[at],
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False)
class Beside:
    """Points of one line against the nearest leg of another.

    Attributes
    ----------
    leg : (n,) int64
        Leg of the other line by the number of its first point; -1 where the point lies beside none.
    share : (n,) float64
        Place on it, 0 to 1.
    distance : (n,) float64
        In plan; NaN where it lies beside none.
    across : (n, 2) float64
        Unit vector from the leg to the point: easting, northing.
    """

    leg: Integers
    share: Floats
    distance: Floats
    across: Floats


def beside(points: ArrayLike, line: ArrayLike) -> Beside:
    """Distance in plan of points from a line of straight legs, square to the leg that each lies beside.

    Parameters
    ----------
    points : (n, 2) array
    line : (k, 2) array
        Its points, in order.

    Returns
    -------
    Beside
        A point before the first or past the last leg lies beside none; one outside of a bend is nearest to its corner.

    Examples
    --------
    >>> found = beside([[3.0, 10.0], [-5.0, 10.0]], [[0.0, 0.0], [20.0, 0.0]])
    >>> found.distance.tolist(), found.share.tolist(), found.leg.tolist()
    ([10.0, nan], [0.15, nan], [0, -1])
    """
    points, line = (np.asarray(each, dtype=np.float64).reshape(-1, 2) for each in (points, line))
    legs = np.diff(line, axis=0)
    count = len(points)
    if not len(legs):
        nothing = np.full(count, np.nan)
        return Beside(leg=np.full(count, -1), share=nothing, distance=nothing, across=np.full((count, 2), np.nan))
    out = points[:, None, :] - line[None, :-1, :]
    squared = (legs**2).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        free = (out * legs).sum(axis=2) / np.where(squared > 0, squared, np.nan)
        share = np.clip(free, 0, 1)
        away = out - share[:, :, None] * legs
        distance = np.hypot(away[..., 0], away[..., 1])
    best = np.argmin(np.where(np.isfinite(distance), distance, np.inf), axis=1)
    row = np.arange(count)
    past = ((best == 0) & (free[row, best] < 0)) | ((best == len(legs) - 1) & (free[row, best] > 1))
    far = np.where(past, np.nan, distance[row, best])
    with np.errstate(divide="ignore", invalid="ignore"):
        across = np.where(past[:, None], np.nan, away[row, best] / distance[row, best][:, None])
    return Beside(
        leg=np.where(past, -1, best), share=np.where(past, np.nan, share[row, best]), distance=far, across=across
    )
