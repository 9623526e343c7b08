"""What a shift is worth once it is taken off numbers: it was chosen for being large, and may be a single mark's."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri, stdtr, stdtrit

from geoqa.kernels.arrays import Floats
from geoqa.kernels.control.session_shift import Prepared, shifts_of

TWO_SIDED = 1.959963984540054
MANY = 8
"""Marks of a session of which a single one weighs too little to be asked for."""


def chosen_u(shift: ArrayLike, u: ArrayLike, dof: ArrayLike, level: ArrayLike) -> Floats:
    """1 sigma of shifts of which only those were taken that are proven at a level.

    Parameters
    ----------
    shift, u : (n,) array
        Estimates and their 1 sigma.
    dof : float or (n,) array
        Degrees of freedom behind u.
    level : float or (n,) array
        Two-sided chance at which a shift counts as proven, for one test.

    Returns
    -------
    (n,) float64
        So large that the estimate -+ 1.96 of it holds the true shift in 95 % of those that are taken, however large
        the true one is. NaN for one that is not proven.

    Notes
    -----
    What is proven was also helped by chance, the more so the nearer it lies to the limit. Given that it was taken, the
    estimate has a normal distribution without its middle; the interval holds all true values under which so large a
    one, or so small a one, is no rarer than 2.5 % (a conditional interval after selection; Zhong and Prentice 2008).
    The wider of its sides counts.

    Examples
    --------
    >>> chosen_u([0.03, 0.05, 0.2], 0.01, 1e9, 0.005).round(4).tolist()
    [0.0177, 0.0115, 0.01]
    """
    shift, u, dof, level = np.broadcast_arrays(*(np.asarray(each, dtype=np.float64) for each in (shift, u, dof, level)))
    size = np.abs(shift / u)
    # as normal numbers of the same chance
    seen = -ndtri(np.clip(stdtr(dof, -size), 1e-300, 0.5))
    least = -ndtri(level / 2)
    taken = seen >= least
    low = _bound(seen, least, 0.975)
    high = _bound(seen, least, 0.025)
    wide = np.maximum(seen - low, high - seen)
    heavier = stdtrit(dof, 0.975) / TWO_SIDED
    return np.where(taken, u * heavier * np.maximum(wide / TWO_SIDED, 1.0), np.nan)


def _bound(seen: Floats, least: Floats, share: float) -> Floats:
    """True value under which the taken ones lie below `seen` with that chance, by halving."""
    low, high = seen - 12.0, seen + 6.0
    for _ in range(60):
        middle = (low + high) / 2
        left, right = ndtr(-least - middle), ndtr(middle - least)
        below = (left + np.maximum(right - ndtr(middle - seen), 0.0)) / np.maximum(left + right, 1e-300)
        above = below > share
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return np.asarray((low + high) / 2)


def change_by_mark(given: Prepared, *, asked: ArrayLike = True) -> Floats:
    """How much the shift of each session changes, at most, where one of its marks is left out.

    Parameters
    ----------
    given : Prepared
        What the shifts are estimated from.
    asked : (k,) bool array
        Sessions that it is wanted for: each mark of theirs is left out once, and all is estimated anew.

    Returns
    -------
    (k,) float64
        NaN for one that was not asked for, and for a session with a single mark: nobody knows whether mark or session
        is off. 0 for one with more than `MANY` marks, of which none weighs much.

    Examples
    --------
    >>> from geoqa.kernels.control.session_shift import prepared
    >>> given = ([0.05, 0.03, 0.04], [0, 0, 1], [0, 1, 0], [0.0, 200.0, 400.0], [[0.0, 0.0], [90.0, 0.0], [0.0, 0.0]])
    >>> change_by_mark(prepared(*given, u_random=[0.02] * 3, u_mark=[0.0] * 3)).round(3).tolist()
    [0.01, nan]
    """
    found = shifts_of(given)
    change = np.where((found.marks > 1) & np.asarray(asked), 0.0, np.nan)
    few = (change == 0.0) & (found.marks <= MANY)
    if not few.any():
        return change
    rows = np.flatnonzero(found.kept[given.rows])
    on = given.mark[given.rows][rows]
    group = given.by_share[0].groups[given.by_share[0].number[rows]]
    for each in np.unique(on[few[group]]):
        mine = np.unique(group[on == each])
        other = shifts_of(given, without=[each])
        change[mine] = np.where(few[mine], np.fmax(change[mine], np.abs(other.shift - found.shift)[mine]), change[mine])
    return change


def applied_u(
    shift: ArrayLike, u: ArrayLike, dof: ArrayLike, marks: ArrayLike, change: ArrayLike, level: float
) -> Floats:
    """1 sigma of shifts once they are taken off numbers.

    Parameters
    ----------
    shift, u, dof : (n,) array
        Estimates, their 1 sigma, and the degrees of freedom behind it.
    marks : (n,) int array
        What each rests on.
    change : (n,) array
        Of `change_by_mark`.
    level : float
        Two-sided chance at which a shift counts as proven, for one test.

    Returns
    -------
    (n,) float64
        The larger of what the choice and what a single mark makes of it; both together where two marks speak, for
        either may be the one that is off. NaN where the shift is not proven, or rests on a single mark.

    Examples
    --------
    >>> applied_u([0.2, 0.2, 0.2, 0.02], 0.01, 1e9, [4, 2, 1, 4], [0.0, 0.01, np.nan, 0.0], 0.005).round(4).tolist()
    [0.01, 0.0141, nan, nan]
    """
    chosen, by = chosen_u(shift, u, dof, level), np.asarray(change, dtype=np.float64)
    return np.where(np.asarray(marks) == 2, np.hypot(chosen, by), np.maximum(chosen, by))
