"""How far points of a pipe lie from the straight line between its ends, and where it falls the wrong way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Booleans, Floats, Integers


@dataclass(frozen=True, kw_only=True, eq=False)
class FromChord:
    """Points of lines against the chord from the first to the last point of each.

    Attributes
    ----------
    first, last : (n,) int64
        Rows of the ends of the line of each point.
    share : (n,) float64
        Place between the two: 0 at the first, 1 at the last.
    vertical : (n,) float64
        Above the chord: positive is high; 0 at the ends.
    """

    first: Integers
    last: Integers
    share: Floats
    vertical: Floats


def from_chord(line: ArrayLike, points: ArrayLike) -> FromChord:
    """Deviation of points from the straight line between the ends of their line.

    Parameters
    ----------
    line : (n,) int array
        Line of each point; points of one line stand together, in their order along it.
    points : (n, 3) array
        Easting, northing, elevation.

    Returns
    -------
    FromChord
        NaN on lines whose ends lie at one place.

    Examples
    --------
    A belly of 0.2 in the middle of a pipe:

    >>> found = from_chord([0, 0, 0], [[0, 0, 10.0], [50, 0, 9.3], [100, 0, 9.0]])
    >>> found.vertical.round(3).tolist(), found.share.tolist()
    ([0.0, -0.2, 0.0], [0.0, 0.5, 1.0])
    """
    line, points = np.asarray(line), np.asarray(points, dtype=np.float64).reshape(-1, 3)
    begins = np.append(True, line[1:] != line[:-1])[: len(line)]
    starts = np.flatnonzero(begins)
    ends = np.append(starts[1:], len(line)) - 1
    number = np.cumsum(begins) - 1
    first, last = starts[number], ends[number]
    chord = points[last, :2] - points[first, :2]
    length = np.hypot(chord[:, 0], chord[:, 1])
    with np.errstate(divide="ignore", invalid="ignore"):
        along = chord / np.where(length > 0, length, np.nan)[:, None]
        out = points[:, :2] - points[first, :2]
        share = (out * along).sum(axis=1) / length
    level = (1 - share) * points[first, 2] + share * points[last, 2]
    at_end = (np.arange(len(line)) == first) | (np.arange(len(line)) == last)
    return FromChord(
        first=first,
        last=last,
        share=share,
        vertical=np.where(at_end & np.isfinite(share), 0.0, points[:, 2] - level),
    )


def reversals(line: ArrayLike, elevation: ArrayLike, u: ArrayLike, *, falls: ArrayLike, times: float = 3.0) -> Booleans:
    """Legs between neighbours that rise where the line falls, beyond their uncertainty.

    Parameters
    ----------
    line : (n,) int array
        Line of each point, in order along it.
    elevation, u : (n,) array
        And its 1 sigma that neighbours do not share.
    falls : (n,) array
        Whether the line as a whole falls in the order of its points: +1, -1 where it rises, 0 not known.
    times : float
        Standard uncertainties of the difference that a rise must exceed.

    Returns
    -------
    (n,) bool array
        True at the point where such a leg begins.

    Examples
    --------
    >>> reversals([0, 0, 0], [10.0, 9.5, 9.7], [0.02] * 3, falls=[1, 1, 1]).tolist()
    [False, True, False]
    """
    line, elevation, u, falls = (np.asarray(each) for each in (line, elevation, u, falls))
    found = np.zeros(len(line), dtype=bool)
    if len(line) < 2:
        return found
    rise = (elevation[1:] - elevation[:-1]) * falls[:-1]
    with np.errstate(invalid="ignore"):
        found[:-1] = (line[1:] == line[:-1]) & (rise > times * np.hypot(u[1:], u[:-1]))
    return found
