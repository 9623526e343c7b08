"""Stretches of neighbours that agree: cut where the numbers change by more than their uncertainty."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Integers

CHANGE = 13.0
"""Chi-square that a cut must save: by chance a change at a known place is as large with p = 0.0003, and the place is
sought among some hundred. Common practice, no source."""


def stretches(
    station: ArrayLike, value: ArrayLike, u: ArrayLike, *, between: float, longest: float, change: float = CHANGE
) -> Integers:
    """Number the stretches of one line within which all numbers agree.

    Parameters
    ----------
    station, value, u : (n,) arrays
        Along the line, in any order; the numbers and their standard uncertainty. A missing number is in no stretch.
    between : float
        Neighbours farther apart are of two stretches.
    longest : float
        A stretch that is longer is divided evenly: the mean of a whole walk says little of any part of it.
    change : float
        Chi-square that a cut must save.

    Returns
    -------
    (n,) int64 array
        From 0 along the line; -1 where a number is missing.

    Raises
    ------
    GeometryInputError
        Arrays of different length, or lengths that are not positive.

    Notes
    -----
    The cuts are those of the least sum of squares in u, each stretch about its own mean, plus `change` for every cut:
    an optimal partition by dynamic programming (B. Jackson et al., IEEE Signal Processing Letters 12, 2005, 105).

    Examples
    --------
    >>> slope = [1.5, 1.4, 3.8, 3.9, 3.7, 3.8, 1.6, 1.4]
    >>> stretches(range(0, 200, 25), slope, [0.4] * 8, between=40, longest=150).tolist()
    [0, 0, 1, 1, 1, 1, 2, 2]
    """
    station, value, u = (np.asarray(each, dtype=np.float64) for each in (station, value, u))
    if not station.shape == value.shape == u.shape or not (between > 0 and longest > 0 and change >= 0):
        raise GeometryInputError(f"stations {station.shape}, values {value.shape} and u {u.shape} do not fit.")
    known = np.flatnonzero(np.isfinite(station) & np.isfinite(value) & (u > 0))
    made = np.full(station.shape, -1, dtype=np.int64)
    known = known[np.lexsort((value[known], station[known]))]
    if not len(known):
        return made
    parts = np.split(known, np.flatnonzero(np.diff(station[known]) > between) + 1)
    number = 0
    for part in parts:
        for first, last in _cuts(value[part], u[part], change):
            piece = part[first:last]
            length = station[piece[-1]] - station[piece[0]]
            count = max(int(np.ceil(length / longest)), 1)
            along = np.minimum((station[piece] - station[piece[0]]) / max(length, 1e-9) * count, count - 1e-9)
            made[piece] = number + np.unique(along.astype(int), return_inverse=True)[1]
            number = int(made[piece].max()) + 1
    return made


def _cuts(value: np.ndarray, u: np.ndarray, change: float) -> list[tuple[int, int]]:
    """First and behind the last of the stretches of the optimal partition."""
    weight = u**-2.0
    value = value - value[0]
    sums = [np.append(0.0, np.cumsum(weight * value**power)) for power in (0, 1, 2)]
    count = len(value)
    cost, begins = np.full(count + 1, np.inf), np.zeros(count + 1, dtype=int)
    cost[0] = -change
    for last in range(1, count + 1):
        w, wv, wvv = (each[last] - each[:last] for each in sums)
        whole = cost[:last] + wvv - wv**2 / w + change
        begins[last] = int(np.argmin(whole))
        cost[last] = whole[begins[last]]
    found, last = [], count
    while last:
        found.append((int(begins[last]), last))
        last = int(begins[last])
    return found[::-1]
