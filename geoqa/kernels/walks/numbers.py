"""Slopes and distances made of shots, with how much each of them changes by a change of each shot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers

_NOTHING = 1e-12
"""A change by less than this comes of rounding: the shot is no member."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Numbers:
    """Numbers made of shots.

    Attributes
    ----------
    value : (m,) float64
        NaN where it is not known.
    members : (m, k) int64
        Rows of the shots; -1 for none.
    easting, northing, elevation : (m, k) float64
        How much the number changes by a change of that coordinate of each shot.
    """

    value: Floats
    members: Integers
    easting: Floats
    northing: Floats
    elevation: Floats

    @property
    def gradient(self) -> dict[str, Floats]:
        """The three by the names of their axes."""
        return {"easting": self.easting, "northing": self.northing, "elevation": self.elevation}


def slopes(places: ArrayLike, members: ArrayLike, weights: ArrayLike, *, azimuth: float | None = None) -> Numbers:
    """Rise over run between two weighted means of shots.

    Parameters
    ----------
    places : (n, 3) array
        Easting, northing and elevation of all shots; one unit.
    members : (m, k) int array
        Rows of the shots of each number; -1 for none.
    weights : (m, k) array
        Of each shot: those of the one end sum to -1, those of the other to 1. Positive is a rise towards the second.
    azimuth : float, optional
        Degrees, clockwise from grid north: the run is told along this direction, and not from end to end.

    Returns
    -------
    Numbers
        Rise over run, without a unit.

    Raises
    ------
    GeometryInputError
        Arrays that do not fit.

    Notes
    -----
    s = dz / w with w the distance in plan, so ds = (dz - s dw) / w: JCGM 100:2008, 5.1.

    Examples
    --------
    >>> made = slopes([[0, 0, 100.0], [5, 0, 100.1]], [[0, 1]], [[-1.0, 1.0]])
    >>> made.value.round(4).tolist(), made.elevation.round(3).tolist(), made.easting.round(4).tolist()
    ([0.02], [[-0.2, 0.2]], [[0.004, -0.004]])
    """
    placed, at, share = _checked(places, members, weights)
    east, north, rise = (_sums(share, placed[at, axis]) for axis in range(3))
    run = np.hypot(east, north)
    with np.errstate(invalid="ignore", divide="ignore"):
        along = (np.where(run > 0, east / run, 0.0), np.where(run > 0, north / run, 0.0))
        if azimuth is not None:
            way = (np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth)))
            run = east * way[0] + north * way[1]
            sign = np.where(run < 0, -1.0, 1.0)
            run, along = np.abs(run), (sign * way[0], sign * way[1])
        value = np.where(run > 0, rise / run, np.nan)
        plan = [-(value / run)[:, None] * part[:, None] * share for part in along]
        up = share / run[:, None]
    return Numbers(value=value, members=np.asarray(members), easting=plan[0], northing=plan[1], elevation=up)


def distances(places: ArrayLike, members: ArrayLike, weights: ArrayLike) -> Numbers:
    """Distance in plan between two weighted means of shots; arguments as in `slopes`, elevations may be missing.

    Examples
    --------
    >>> made = distances([[0, 0, np.nan], [3, 4, np.nan]], [[0, 1]], [[-1.0, 1.0]])
    >>> made.value.tolist(), made.easting.tolist(), made.northing.tolist()
    ([5.0], [[-0.6, 0.6]], [[-0.8, 0.8]])
    """
    placed, at, share = _checked(places, members, weights)
    east, north = (_sums(share, placed[at, axis]) for axis in range(2))
    run = np.hypot(east, north)
    with np.errstate(invalid="ignore", divide="ignore"):
        along = (np.where(run > 0, east / run, 0.0), np.where(run > 0, north / run, 0.0))
    parts = [part[:, None] * share for part in along]
    return Numbers(value=run, members=np.asarray(members), easting=parts[0], northing=parts[1],
                   elevation=np.zeros(share.shape))  # fmt: skip


def _sums(share: Floats, values: Floats) -> Floats:
    """Weighted sums; what does not count may be missing."""
    return np.asarray(np.where(share != 0, share * values, 0.0).sum(axis=1))


def _checked(places: ArrayLike, members: ArrayLike, weights: ArrayLike) -> tuple[Floats, Integers, Floats]:
    placed, at = np.asarray(places, dtype=np.float64), np.asarray(members, dtype=np.int64)
    share = np.asarray(weights, dtype=np.float64)
    if placed.ndim != 2 or placed.shape[1] != 3 or at.ndim != 2 or at.shape != share.shape:
        raise GeometryInputError(f"places {placed.shape}, members {at.shape} and weights {share.shape} do not fit.")
    # large coordinates lose digits in weighted sums
    return (
        placed - np.append(np.nanmean(placed[:, :2], axis=0) if len(placed) else [0.0, 0.0], 0.0),
        np.where(at >= 0, at, 0),
        np.where(at >= 0, share, 0.0),
    )


def means(numbers: Numbers, group: ArrayLike, weights: ArrayLike) -> Numbers:
    """Weighted means of numbers, each shot standing once in each.

    Parameters
    ----------
    numbers : Numbers
    group : (m,) int array
        Which mean each belongs to, from 0 without a gap; -1 for none.
    weights : (m,) array
        Of each number; brought to a sum of 1 in each group.

    Returns
    -------
    Numbers
        One for each group. A shot that two numbers share is one member of their mean, so that what it adds to both
        is not taken for independent.

    Examples
    --------
    Two slopes that share a shot: its errors cancel in their mean.

    >>> two = slopes([[0, 0, 0.0], [5, 0, 0.1], [10, 0, 0.3]], [[0, 1], [1, 2]], [[-1.0, 1.0]] * 2)
    >>> made = means(two, [0, 0], [1.0, 1.0])
    >>> made.value.round(3).tolist(), made.members.tolist(), made.elevation.round(3).tolist()
    ([0.03], [[0, 1, 2]], [[-0.1, 0.0, 0.1]])
    """
    group, weights = np.asarray(group, dtype=np.int64), np.asarray(weights, dtype=np.float64)
    count = int(group.max(initial=-1)) + 1
    total = np.bincount(group[group >= 0], weights[group >= 0], minlength=count)
    parts = np.stack([numbers.easting, numbers.northing, numbers.elevation], axis=2)
    summed: list[dict[int, Floats]] = [{} for _ in range(count)]
    value = np.zeros(count)
    for row in np.flatnonzero(group >= 0).tolist():
        mine, share = summed[group[row]], weights[row] / total[group[row]]
        value[group[row]] += share * numbers.value[row]
        for place, member in enumerate(numbers.members[row].tolist()):
            if member >= 0:
                mine[member] = mine.get(member, np.zeros(3)) + share * parts[row, place]
    summed = [
        {member: each for member, each in mine.items() if np.abs(each).max() > _NOTHING} or mine for mine in summed
    ]
    width = max((len(each) for each in summed), default=0)
    members, gradient = np.full((count, width), -1), np.zeros((count, width, 3))
    for number, each in enumerate(summed):
        for place, member in enumerate(sorted(each)):
            members[number, place], gradient[number, place] = member, each[member]
    gradient[np.abs(gradient) < _NOTHING] = 0.0
    easting, northing, elevation = (gradient[:, :, axis] for axis in range(3))
    return Numbers(value=value, members=members, easting=easting, northing=northing, elevation=elevation)
