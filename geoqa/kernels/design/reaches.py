"""Where a line carries no evidence: reaches between shots that are too long."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers

_ROUNDING = 1e-8


@dataclass(frozen=True, kw_only=True, eq=False)
class Gaps:
    """Reaches without evidence, one row a reach; arrays of shape (k,).

    Attributes
    ----------
    line : int64
        Row of the line in `line_start` and `line_end`.
    start, end, length : float64
        Stations at both ends, and their difference.
    """

    line: Integers
    start: Floats
    end: Floats
    length: Floats


def gaps(
    station: ArrayLike, line: ArrayLike, line_start: ArrayLike, line_end: ArrayLike, *, spacing: ArrayLike
) -> Gaps:
    """Find the reaches of lines that lie farther from evidence than allowed.

    Parameters
    ----------
    station : (n,) array
        Stations at which there is evidence, in any order. NaN is no evidence,
        and so is a station beyond the ends of its line.
    line : (n,) int array
        Row of each station's line in `line_start`; negative for no line.
    line_start, line_end : (k,) array
        Stations of the ends of every line. A line with a missing end is not judged.
    spacing : float or (k,) array
        Longest reach allowed between neighbouring shots, and between an end of
        the line and the shot next to it.

    Returns
    -------
    Gaps
        Sorted by line, then station. A line without any evidence is one gap,
        however short it is. A spacing of NaN finds no other gaps on that line.

    Raises
    ------
    GeometryInputError
        If the arrays do not fit each other or a spacing is not positive.

    Examples
    --------
    >>> found = gaps([10, 25, 80, np.nan], [0, 0, 0, 1], [0, 0], [100, 8], spacing=25.0)
    >>> found.line.tolist(), found.start.tolist(), found.end.tolist(), found.length.tolist()
    ([0, 1], [25.0, 0.0], [80.0, 8.0], [55.0, 8.0])
    """
    evidence, owner, begins, ends, longest = _checked(station, line, line_start, line_end, spacing)
    count = len(begins)
    known = (owner >= 0) & np.isfinite(evidence)
    evidence, owner = evidence[known], owner[known]
    inside = (evidence >= begins[owner] - _ROUNDING) & (evidence <= ends[owner] + _ROUNDING)
    evidence, owner = evidence[inside], owner[inside]

    judged = np.flatnonzero(np.isfinite(begins) & np.isfinite(ends))
    # the ends of each line stand before and after its shots, whatever their stations
    place = np.concatenate([np.zeros(len(judged)), np.ones(len(evidence)), np.full(len(judged), 2.0)])
    at = np.concatenate([begins[judged], evidence, ends[judged]])
    of = np.concatenate([judged, owner, judged])
    order = np.lexsort((at, place, of))
    at, of = at[order], of[order]

    shots = np.bincount(owner, minlength=count)
    same = of[1:] == of[:-1]
    length = at[1:] - at[:-1]
    long = length > longest[of[:-1]] + _ROUNDING
    found = np.flatnonzero(same & (long | (shots[of[:-1]] == 0)))
    return Gaps(line=of[found], start=at[found], end=at[found + 1], length=length[found])


def _checked(
    station: ArrayLike, line: ArrayLike, line_start: ArrayLike, line_end: ArrayLike, spacing: ArrayLike
) -> tuple[Floats, Integers, Floats, Floats, Floats]:
    station = np.asarray(station, dtype=np.float64)
    line = np.asarray(line, dtype=np.int64)
    line_start, line_end = np.asarray(line_start, dtype=np.float64), np.asarray(line_end, dtype=np.float64)
    if station.ndim != 1 or station.shape != line.shape:
        raise GeometryInputError(f"{station.shape} stations have {line.shape} line rows; give one for each.")
    if line_start.ndim != 1 or line_start.shape != line_end.shape:
        raise GeometryInputError(f"{line_start.shape} line starts have {line_end.shape} ends; give one for each.")
    if line.size and line.max() >= len(line_start):
        raise GeometryInputError(
            f"A station names line row {line.max()}, but there are {len(line_start)} lines; rows count from 0."
        )
    spacing = np.asarray(spacing, dtype=np.float64)
    if spacing.shape not in ((), line_start.shape) or np.any(spacing <= 0):
        raise GeometryInputError(
            "The spacing of evidence must be a positive length, one for all lines or one for each."
        )
    return station, line, line_start, line_end, np.broadcast_to(spacing, line_start.shape)
