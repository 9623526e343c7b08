"""How far it is from one passing space of a walk to the next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from geoqa.errors import GeometryInputError

_ONE_SIDED_95 = 1.6448536269514722


@dataclass(frozen=True, kw_only=True)
class Passing:
    """The longest stretch without a passing space.

    Attributes
    ----------
    longest : float
        As the widths were measured.
    least, most : float
        If all sections count that may be wide enough, and if only those that are proven to be.
    start, end : float
        Stations of the stretch.
    """

    longest: float
    least: float
    most: float
    start: float
    end: float

    @property
    def u(self) -> float:
        """Standard uncertainty for which both ends of the band lie within the one-sided 95 %."""
        return max(self.most - self.longest, self.longest - self.least) / _ONE_SIDED_95


def between_passing_spaces(station: ArrayLike, width: ArrayLike, u: ArrayLike, *, wide: float) -> Passing:
    """Find the longest stretch of a walk without a section that is wide enough to pass.

    Parameters
    ----------
    station, width, u : (n,) arrays
        Along the walk, in any order; clear width and its standard uncertainty. Missing widths are passed over.
    wide : float
        Least width of a passing space.

    Returns
    -------
    Passing
        The ends of the walk count as no passing space.

    Raises
    ------
    GeometryInputError
        Arrays of different length, or no width at all.

    Examples
    --------
    >>> found = between_passing_spaces([0, 50, 100, 150, 200], [4.0, 4.0, 5.5, 4.0, 4.0], [0.03] * 5, wide=5.0)
    >>> found.longest, found.least, found.most
    (100.0, 100.0, 100.0)
    >>> doubt = between_passing_spaces([0, 50, 100], [4.0, 5.01, 4.0], [0.03] * 3, wide=5.0)
    >>> doubt.longest, doubt.most
    (50.0, 100.0)
    """
    station, width, u = (np.asarray(each, dtype=np.float64) for each in (station, width, u))
    if not station.shape == width.shape == u.shape or station.ndim != 1:
        raise GeometryInputError(f"stations {station.shape}, widths {width.shape} and u {u.shape} do not fit.")
    known = np.flatnonzero(np.isfinite(station) & np.isfinite(width) & np.isfinite(u))
    if not len(known):
        raise GeometryInputError("no section of the walk has a width.")
    known = known[np.argsort(station[known], kind="stable")]
    along, over = station[known], (width[known] - wide) / np.maximum(u[known], 1e-12)
    chance = ndtr(over)
    stretch = {share: _longest(along, chance >= share) for share in (0.05, 0.5, 0.95)}
    length, start, end = stretch[0.5]
    return Passing(longest=length, least=stretch[0.05][0], most=stretch[0.95][0], start=start, end=end)


def _longest(station: np.ndarray, wide: np.ndarray) -> tuple[float, float, float]:
    """Longest distance from one wide place, or an end, to the next, where there is a narrow place between them."""
    ends = np.unique(np.concatenate([[0], np.flatnonzero(wide), [len(station) - 1]]))
    best = (0.0, float(station[0]), float(station[0]))
    for first, last in zip(ends[:-1].tolist(), ends[1:].tolist(), strict=True):
        if wide[first : last + 1].all():
            continue
        length = float(station[last] - station[first])
        if length > best[0]:
            best = (length, float(station[first]), float(station[last]))
    return best
