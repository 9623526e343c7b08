"""Stations as the drawing writes them: regions between station equations.

A continuous station is a distance on top of the start station. At an equation the drawing goes on counting from
another number; from there on a place is called by its region, counted from 1. A place just at an equation is
called by the station ahead.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.baseline.course import TIE

SLACK = 0.02
"""How far past the end of its region a written station may lie: it is rounded, and so is the length of the line."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Regions:
    """Stretches between station equations, one row a region.

    Attributes
    ----------
    start : (r,) float64
        Continuous station at which the region starts; the first starts with the line.
    ahead : (r,) float64
        What that place is called in the region.
    end : float
        Continuous station of the end of the line.
    """

    start: Floats
    ahead: Floats
    end: float

    def __len__(self) -> int:
        return len(self.start)


def regions(start: float, end: float, back: ArrayLike, ahead: ArrayLike) -> Regions:
    """Regions of a line from its equations.

    Parameters
    ----------
    start, end : float
        Stations of the ends of the line, continuous.
    back, ahead : (e,) array
        Equations, in order along the line, as written: the back station is of the region before.

    Raises
    ------
    GeometryInputError
        An equation does not lie within the line, or comes before the one before it.

    Examples
    --------
    >>> two = regions(1000.0, 3000.0, [1500.0], [2000.0])
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
                f"Station equation {number}, back {was:.2f}, does not lie within its stretch: region {number} runs "
                f"from {aheads[-1]:.2f} to {aheads[-1] + end - starts[-1]:.2f}."
            )
        starts.append(float(here))
        aheads.append(float(becomes))
    return Regions(start=np.array(starts), ahead=np.array(aheads), end=float(end))


def called(stretches: Regions, station: ArrayLike) -> tuple[Floats, Integers]:
    """What continuous stations are called, and in which region, counted from 1.

    Examples
    --------
    >>> two = regions(1000.0, 3000.0, [1500.0], [2000.0])
    >>> written, region = called(two, [1499.0, 1500.0, np.nan])
    >>> written.tolist(), region.tolist()
    ([1499.0, 2000.0, nan], [1, 2, 0])
    """
    station = np.asarray(station, dtype=np.float64)
    row = np.clip(np.searchsorted(stretches.start, station + TIE, side="right") - 1, 0, None)
    known = np.isfinite(station)
    written = stretches.ahead[row] + (station - stretches.start[row])
    return np.where(known, written, np.nan), np.where(known, row + 1, 0)


def continuous(stretches: Regions, written: float, region: int | None = None) -> tuple[float, ...]:
    """Every continuous station that a written one can mean.

    Parameters
    ----------
    stretches : Regions
    written : float
        As the drawing has it.
    region : int, optional
        Counted from 1; without it all are tried.

    Returns
    -------
    tuple of float
        None where no region has such a station; two and more where the number occurs again.

    Examples
    --------
    >>> overlap = regions(1000.0, 3000.0, [1500.0], [1400.0])
    >>> continuous(overlap, 1450.0), continuous(overlap, 1450.0, 2), continuous(overlap, 9000.0)
    ((1450.0, 1550.0), (1550.0,), ())
    """
    ends = np.append(stretches.start[1:], stretches.end)
    here = stretches.start + (written - stretches.ahead)
    fits = (here >= stretches.start - SLACK) & (here <= ends + SLACK)
    # the place of an equation itself has two names and is one place
    rows = [row for row in np.flatnonzero(fits) if region is None or row + 1 == region]
    places = sorted(float(here[row]) for row in rows)
    return tuple(at for i, at in enumerate(places) if i == 0 or at - places[i - 1] > 2 * SLACK)
