"""Where water stands on a line of shots, how deep, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.drainage.errors_along import ErrorsAlong, level_pairs

RISK = 0.05
"""Chance that a stretch without standing water is given any, and that a bound on one side is missed."""
_SEEN = 0.001  # of it spent on telling which pairs of shots may be level
_BACK = 1e-6
_ONE_SIDED = float(ndtri(1 - RISK))


class Rims(NamedTuple):
    """Inlets that stand above the line: water leaves by them only above their rims.

    Arrays of station (r,), elevation (r,), and 1 sigma of rim minus shot for every shot of the line, `spread` (r, n).
    """

    station: Floats
    elevation: Floats
    spread: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class StandingWater:
    """Places where water stands, the deepest first; where there is none, the place with the least fall left.

    Attributes
    ----------
    low, barrier : (p,) int64
        Places of the lowest shot, and of the shot that the water has to pass first.
    rim : (p,) int64
        The raised inlet that takes the water before it passes any shot; -1 for none.
    other : (p,) int64
        The higher barrier, on the other side.
    depth : (p,) float64
        Barrier, or rim, minus low point: depth of the water that stays; negative where it runs on, by that much.
    level : (p,) float64
        Elevation of the barrier, or of the rim.
    start, end : (p,) float64
        Stations between which water stands, along the straight lines between shots; NaN where none does.
    widening : (p,) float64
        By how much the uncertainty of `depth` is to be multiplied for the place having been chosen, 1 or more.
    """

    low: Integers
    barrier: Integers
    rim: Integers
    other: Integers
    depth: Floats
    level: Floats
    start: Floats
    end: Floats
    widening: Floats

    def __len__(self) -> int:
        return len(self.low)


def standing_water(
    station: ArrayLike,
    elevation: ArrayLike,
    errors: ErrorsAlong,
    *,
    outlets: ArrayLike = (),
    near: float = 0.0,
    rims: Rims | None = None,
) -> StandingWater:
    """Find where water stands on one unbroken line of shots.

    Parameters
    ----------
    station : (n,) array
        Along the line, growing.
    elevation : (n,) array
        Of the shots; all known.
    errors : ErrorsAlong
        Of these elevations.
    outlets : (m,) array
        Stations where water leaves the line: inlets, low points of the design.
    near : float
        A shot no farther than this from an outlet stands at it: what flows there has to pass its elevation.
    rims : Rims, optional
        Inlets that stand above the line: none of them parts it, and no water beside one rises above its rim.

    Returns
    -------
    StandingWater
        Nothing where no shot has another one on either side of it before the next outlet.

    Raises
    ------
    GeometryInputError
        Arrays that do not fit each other, or stations that do not grow.

    Notes
    -----
    Water at a shot rises to the lower of the two highest shots between it and the next outlet on either side. Beyond
    the first and the last shot nothing is known to hold it, so that what is found is the least that stands there. The
    true depth is at least that of any three shots, low point between two barriers, and the largest of the measured ones
    is found: it is too large by luck. Against that three things are held. Only pairs of shots that may be level can
    make a false pond: those whose difference is within its own error, all pairs together at `_SEEN` (two-step selection
    after Romano, Shaikh and Wolf, 2014). By Bonferroni's inequality the chance of any false one as deep as this is at
    most their number times the tail of a normal difference, whatever the correlation of the errors. That chance is
    taken out of the risk that the bound of the depth may miss; where nothing is left of it the bound reaches back to no
    water at all.

    Examples
    --------
    >>> own = ErrorsAlong.of_shots([0.01] * 4, [0.0] * 4, [-1] * 4)
    >>> water = standing_water([0, 25, 50, 75], [10.0, 9.7, 9.8, 9.6], own)
    >>> water.low.tolist(), water.depth.round(3).tolist(), water.start.round(2).tolist(), water.end.tolist()
    ([1], [0.1], [16.67], [50.0])
    """
    at, z = (np.asarray(each, dtype=np.float64) for each in (station, elevation))
    if at.ndim != 1 or z.shape != at.shape or len(errors) != len(at):
        raise GeometryInputError(f"station {at.shape}, elevation {z.shape} and errors of {len(errors)} do not fit.")
    if (np.diff(at) <= 0).any():
        raise GeometryInputError("Stations of a line of shots must grow; give one elevation a place, in order.")
    rims = Rims(np.zeros(0), np.zeros(0), np.zeros((0, len(at)))) if rims is None else rims
    parts = [_between_outlets(at, z, first, last, rims) for first, last in _stretches(at, outlets, near)]
    parts = [part for part in parts if len(part.low)]
    if not parts:
        none, nowhere = np.zeros(0, dtype=np.int64), np.zeros(0)
        return StandingWater(
            low=none, barrier=none, rim=none, other=none, depth=nowhere, level=nowhere, start=nowhere, end=nowhere,
            widening=nowhere,
        )  # fmt: skip
    low, barrier, rim, other, level, start, end = (np.concatenate(each) for each in zip(*parts, strict=True))
    depth = level - z[low]
    kept = np.flatnonzero((depth > 0) | (depth == depth.max()))
    kept = kept[np.lexsort((at[low[kept]], -depth[kept]))]
    if not (depth > 0).any():
        kept = kept[:1]
    low, barrier, rim, other, level = (each[kept] for each in (low, barrier, rim, other, level))
    start, end, depth = (each[kept] for each in (start, end, depth))
    chances = _may_be_level(at, z, errors, outlets, near)
    variance = errors.variance()
    u = np.sqrt(np.maximum(variance[low] + variance[barrier] - 2 * errors.between(low, barrier), 0.0))
    u[rim >= 0] = rims.spread[rim[rim >= 0], low[rim >= 0]]
    return StandingWater(
        low=low, barrier=barrier, rim=rim, other=other, depth=depth, level=level, start=start, end=end,
        widening=_widening(depth, u, chances),
    )  # fmt: skip


class _Part(NamedTuple):
    low: Integers
    barrier: Integers
    rim: Integers
    other: Integers
    level: Floats
    start: Floats
    end: Floats


def _stretches(at: Floats, outlets: ArrayLike, near: float) -> list[tuple[int, int]]:
    """First and last shot of every stretch between outlets; a shot at an outlet belongs to both of its sides."""
    first, made = 0, []
    for outlet in np.unique(np.asarray(outlets, dtype=np.float64)):
        beside = int(np.argmin(np.abs(at - outlet)))
        if abs(at[beside] - outlet) <= near:
            made.append((first, beside))
            first = beside
        else:
            before = int(np.searchsorted(at, outlet))
            made.append((first, before - 1))
            first = before
    made.append((first, len(at) - 1))
    return [(one, other) for one, other in made if other - one >= 2]


def _between_outlets(at: Floats, z: Floats, first: int, last: int, rims: Rims) -> _Part:
    """Every pond of a stretch, or the shot of it that is nearest to being one."""
    part = z[first : last + 1]
    left, right = np.maximum.accumulate(part)[:-2], np.maximum.accumulate(part[::-1])[::-1][2:]
    level, rim = np.minimum(left, right), np.full(len(part) - 2, -1)
    for nth in np.flatnonzero((rims.station >= at[first]) & (rims.station <= at[last])).tolist():
        # behind a shot as high as the rim water is held by that shot, which is one of the barriers already
        free = _in_reach(at[first : last + 1], part, float(rims.station[nth]), float(rims.elevation[nth]))[1:-1]
        takes = free & (rims.elevation[nth] < level)
        level, rim = np.where(takes, rims.elevation[nth], level), np.where(takes, nth, rim)
    depth = level - part[1:-1]
    wet = depth > 0
    if wet.any():
        begins = np.flatnonzero(wet & ~np.append(False, wet[:-1]))
        ends = np.flatnonzero(wet & ~np.append(wet[1:], False))
        low = np.array([one + int(np.argmax(depth[one : other + 1])) for one, other in zip(begins, ends, strict=True)])
    else:
        low = np.array([int(np.argmax(depth))])
    sides = np.array([(_highest(part, k + 1, -1), _highest(part, k + 1, 1)) for k in low.tolist()])
    leaves_right = part[sides[:, 1]] < part[sides[:, 0]]
    barrier = np.where(leaves_right, sides[:, 1], sides[:, 0])
    other = np.where(leaves_right, sides[:, 0], sides[:, 1])
    start, end = np.full((2, len(low)), np.nan)
    if wet.any():
        start = _edge(at[first:], part, begins + 1, begins, level[low])
        end = _edge(at[first:], part, ends + 1, ends + 2, level[low])
    return _Part(low + 1 + first, barrier + first, rim[low], other + first, level[low], start, end)


def _in_reach(at: Floats, z: Floats, station: float, rim: float) -> np.ndarray:
    """Which shots have no shot as high as the rim between themselves and an inlet, (n,) bool."""
    free, after = np.zeros(len(at), dtype=bool), int(np.searchsorted(at, station))
    for places in (range(after, len(at)), range(after - 1, -1, -1)):
        for place in places:
            free[place] = True
            if z[place] >= rim:
                break
    return free


def _highest(part: Floats, place: int, way: int) -> int:
    """The nearest of the highest shots on one side of a place."""
    side = np.arange(place + 1, len(part)) if way > 0 else np.arange(place - 1, -1, -1)
    return int(side[np.argmax(part[side])])


def _edge(at: Floats, z: Floats, wet: Integers, dry: Integers, level: Floats) -> Floats:
    """Where the water ends between its last wet shot and the dry one beside it."""
    rise = z[dry] - z[wet]
    share = np.divide(level - z[wet], rise, out=np.ones(len(wet)), where=rise > 0)
    return np.asarray(at[wet] + (at[dry] - at[wet]) * np.clip(share, 0.0, 1.0))


def _may_be_level(at: Floats, z: Floats, errors: ErrorsAlong, outlets: ArrayLike, near: float) -> int:
    """How many low points with a barrier chance could make: ordered pairs of shots that may be level."""
    blocks = _stretches(at, outlets, near)
    pairs = sum((last - first + 1) * (last - first - 1) for first, last in blocks)
    width = float(ndtri(1 - _SEEN / (2 * max(pairs, 1))))
    return sum(
        level_pairs(errors.part(first, last + 1), z[first : last + 1], width) - (last - first - 1)
        for first, last in blocks
    )


def _widening(depth: Floats, u: Floats, chances: int) -> Floats:
    """Half-width of the bound over that of one difference that nobody chose."""
    known = (u > 0) & (depth > 0)
    size = np.divide(depth, u, out=np.full(len(depth), np.inf), where=u > 0)
    left = RISK - _SEEN - chances * ndtr(-size)
    reach = np.where(left > 0, ndtri(1 - np.maximum(left, 1e-300)), np.inf)
    # a bound that reaches back to no water lies below it: a limit of 0 is not exceeded by luck
    return np.where(known, np.maximum(np.minimum(reach, size * (1 + _BACK)) / _ONE_SIDED, 1.0), 1.0)
