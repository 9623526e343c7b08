"""Stations as the drawing writes them: stretches between station equations.

A continuous station is a distance on top of the start station. At an equation the drawing goes on counting from
another number; from there on a place is called by its station and how many equations have been passed. A place
just at an equation is called by the station ahead.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.baseline.course import TIE

SLACK = 0.02
"""How far past the end of its stretch a written station may lie: it is rounded, and so is the length of the line."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Stretches:
    """Stretches between station equations: row 0 before the first, row n after equation n.

    Attributes
    ----------
    start : (r,) float64
        Continuous station at which the stretch starts; the first starts with the line.
    ahead : (r,) float64
        What that place is called in the stretch.
    end : float
        Continuous station of the end of the line.
    """

    start: Floats
    ahead: Floats
    end: float

    def __len__(self) -> int:
        return len(self.start)


def stretches_between(start: float, end: float, back: ArrayLike, ahead: ArrayLike) -> Stretches:
    """Stretches of a line from its equations.

    Parameters
    ----------
    start, end : float
        Stations of the ends of the line, continuous.
    back, ahead : (e,) array
        Equations, in order along the line, as written: the back station is of the stretch before.

    Raises
    ------
    GeometryInputError
        An equation does not lie within the line, or comes before the one before it.

    Examples
    --------
    >>> two = stretches_between(1000.0, 3000.0, [1500.0], [2000.0])
    >>> two.start.tolist(), two.ahead.tolist()
    ([1000.0, 1500.0], [1000.0, 2000.0])
    """
    starts, aheads = [float(start)], [float(start)]
    pairs = zip(np.asarray(back, dtype=np.float64), np.asarray(ahead, dtype=np.float64), strict=True)
    for number, (was, becomes) in enumerate(pairs, start=1):
        here = starts[-1] + (was - aheads[-1])
        if not (np.isfinite(here) and np.isfinite(becomes)):
            raise GeometryInputError(f"Station equation {number} lacks a station; give back and ahead.")
        if not starts[-1] + TIE < here < end - TIE:
            raise GeometryInputError(
                f"Station equation {number}, back {was:.2f}, does not lie within its stretch, which runs "
                f"from {aheads[-1]:.2f} to {aheads[-1] + end - starts[-1]:.2f}."
            )
        starts.append(float(here))
        aheads.append(float(becomes))
    return Stretches(start=np.array(starts), ahead=np.array(aheads), end=float(end))


def called(stretches: Stretches, station: ArrayLike) -> tuple[Floats, Integers]:
    """What continuous stations are called, and how many equations they lie after; -1 where there is no station.

    Examples
    --------
    >>> two = stretches_between(1000.0, 3000.0, [1500.0], [2000.0])
    >>> written, passed = called(two, [1499.0, 1500.0, np.nan])
    >>> written.tolist(), passed.tolist()
    ([1499.0, 2000.0, nan], [0, 1, -1])
    """
    station = np.asarray(station, dtype=np.float64)
    row = np.clip(np.searchsorted(stretches.start, station + TIE, side="right") - 1, 0, None)
    known = np.isfinite(station)
    written = stretches.ahead[row] + (station - stretches.start[row])
    return np.where(known, written, np.nan), np.where(known, row, -1)


def continuous(stretches: Stretches, written: float, passed: int | None = None) -> tuple[float, ...]:
    """Every continuous station that a written one can mean.

    Parameters
    ----------
    stretches : Stretches
    written : float
        As the drawing has it.
    passed : int, optional
        How many equations it lies after; without it all are tried.

    Returns
    -------
    tuple of float
        None where no stretch has such a station; two and more where the number occurs again.

    Examples
    --------
    >>> overlap = stretches_between(1000.0, 3000.0, [1500.0], [1400.0])
    >>> continuous(overlap, 1450.0), continuous(overlap, 1450.0, 1), continuous(overlap, 9000.0)
    ((1450.0, 1550.0), (1550.0,), ())
    """
    ends = np.append(stretches.start[1:], stretches.end)
    here = stretches.start + (written - stretches.ahead)
    fits = (here >= stretches.start - SLACK) & (here <= ends + SLACK)
    # the place of an equation itself has two names and is one place
    rows = [row for row in np.flatnonzero(fits) if passed is None or row == passed]
    places = sorted(float(here[row]) for row in rows)
    return tuple(at for i, at in enumerate(places) if i == 0 or at - places[i - 1] > 2 * SLACK)
