"""How much a line of shots falls, reach by reach, and where the design turns its fall round."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers

LEVEL = 1e-5
"""A design that falls by less has no direction of flow: 0.001 %."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Turns:
    """Where the grade of a line changes.

    Attributes
    ----------
    low, high, breaks : (k,) float64
        Stations of low points, of high points, and of all places where one grade ends: both of them, and those where
        the grade changes by more than was asked for.
    """

    low: Floats
    high: Floats
    breaks: Floats


def turns_of(station: ArrayLike, elevation: ArrayLike, *, change: float) -> Turns:
    """Find the low points, high points and breaks of grade of a line with elevations.

    Parameters
    ----------
    station : (n,) array
        Of its vertices, growing.
    elevation : (n,) array
        NaN is not known: the grade on either side of it is not known either.
    change : float
        Rise over run; a larger change of grade at one vertex is a break.

    Returns
    -------
    Turns
        A level bottom or top counts as one, at its middle. A parabola drawn in chords has no break but its turn.

    Examples
    --------
    >>> turns = turns_of([0, 100, 200, 250], [10.0, 9.5, 10.0, 9.0], change=0.02)
    >>> turns.low.tolist(), turns.high.tolist(), turns.breaks.tolist()
    ([100.0], [200.0], [100.0, 200.0])
    """
    at, z = np.asarray(station, dtype=np.float64), np.asarray(elevation, dtype=np.float64)
    if at.shape != z.shape or at.ndim != 1 or (np.diff(at) <= 0).any():
        raise GeometryInputError(f"Stations {at.shape} and elevations {z.shape} of a line must fit, and stations grow.")
    grade = np.diff(z) / np.diff(at) if len(at) > 1 else np.zeros(0)
    sloped = np.flatnonzero(np.abs(np.nan_to_num(grade, nan=1.0)) > LEVEL)
    low: list[float] = []
    high: list[float] = []
    breaks: list[float] = []
    for one, two in zip(sloped[:-1].tolist(), sloped[1:].tolist(), strict=True):
        middle = (at[one + 1] + at[two]) / 2
        before, after = grade[one], grade[two]
        if np.isnan(before) or np.isnan(after):
            breaks.append(middle)
        elif before * after < 0:
            (low if before < 0 else high).append(middle)
            breaks.append(middle)
        elif two == one + 1 and abs(after - before) > change:
            breaks.append(middle)
    return Turns(low=np.array(low), high=np.array(high), breaks=np.array(breaks))


def fall_reaches(station: ArrayLike, *, breaks: ArrayLike, length: float) -> tuple[Integers, Integers]:
    """Divide an unbroken line of shots into reaches over which a grade means something.

    Parameters
    ----------
    station : (n,) array
        Of the shots, growing.
    breaks : (m,) array
        Stations that no reach crosses; a shot at one ends the reach before it and begins the one behind it.
    length : float
        A reach ends at the first shot that is this far from its beginning. What is left at the end is a reach of its
        own where it is half as long, else part of the one before.

    Returns
    -------
    first, last : (k,) int64
        Shots at the ends of each reach; neighbouring reaches share theirs.

    Examples
    --------
    >>> fall_reaches([0, 25, 50, 75, 100, 120, 130], breaks=[100.0], length=50.0)
    (array([0, 2, 4]), array([2, 4, 6]))
    """
    at = np.asarray(station, dtype=np.float64)
    least = length * (1 - 1e-6)
    first, last = [], []
    for begin, end in _unbroken(at, np.asarray(breaks, dtype=np.float64)):
        mine: list[list[int]] = []
        opened = begin
        for place in range(begin + 1, end + 1):
            if at[place] - at[opened] >= least or (place == end and at[place] - at[opened] >= least / 2):
                mine.append([opened, place])
                opened = place
        if opened < end:
            if mine:
                mine[-1][1] = end
            else:
                mine.append([begin, end])
        first += [one for one, _ in mine]
        last += [other for _, other in mine]
    return np.array(first, dtype=np.int64), np.array(last, dtype=np.int64)


def _unbroken(at: Floats, breaks: Floats) -> list[tuple[int, int]]:
    """First and last shot between breaks, two at least; a shot at a break belongs to both sides."""
    inside = np.unique(breaks[(breaks > at[0]) & (breaks < at[-1])]) if len(at) else np.zeros(0)
    last = [*(np.searchsorted(at, inside + 1e-6, side="right") - 1).tolist(), len(at) - 1]
    first = [0, *np.searchsorted(at, inside - 1e-6, side="left").tolist()]
    return [(one, other) for one, other in zip(first, last, strict=True) if other > one]


def slope_weights(station: ArrayLike, u: ArrayLike) -> Floats:
    """Share of each shot in the slope of the straight line fitted to shots.

    Parameters
    ----------
    station : (k,) array
        Of two shots at least, not all in one place.
    u : (k,) array
        1 sigma that each elevation has for itself. Where one is not known or 0 all count alike.

    Returns
    -------
    (k,) float64
        The slope is their sum of products with the elevations; they sum to 0, so that nothing that all share is felt.

    Raises
    ------
    GeometryInputError
        Fewer than two places.

    Examples
    --------
    >>> slope_weights([0, 50, 100], [0.02, 0.02, 0.02]).round(4).tolist()
    [-0.01, 0.0, 0.01]
    """
    at, u = np.asarray(station, dtype=np.float64), np.asarray(u, dtype=np.float64)
    if at.shape != u.shape or len(at) < 2 or not np.ptp(at) > 0:
        raise GeometryInputError(f"A slope needs shots in two places, with one u each: {at.shape}, {u.shape}.")
    share = 1 / u**2 if (u > 0).all() else np.ones(len(at))
    share = share / share.sum()
    arm = share * (at - np.sum(share * at))
    return np.asarray(arm / np.sum(arm * at))
