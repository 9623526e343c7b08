"""Measure-downs that were misread: by whole feet, by tenths, or in the other unit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats

FOOT = 0.3048
"""Metres."""
NEAR = 2.5
"""Standard uncertainties within which an error of a reading is about a whole step."""
PROVEN = 3.0
"""Standard uncertainties beyond which an invert is not the expected one."""
WHOLE, TENTH, UNIT = 1, 2, 3
"""Kinds of a misread number: by whole feet, by tenths, in the other unit."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Misreading:
    """Which misreading an invert looks like.

    Attributes
    ----------
    kind : (n,) int8
        0 none, or `WHOLE`, `TENTH`, `UNIT`.
    slip : (n,) float64
        Read minus true of the measure-down, if it was misread so: positive is too long; 0 where none is named.
    other : (n,) int8
        A second kind that explains it as well; 0 for none.
    other_slip : (n,) float64
        The slip of that; 0 for none.
    """

    kind: np.ndarray
    slip: Floats
    other: np.ndarray
    other_slip: Floats


def misreadings(off: ArrayLike, measure_down: ArrayLike, u: ArrayLike, *, metres: float) -> Misreading:
    """Tell which slip of a measure-down would explain an invert that is off.

    Parameters
    ----------
    off : (n,) array
        Invert as reduced minus the invert expected; NaN is not known.
    measure_down : (n,) array
        As read.
    u : (n,) array
        1 sigma of `off`.
    metres : float
        Metres in one unit of all three: steps are of feet.

    Returns
    -------
    Misreading
        Of whole feet (1 to 9), the other unit and tenths of a foot (1 to 9) the one that fits best; a second one that
        fits no worse than that by one u is named too. None is named where `off` is within three u of 0. A step is
        named where it is not farther than two and a half u, and nearer than half of the step, from `off`.

    Notes
    -----
    A number that is read too long makes the invert too low. A metre tape read as feet makes it
    too high by 2.28 of the reading; a tape of feet read as metres too low by 0.695 of it.

    Examples
    --------
    >>> found = misreadings([-1.02, 0.04, 0.21], [5.5, 5.5, 7.0], [0.03, 0.03, 0.03], metres=0.3048)
    >>> found.kind.tolist(), found.slip.round(2).tolist()
    ([1, 0, 2], [1.0, 0.0, -0.2])

    7.10 ft, noted from a metre tape as 2.164: 4.94 ft too short is no five feet, where the shot is sure enough.

    >>> [misreadings([4.94], [2.164], [u], metres=0.3048).other.tolist() for u in (0.03, 0.10)]
    [[0], [1]]
    """
    off, down, u = (np.asarray(each, dtype=np.float64) for each in (off, measure_down, u))
    foot = FOOT / metres
    slip = -off
    near = NEAR * u
    whole = np.clip(np.abs(np.round(slip / foot)), 1, 9) * np.sign(slip) * foot
    tenth = np.clip(np.abs(np.round(slip / foot * 10)), 1, 9) * np.sign(slip) * foot / 10
    # what the tape showed times the factor of the units would be the true depth
    units = np.stack([down * (1 - 1 / FOOT), down * (1 - FOOT)])
    unit = np.where(np.abs(units[0] - slip) <= np.abs(units[1] - slip), units[0], units[1])
    kinds, slips = np.array([WHOLE, UNIT, TENTH], dtype=np.int8), np.stack([whole, unit, tenth])
    largest = np.array([foot / 4, foot / 4, foot / 20])[:, None]
    apart = np.abs(slips - slip)
    with np.errstate(invalid="ignore"):
        fits = (np.abs(off) > PROVEN * u) & (apart <= np.minimum(near, largest))
        apart = np.where(fits, apart, np.inf)
        best, second = np.argsort(apart, axis=0, kind="stable")[:2]
        at = np.arange(len(off))
        some = fits[best, at]
        as_well = fits[second, at] & (apart[second, at] - u <= np.where(some, apart[best, at], 0.0))
    return Misreading(
        kind=np.where(some, kinds[best], 0).astype(np.int8), slip=np.where(some, slips[best, at], 0.0),
        other=np.where(as_well, kinds[second], 0).astype(np.int8),
        other_slip=np.where(as_well, slips[second, at], 0.0),
    )  # fmt: skip


FEWEST = 3
"""Inverts of one list that tell its unit."""
LEFT = 0.15
"""Share of what an invert is off by that may be left once the unit is changed: work is off its design as well."""


def other_tape(off: ArrayLike, measure_down: ArrayLike, u: ArrayLike, group: ArrayLike, *, metres: float) -> Floats:
    """Slips of measure-downs of which all of one list are in the other unit.

    Parameters
    ----------
    off, measure_down, u : (n,) array
        As of `misreadings`.
    group : (n,) int array
        List that each is of.
    metres : float
        Metres in one unit of all three.

    Returns
    -------
    (n,) float64
        Read minus true; 0 where the list is not all off by what one other unit explains.

    Notes
    -----
    One slip is told by the inverts that agree beside it; of a whole list none does. It is told by all of three or more
    being off, by half a foot and more, in the same proportion to their depth.

    Examples
    --------
    >>> other_tape([4.1, 3.8, 3.3], [1.773, 1.643, 1.440], [0.03] * 3, [0, 0, 0], metres=0.3048).round(2).tolist()
    [-4.04, -3.75, -3.28]
    >>> other_tape([4.1, 0.0, 3.3], [1.773, 1.643, 1.440], [0.03] * 3, [0, 0, 0], metres=0.3048).tolist()
    [0.0, 0.0, 0.0]
    """
    off, down, u = (np.asarray(each, dtype=np.float64) for each in (off, measure_down, u))
    group, slip = np.asarray(group), np.zeros(len(off))
    told = np.isfinite(off) & np.isfinite(down)
    for number in np.unique(group[told]).tolist():
        mine = told & (group == number)
        far = np.abs(off[mine]) > np.maximum(PROVEN * u[mine], FOOT / metres / 2)
        if mine.sum() < FEWEST or not far.all():
            continue
        for factor in (1 - 1 / FOOT, 1 - FOOT):
            left = off[mine] + down[mine] * factor
            if (np.abs(left) <= LEFT * np.abs(off[mine])).all():
                slip[mine] = down[mine] * factor
    return slip
