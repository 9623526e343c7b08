"""By which shift or turn a plan lies off marks that it names."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats
from geoqa.kernels.control.similarity import fit_similarity

FEWEST, FEWEST_TURNED = 2, 3
"""Marks that a shift, and a turn, take: one more than fix it."""
FEWEST_BUT_ONE = 4
"""Marks from which one that does not agree with all others may be left out."""
SCALED = 5e-4
"""Scale beyond which a plan is in another unit or of another place, and not only turned."""


@dataclass(frozen=True, kw_only=True)
class MovedMarks:
    """Plan minus grid.

    Attributes
    ----------
    answer : str
        ``shift``, ``turned``, ``scaled`` (turned or not, and of another scale), ``disagree`` or ``few``.
    shift : (easting, northing)
        At the middle of the marks, in the unit of the coordinates.
    turn, turn_se : float
        Degrees counter-clockwise from grid to plan, and 1 sigma.
    scale : float
        Plan over grid; of 1 for a shift or a turn.
    worst : float
        Largest distance left of a mark that was used.
    odd : int
        Place of the mark that was left out; -1 without.
    """

    answer: str
    shift: tuple[float, float] = (np.nan, np.nan)
    turn: float = 0.0
    turn_se: float = np.nan
    scale: float = 1.0
    worst: float = np.nan
    odd: int = -1


def moved_marks(grid: ArrayLike, plan: ArrayLike, *, fit: float) -> MovedMarks:
    """Tell a common shift, or a turn, of marks in a plan.

    Parameters
    ----------
    grid, plan : (n, 2) array
        The same marks where they are, and where the plan has them; same unit, no NaN.
    fit : float
        Largest distance that may be left at a mark.

    Examples
    --------
    >>> grid = np.array([[0.0, 0], [400, 0], [300, 200], [100, 250]])
    >>> found = moved_marks(grid, grid - [2000, 500], fit=0.1)
    >>> found.answer, found.shift
    ('shift', (-2000.0, -500.0))
    >>> turned = moved_marks(grid, grid @ [[0, 1], [-1, 0]], fit=0.1)
    >>> turned.answer, round(turned.turn, 6)
    ('turned', 90.0)
    """
    here, there = np.asarray(grid, float), np.asarray(plan, float)
    count = len(here)
    if count < FEWEST:
        return MovedMarks(answer="few")
    kept = np.ones(count, dtype=bool)
    off = there - here
    far = np.hypot(*(off - np.median(off, axis=0)).T)
    if count >= FEWEST_BUT_ONE and far.max() > fit and (np.delete(far, far.argmax()) <= fit).all():
        kept[far.argmax()] = False
    shift = off[kept].mean(axis=0)
    left = np.hypot(*(off[kept] - shift).T)
    odd = -1 if kept.all() else int(far.argmax())
    if left.max() <= fit:
        return MovedMarks(answer="shift", shift=(float(shift[0]), float(shift[1])), worst=float(left.max()), odd=odd)
    if count < FEWEST_TURNED or np.ptp(here, axis=0).max() == 0:
        return MovedMarks(answer="disagree")
    turned = fit_similarity(here, there)
    worst = float(np.hypot(*turned.residuals.T).max())
    if worst > fit or abs(turned.scale - 1.0) > SCALED:
        return MovedMarks(answer="disagree")
    rigid = float(np.hypot(*(turned_back(there, turned.rotation, here, there) - here).T).max())
    middle = off.mean(axis=0)
    return MovedMarks(
        answer="turned" if rigid <= fit else "scaled",
        shift=(float(middle[0]), float(middle[1])),
        turn=turned.rotation,
        turn_se=turned.rotation_se,
        scale=1.0 if rigid <= fit else turned.scale,
        worst=rigid if rigid <= fit else worst,
    )


def turned_back(places: ArrayLike, degrees: float, grid: ArrayLike, plan: ArrayLike) -> Floats:
    """Places of a plan on the grid: turned back about the middle of its marks, which is put on theirs.

    Parameters
    ----------
    places : (m, 2) array
    degrees : float
        How far the plan is turned from the grid, counter-clockwise.
    grid, plan : (n, 2) array
        The marks.

    Examples
    --------
    >>> turned_back([[3.0, 1.0]], 90.0, grid=[[100.0, 200.0]], plan=[[0.0, 1.0]]).round(6).tolist()
    [[100.0, 197.0]]
    """
    angle = np.radians(-degrees)
    cos, sin = np.cos(angle), np.sin(angle)
    away = np.asarray(places, float) - np.asarray(plan, float).mean(axis=0)
    back: Floats = away @ np.array([[cos, sin], [-sin, cos]]) + np.asarray(grid, float).mean(axis=0)
    return back
