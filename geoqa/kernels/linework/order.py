"""Whether the shots of one line stand in a sensible order: gaps, turns back, crossings."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers

BACK = 120.0
"""Degrees: a line that turns by more at two shots in a row goes back and forth. Common practice, no source."""


def long_legs(leg: ArrayLike, *, greatest: float | None = None, least: float = 0.0, times: float = 3.0) -> Booleans:
    """Legs of a line that are too long to be drawn.

    Parameters
    ----------
    leg : (k,) array
        Plan distance from each shot to the next.
    greatest : float, optional
        Longest leg that is drawn; worked out from the others where it is not given.
    least : float
        Shorter legs are never too long, where it is not given.
    times : float
        Where it is not given: how many times the usual leg.

    Returns
    -------
    (k,) bool array

    Notes
    -----
    The usual leg is the one in which half of the length of all other legs lies, and at least half of the longest of
    them (of eight or more, of the third longest, for those may be gaps too): close shots on a curve do not make the
    tangents of a line gaps. Fewer than four other legs know no usual one.

    Examples
    --------
    >>> long_legs([25, 25, 26, 24, 160, 25], least=5.0).tolist()
    [False, False, False, False, True, False]
    >>> long_legs([2, 2, 2, 2, 2, 2, 50, 50], least=5.0).any()
    np.False_
    """
    leg = np.asarray(leg, dtype=np.float64)
    if greatest is not None:
        return np.asarray(leg > greatest)
    long = np.zeros(len(leg), dtype=bool)
    if len(leg) < 5:
        return long
    order = np.argsort(leg, kind="stable")
    for row in np.flatnonzero(leg > least).tolist():
        others = order[order != row]
        reached = np.cumsum(leg[others])
        usual = leg[others[int(np.searchsorted(reached, reached[-1] / 2))]]
        longest = leg[others[-1 - min(2, len(others) // 4 if len(others) >= 8 else 0)]]
        long[row] = leg[row] > times * max(usual, longest / 2)
    return long


def turns(places: ArrayLike) -> Floats:
    """How much a line turns at each shot, degrees from 0 to 180; NaN at its ends and beside a leg without length.

    Examples
    --------
    >>> turns([[0, 0], [10, 0], [10, 10], [10, 0]]).round(3).tolist()
    [nan, 90.0, 180.0, nan]
    """
    places = _plan(places)
    made = np.full(len(places), np.nan)
    if len(places) < 3:
        return made
    leg = np.diff(places, axis=0)
    one, other = leg[:-1], leg[1:]
    there = (np.hypot(*one.T) > 0) & (np.hypot(*other.T) > 0)
    across, along = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0], (one * other).sum(axis=1)
    made[1:-1] = np.where(there, np.abs(np.degrees(np.arctan2(across, along))), np.nan)
    return made


def zig_zags(places: ArrayLike, *, back: float = BACK) -> Integers:
    """Shots at which a line goes back and forth: two shots in a row that stand in the wrong order.

    Parameters
    ----------
    places : (k, 2) array
        In the order of the line.
    back : float
        Degrees that the line turns by at either shot, at the least.

    Returns
    -------
    (m,) int array
        The first of each pair; exchanged with the one behind it, the line no longer turns back there, and is shorter.

    Examples
    --------
    >>> zig_zags([[0, 0], [25, 0], [75, 0], [50, 0], [100, 0]]).tolist()
    [2]
    """
    places = _plan(places)
    turn = np.nan_to_num(turns(places))
    both = np.flatnonzero((turn[:-1] > back) & (turn[1:] > back)) if len(turn) else np.zeros(0, dtype=np.int64)
    made, behind = [], -1
    for row in both.tolist():
        order = np.arange(len(places))
        order[[row, row + 1]] = row + 1, row
        window = order[max(row - 1, 0) : row + 3]
        before, after = _length(places[np.sort(window)]), _length(places[window])
        if row > behind and after < before and np.nan_to_num(turns(places[window])).max() <= back:
            made.append(row)
            behind = row + 1
    return np.array(made, dtype=np.int64)


SWINGS = 12.0
"""Degrees by which a line turns at each shot that swings from side to side: edges 5 ft apart, shot every 45 ft."""


def swings(places: ArrayLike) -> bool:
    """Whether a line swings from side to side at nearly all of its shots, as one that joins two edges shot in turn.

    Parameters
    ----------
    places : (k, 2) array
        In the order of the line; fewer than 6 tell nothing.

    Notes
    -----
    Four of five inner shots turn it by more than `SWINGS`, and no three in a row to the same side: a curve or an
    outline turns to one side for longer, or more often.

    Examples
    --------
    >>> across, along = [0, 0, 5, 5, 0, 0, 5, 5], [0, 20, 20, 40, 40, 60, 60, 80]
    >>> swings([[0, 0], [5, 10], [0, 20], [5, 30], [0, 40], [5, 50]]), swings(list(zip(across, along)))
    (True, True)
    >>> swings([[0, 0], [0, 20], [0, 40], [20, 40], [20, 20], [20, 0]])
    False
    """
    places = _plan(places)
    if len(places) < _SWINGS_FEWEST:
        return False
    leg = np.diff(places, axis=0)
    cross = leg[:-1, 0] * leg[1:, 1] - leg[:-1, 1] * leg[1:, 0]
    turn = np.degrees(np.arctan2(cross, (leg[:-1] * leg[1:]).sum(axis=1)))
    side = np.sign(turn[np.abs(turn) > SWINGS])
    long = bool((np.abs(side[:-2] + side[1:-1] + side[2:]) == 3).any())
    round_it = bool(abs(side.sum()) > len(side) / 3)
    return len(side) >= _SWINGS_SHARE * len(turn) and not long and not round_it


_SWINGS_FEWEST, _SWINGS_SHARE = 6, 0.8


def crossings(places: ArrayLike, *, closed: bool = False) -> Integers:
    """Pairs of legs of one line that cross each other.

    Parameters
    ----------
    places : (k, 2) array
        In the order of the line.
    closed : bool
        The last shot is joined to the first; that leg counts too.

    Returns
    -------
    (m, 2) int array
        Numbers of the legs, the smaller one first: leg n goes from shot n to the next. Legs that share a shot, or only
        touch, do not cross.

    Examples
    --------
    >>> crossings([[0, 0], [10, 10], [10, 0], [0, 10]]).tolist()
    [[0, 2]]
    """
    places = _plan(places)
    if closed and len(places):
        places = np.vstack([places, places[:1]])
    count = len(places) - 1
    if count < 3:
        return np.zeros((0, 2), dtype=np.int64)
    near = places - places.mean(axis=0)
    if not closed and _onward(near):
        return np.zeros((0, 2), dtype=np.int64)
    import shapely

    legs = shapely.linestrings(np.stack([near[:-1], near[1:]], axis=1))
    one, other = shapely.STRtree(legs).query(legs, predicate="intersects")
    apart = other - one
    kept = (apart > 1) & ~(closed & (apart == count - 1))
    one, other = one[kept], other[kept]
    proper = shapely.crosses(legs[one], legs[other])
    ends = [near[one], near[one + 1], near[other], near[other + 1]]
    touch = np.zeros(len(one), dtype=bool)
    for place, leg in ((0, other), (1, other), (2, one), (3, one)):
        touch |= shapely.distance(shapely.points(ends[place]), legs[leg]) == 0
    pairs = np.column_stack([one, other])[proper & ~touch]
    return np.asarray(pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))], dtype=np.int64)


def _onward(places: Floats) -> bool:
    """Whether every leg goes on along the straight line from the first shot to the last: then no two can cross."""
    away = places[-1] - places[0]
    return bool((np.diff(places @ away) > 1e-9 * (away @ away)).all())


def _length(places: Floats) -> float:
    return float(np.hypot(*np.diff(places, axis=0).T).sum())


def _plan(places: ArrayLike) -> Floats:
    places = np.asarray(places, dtype=np.float64)
    if places.ndim != 2 or places.shape[1] != 2 or not np.isfinite(places).all():
        raise GeometryInputError(f"Places of shape {places.shape}; give (k, 2) eastings and northings, none missing.")
    return places
