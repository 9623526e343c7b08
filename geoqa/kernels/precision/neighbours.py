"""How widely shots scatter against their neighbours on a line: what a shot has for itself, seen in the work."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtri, ndtri

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.precision.estimate import UNKNOWN, Estimate

SHARE = 0.85
"""Share of all misfits that the size is read at: one shot in twenty may be a slip or defect, which spoils three."""
PER_DEGREE = 4.0
"""Misfits that are worth one degree of freedom: each shot is in three of them, and a quantile uses half of what there
is. By own simulation 714 misfits give the scatter to 5 %, as 200 degrees of freedom do."""

WIDELY = 4.0
"""Times what is stated, and what other lines scatter, from which a line is no line of the same work."""
MANY = 10
"""Misfits of a line that are asked for: one slip spoils three, and half of them decide."""
SPOILT = 1.25
"""Times the scatter of the others that such lines must make the scatter of all, before they are taken by themselves."""


def neighbour_misfits(
    line: ArrayLike, station: ArrayLike, value: ArrayLike, u: ArrayLike, group: ArrayLike, *, reach: float
) -> tuple[Integers, Floats]:
    """Compare every shot of a line with the chord of its two neighbours, in units of their own uncertainties.

    Parameters
    ----------
    line : (n,) int array
        Number of the line; -1 for none.
    station : (n,) array
        Along the line.
    value : (n,) array
        Deviation from design; NaN is left out.
    u : (n,) array
        1 sigma of each shot by itself, the unit of `value`; more than 0.
    group : (n,) int array
        Only shots of one group are compared: what it shares falls out.
    reach : float
        Longest distance between two neighbours.

    Returns
    -------
    row : (k,) int64 array
        The shot in the middle.
    size : (k,) float64 array
        Misfit over its standard uncertainty, signed.

    Raises
    ------
    GeometryInputError
        Arrays that do not fit each other.

    Notes
    -----
    With honest uncertainties and work that is straight over the reach, sizes are standard normal; errors that last
    from shot to shot make them smaller, work that wobbles makes them larger.

    Examples
    --------
    >>> row, size = neighbour_misfits([0, 0, 0], [0, 10, 20], [0.0, 0.3, 0.2], [0.1] * 3, [0] * 3, reach=50)
    >>> row.tolist(), size.round(3).tolist()
    ([1], [1.633])
    """
    number, group = np.asarray(line), np.asarray(group)
    at, value, u = (np.asarray(each, dtype=np.float64) for each in (station, value, u))
    if not number.shape == group.shape == at.shape == value.shape == u.shape:
        raise GeometryInputError(
            f"line {number.shape}, station {at.shape}, value {value.shape} and u {u.shape} differ."
        )
    rows = np.flatnonzero((number >= 0) & np.isfinite(at + value) & (u > 0))
    rows = rows[np.lexsort((at[rows], number[rows]))]
    before, middle, after = rows[:-2], rows[1:-1], rows[2:]
    run = at[after] - at[before]
    near = (at[middle] - at[before] <= reach) & (at[after] - at[middle] <= reach) & (run > 0)
    same = (number[before] == number[after]) & (group[before] == group[middle]) & (group[middle] == group[after])
    kept = near & same
    before, middle, after, run = before[kept], middle[kept], after[kept], run[kept]
    share = (at[after] - at[middle]) / run
    left = value[middle] - share * value[before] - (1 - share) * value[after]
    own = np.sqrt(u[middle] ** 2 + (share * u[before]) ** 2 + ((1 - share) * u[after]) ** 2)
    return middle.astype(np.int64), left / own


def neighbour_scale(size: ArrayLike, *, confidence: float = 0.95) -> Estimate:
    """How many times what is stated the misfits are, robustly.

    Parameters
    ----------
    size : (k,) array
        Of `neighbour_misfits`.
    confidence : float
        Of the band.

    Returns
    -------
    Estimate
        Unknown without misfits.

    Examples
    --------
    >>> found = neighbour_scale(2.0 * ndtri((np.arange(400) + 0.5) / 400))
    >>> round(found.value, 2), round(found.low, 2), round(found.high, 2), found.dof
    (1.99, 1.75, 2.31, 100.0)
    """
    sizes = np.abs(np.asarray(size, dtype=np.float64))
    dof = sizes.size / PER_DEGREE
    if dof < 1:
        return UNKNOWN
    value = float(np.quantile(sizes, SHARE) / ndtri((1 + SHARE) / 2))
    tail = (1 - confidence) / 2
    low, high = (value * float(np.sqrt(dof / chdtri(dof, p))) for p in (tail, 1 - tail))
    return Estimate(value=value, se=value / float(np.sqrt(2 * dof)), low=low, high=high, dof=dof)


def widely_scattered(size: ArrayLike, line: ArrayLike) -> Integers:
    """Lines whose misfits scatter so much more widely than those of the others that they spoil the scatter of all.

    Parameters
    ----------
    size : (k,) array
        Of `neighbour_misfits`.
    line : (k,) int array
        Line of each misfit, or line and session.

    Returns
    -------
    (w,) int64 array
        Numbers of such lines, ascending; never more than half of the lines of `MANY` misfits and more.

    Raises
    ------
    GeometryInputError
        Arrays that do not fit each other.

    Notes
    -----
    A line is read at the median of its misfits, which a few slips do not move, and held against the median line: who
    is in the minority is named, and none where there is no other line. Lines so few that the scatter of all stays as it
    is are not named: nothing is learned wrongly from them.

    Examples
    --------
    >>> size = ndtri((np.arange(60) + 0.5) / 60)
    >>> line = np.arange(60) % 3
    >>> widely_scattered(np.where(line == 1, 9.0, 1.0) * size, line).tolist(), widely_scattered(size, line).tolist()
    ([1], [])
    """
    sizes, number = np.abs(np.asarray(size, dtype=np.float64)), np.asarray(line)
    if sizes.shape != number.shape:
        raise GeometryInputError(f"size {sizes.shape} and line {number.shape} differ.")
    lines, begins, count = np.unique(np.sort(number), return_index=True, return_counts=True)
    many = count >= MANY
    lines, begins, count = lines[many], begins[many], count[many]
    if len(lines) < 2:
        return np.zeros(0, np.int64)
    ordered = sizes[np.lexsort((sizes, number))]  # once: a season has thousands of lines
    middle = (ordered[begins + (count - 1) // 2] + ordered[begins + count // 2]) / 2 / ndtri(0.75)
    usual = np.sort(middle)[(len(lines) - 1) // 2]
    wide = lines[middle > WIDELY * max(usual, 1.0)]
    others = neighbour_scale(sizes[~np.isin(number, wide)])
    spoilt = neighbour_scale(sizes).value > SPOILT * np.fmax(others.value, 1.0)
    return wide.astype(np.int64) if spoilt else np.zeros(0, np.int64)
