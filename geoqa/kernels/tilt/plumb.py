"""How much plumb shots scatter: about the mean of their point, from day to day on a nail, or as leaning shots show."""

from __future__ import annotations

from math import sqrt

import numpy as np

from geoqa.kernels.arrays import Booleans, Floats, Integers
from geoqa.kernels.precision.components import TwoSpreads
from geoqa.kernels.precision.estimate import Estimate, declared, likely_estimate, spread_estimate


def of_points(places: Floats, number: Integers, upright: Booleans) -> tuple[Floats, Integers, tuple[float, float], int]:
    """Mean of every point's plumb shots, and their scatter about it.

    Parameters
    ----------
    places : (n, 3) array
    number : (n,) array of int
        Point of each shot, from 0.
    upright : (n,) bool array
        Plumb shots with a place.

    Returns
    -------
    means : (k, 3) array
        NaN where a point has none.
    count : (k,) array of int
    squares : (float, float)
        Sums of squares, in plan and in elevation.
    dof : int
        Per axis.

    Examples
    --------
    >>> places = np.array([[0.0, 0.0, 5.0], [0.2, 0.0, 5.2], [9.0, 9.0, 9.0]])
    >>> means, count, squares, dof = of_points(places, np.array([0, 0, 1]), np.array([True, True, True]))
    >>> means[0].round(9).tolist(), count.tolist(), round(squares[0], 3), dof
    ([0.1, 0.0, 5.1], [2, 1], 0.02, 1)
    """
    count = np.bincount(number[upright], minlength=number.max(initial=-1) + 1)
    mine, standing = number[upright], places[upright]
    origin = standing.mean(axis=0)
    sums = np.zeros((count.size, 3))
    np.add.at(sums, mine, standing - origin)
    means = origin + sums / np.where(count > 0, count, np.nan)[:, None]
    left = standing - means[mine]
    squares = float(np.sum(left[:, :2] ** 2)), float(np.sum(left[:, 2] ** 2))
    return means, count, squares, int(np.maximum(count - 1, 0).sum())


def of_nails(places: Floats, nail: np.ndarray, session: np.ndarray) -> tuple[tuple[float, float], int]:
    """Scatter of plumb shots of nails that stand in several sessions, which are shifted as wholes.

    Parameters
    ----------
    places : (n, 3) array
        Of plumb shots alone.
    nail, session : (n,) array

    Returns
    -------
    squares : (float, float)
        In plan and in elevation.
    dof : int
        Per axis; 0 where no nail stands in two sessions.

    Examples
    --------
    >>> places = np.array([[0.0, 0, 0], [1.0, 0, 0], [0.5, 0, 2], [1.5, 0, 2.2]])  # the second day 0.5 further east
    >>> squares, dof = of_nails(places, np.array(["a", "b", "a", "b"]), np.array([1, 1, 2, 2]))
    >>> [round(each, 3) for each in squares], dof
    ([0.0, 0.01], 1)
    """
    which = [np.unique(each, return_inverse=True)[1].ravel() for each in (nail, session)]
    columns = np.hstack([(each[:, None] == np.arange(each.max(initial=-1) + 1)) for each in which]).astype(np.float64)
    near = places - places.mean(axis=0)
    found, _, rank, _ = np.linalg.lstsq(columns, near, rcond=None)
    left = near - columns @ found
    return (float(np.sum(left[:, :2] ** 2)), float(np.sum(left[:, 2] ** 2))), len(places) - int(rank)


def plumb_spreads(
    squares: tuple[float, float], dof: int, stated: tuple[float, float] | None, confidence: float
) -> tuple[Estimate, Estimate]:
    """Standard uncertainty of a plumb shot, horizontal per axis and vertical; as stated where nothing tells it.

    Examples
    --------
    >>> plan, up = plumb_spreads((0.0032, 0.0016), 4, None, 0.95)
    >>> round(plan.value, 3), round(up.value, 3)
    (0.02, 0.02)
    """
    if dof == 0 and stated is not None:
        return declared(stated[0]), declared(stated[1])
    return (
        spread_estimate(squares[0], 2 * dof, confidence=confidence),
        spread_estimate(squares[1], dof, confidence=confidence),
    )


def careful_base(spreads: TwoSpreads) -> Estimate:
    """Scatter of a plumb shot that was stated: what the leaning shots rather show where that is more.

    Where they contradict it, the upper end of what they leave open: no plumb shot is proven by a lucky guess.

    Examples
    --------
    >>> from geoqa.kernels.precision.components import Contrasts
    >>> from geoqa.kernels.precision.stated_spreads import stated_spreads
    >>> made = Contrasts(value=np.array([1.0, -1, 1, 3, -3, 3]), multiplier=np.array([0.0, 0, 0, 2, 2, 2]))
    >>> [careful_base(stated_spreads(made, stated=each)).value > 0.9 for each in (0.01, 9.0)]
    [True, True]
    """
    if not spreads.base_likely.size:
        return spreads.base
    shown = sqrt(float(np.quantile(spreads.base_likely, 0.5 if np.isinf(spreads.base.dof) else 0.95)))
    return (
        spreads.base
        if shown <= spreads.base.value
        else likely_estimate(shown, np.sqrt(spreads.base_likely), dof=spreads.extra.dof)
    )
