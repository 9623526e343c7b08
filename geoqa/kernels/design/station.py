"""Station and offset of points beside design lines, exactly as if every element had been tried."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.design.cells import ElementIndex, Ranges, index_elements, own_cells, same_cell, window
from geoqa.kernels.design.elements import Elements
from geoqa.kernels.design.nearest_on_element import TIE, beside, distance_squared

_POINTS = 1 << 15  # points worked on at a time, so that memory does not grow with their number
_STRETCH = 1 << 20  # points sorted by cell at a time; more would no longer fit the caches
_PAIRS = 1 << 18
_WIDER = 3.0  # each search that finds nothing is followed by one this much wider
_NO_ROW = np.iinfo(np.int32).max
_MEASURES = ("station", "offset", "along", "distance", "elevation", "azimuth")


@dataclass(frozen=True, kw_only=True, eq=False)
class Nearest:
    """The nearest design line of every point; arrays of shape (n,).

    Attributes
    ----------
    element, line : int64
        Row of the nearest element and number of its line; -1 where none is in reach.
    station : float64
        Station of the nearest place on the line; at an end of the line for
        points past it.
    offset : float64
        Signed distance to the right of the line's direction (left negative).
        Past an end of a line it is measured square to the direction there.
    along : float64
        How far past the end of the line: positive past its last point, negative
        before its first, 0 beside it.
    distance : float64
        From the point to the nearest place: hypot(offset, along).
    elevation : float64
        Design elevation at that station.
    azimuth : float64
        Direction of the line there, degrees clockwise from grid north; at a
        vertex half-way between the two elements.
    end : int8
        -1 before the start of the line, +1 past its end, 0 beside it.

    Notes
    -----
    Numbers are NaN where nothing is in reach, where the point lacks a coordinate
    and, for elevation alone, where the design does not know it. A line without
    length has no direction: offset, along and azimuth are NaN, distance is not.
    """

    element: Integers
    line: Integers
    station: Floats
    offset: Floats
    along: Floats
    distance: Floats
    elevation: Floats
    azimuth: Floats
    end: np.ndarray


@dataclass(frozen=True, kw_only=True, eq=False)
class Candidates:
    """Every line in reach of every point, one row a pair; sorted by point, then line.

    Attributes
    ----------
    point : int64
        Row of the point.
    element, line, station, offset, along, distance, elevation, azimuth, end
        As in `Nearest`, for the nearest place of that line.
    """

    point: Integers
    element: Integers
    line: Integers
    station: Floats
    offset: Floats
    along: Floats
    distance: Floats
    elevation: Floats
    azimuth: Floats
    end: np.ndarray


@dataclass(frozen=True)
class _SortedPoints:
    """Points that can be searched for, sorted by cell."""

    row: Integers
    east: Floats
    north: Floats
    code: Integers | None

    def take(self, rows: np.ndarray | slice) -> _SortedPoints:
        """Some of the points."""
        code = None if self.code is None else self.code[rows]
        return _SortedPoints(self.row[rows], self.east[rows], self.north[rows], code)


def nearest(
    points: ArrayLike,
    elements: Elements,
    *,
    reach: float,
    index: ElementIndex | None = None,
    point_group: ArrayLike | None = None,
    element_group: ArrayLike | None = None,
) -> Nearest:
    """Find the nearest design line of every point, and where the point lies beside it.

    Parameters
    ----------
    points : (n, 2) array
        Easting and northing, in the unit of the elements; NaN where missing.
    elements : Elements
        The design lines.
    reach : float
        Lines farther away than this are not considered.
    index : ElementIndex, optional
        From `index_elements`, for repeated searches of the same elements.
    point_group, element_group : int arrays, optional
        A point is measured against elements of its own group (kind) only. With
        an `index` made with groups, `element_group` may be left out.

    Returns
    -------
    Nearest
        One row per point, in the order given.

    Raises
    ------
    GeometryInputError
        If shapes do not fit, `reach` is not positive, or the index belongs to
        other elements.

    Notes
    -----
    In the wedge outside a bend both elements end at the vertex. The side is then
    told by the sum of their two unit tangents; where the line turns straight
    back, by the first. Distances that differ by less than 1e-8 are equal; of
    equal places the first line, then the smallest station is taken. A line whose
    ends meet has no ends.

    Examples
    --------
    >>> from geoqa.kernels.design.element_making import from_vertices
    >>> wall = from_vertices([[1000, 1000], [1300, 1400]], [0, 0])
    >>> found = nearest([[1200, 1200], [1136, 1248], [997, 996], [0, 0]], wall, reach=100.0)
    >>> found.station.tolist(), (found.offset.round(9) + 0.0).tolist()
    ([280.0, 280.0, 0.0, nan], [40.0, -40.0, 0.0, nan])
    >>> found.along.tolist(), found.end.tolist(), found.line.tolist()
    ([0.0, 0.0, -5.0, nan], [0, 0, -1, 0], [0, 0, 0, -1])
    """
    points, index, code = _checked(points, elements, reach, index, point_group, element_group)
    count = len(points)
    element = np.full(count, -1)
    columns = _unmeasured(count)
    for part in _sorted_parts(points, index, code):
        row = _nearest_rows(part, index, reach)
        hit = row >= 0
        row, part = row[hit], part.take(hit)
        element[part.row] = row
        _measure(columns, part.row, index, row, part.east, part.north)
    return Nearest(element=element, line=_lines(elements, element), **columns)


def candidates(
    points: ArrayLike,
    elements: Elements,
    *,
    reach: float,
    index: ElementIndex | None = None,
    point_group: ArrayLike | None = None,
    element_group: ArrayLike | None = None,
) -> Candidates:
    """Find every design line in reach of every point.

    Parameters
    ----------
    points, elements, reach, index, point_group, element_group
        As in `nearest`.

    Returns
    -------
    Candidates
        One row for each point and line that are in reach of each other, with
        the same rules as in `nearest`. Points without any line have no row.

    Raises
    ------
    GeometryInputError
        As in `nearest`.

    Examples
    --------
    >>> from geoqa.kernels.design.element_making import from_vertices
    >>> curb = from_vertices([[0, 0], [0, 100], [3, 0], [3, 100]], [0, 0, 1, 1])
    >>> found = candidates([[1, 50], [9, 50]], curb, reach=5.0)
    >>> found.point.tolist(), found.line.tolist(), found.offset.tolist()
    ([0, 0], [0, 1], [1.0, -2.0])
    """
    points, index, code = _checked(points, elements, reach, index, point_group, element_group)
    bits = max(len(elements), 1).bit_length()
    packed = [np.zeros(0, dtype=np.int64)]
    for part in _sorted_parts(points, index, code):
        packed += [part.row[owner] << bits | row for owner, row in _rows_in_reach(part, index, reach)]
    point, element = _unpacked(np.sort(np.concatenate(packed)), bits)
    columns = _unmeasured(len(point))
    for begin in range(0, len(point), _POINTS):
        rows = slice(begin, begin + _POINTS)
        east, north = points[point[rows]].T
        _measure(columns, rows, index, element[rows], east, north)
    return Candidates(point=point, element=element, line=_lines(elements, element), **columns)


def _unmeasured(count: int) -> dict[str, np.ndarray]:
    columns = {name: np.full(count, np.nan) for name in _MEASURES}
    columns["end"] = np.zeros(count, dtype=np.int8)
    return columns


def _measure(
    columns: dict[str, np.ndarray],
    rows: np.ndarray | slice,
    index: ElementIndex,
    element: Integers,
    east: Floats,
    north: Floats,
) -> None:
    measured = beside(index.courses, element, east, north)
    for name, values in columns.items():
        values[rows] = getattr(measured, name)


def _lines(elements: Elements, element: Integers) -> Integers:
    if not len(elements):
        return np.full(len(element), -1)
    return np.append(elements.line, -1)[element]  # -1, for none, is the last


def _checked(
    points: ArrayLike,
    elements: Elements,
    reach: float,
    index: ElementIndex | None,
    point_group: ArrayLike | None,
    element_group: ArrayLike | None,
) -> tuple[Floats, ElementIndex, Integers | None]:
    """Points as an array, an index that fits, and the place of each point's group (-1: no such group)."""
    points = np.asarray(points, dtype=np.float64)
    if points.size == 0:
        points = points.reshape(0, 2)
    if points.ndim != 2 or points.shape[1] != 2:
        raise GeometryInputError(f"Points have shape {points.shape}; give (n, 2) eastings and northings.")
    if not (np.isfinite(reach) and reach > 0):
        raise GeometryInputError(f"The reach of a search is {reach}; give a positive length.")
    if index is None:
        index = index_elements(elements, reach=reach, element_group=element_group)
    elif index.courses.elements is not elements:
        raise GeometryInputError("The index was made from other elements; make one from these with index_elements.")
    elif element_group is not None and (
        index.element_group is None or not np.array_equal(index.element_group, element_group)
    ):
        raise GeometryInputError("The index was made with other element groups; pass the same to index_elements.")
    if (point_group is None) != (index.groups is None):
        raise GeometryInputError("Groups are known for points or for elements only; give both, or neither.")
    if point_group is None or index.groups is None:
        return points, index, None
    point_group = np.asarray(point_group, dtype=np.int64)
    if point_group.shape != (len(points),):
        raise GeometryInputError(
            f"Point groups have shape {point_group.shape}; give one for each of {len(points)} points."
        )
    place = np.searchsorted(index.groups, point_group).clip(max=max(len(index.groups) - 1, 0))
    known = index.groups[place] == point_group if len(index.groups) else np.zeros(len(points), dtype=bool)
    return points, index, np.where(known, place, -1)


def _sorted_parts(points: Floats, index: ElementIndex, code: Integers | None) -> Iterator[_SortedPoints]:
    """The searchable points, some thousands at a time; sorted by cell within a stretch that fits the caches."""
    if not len(index.entry):
        return
    for begin in range(0, len(points), _STRETCH):
        stretch = slice(begin, begin + _STRETCH)
        valid = np.isfinite(points[stretch, 0]) & np.isfinite(points[stretch, 1])
        if code is not None:
            valid &= code[stretch] >= 0
        row = begin + np.flatnonzero(valid)
        row = row[_by_cell(own_cells(index, points[row, 0], points[row, 1], None if code is None else code[row]))]
        for first in range(0, len(row), _POINTS):
            part = row[first : first + _POINTS]
            yield _SortedPoints(part, points[part, 0], points[part, 1], None if code is None else code[part])


def _by_cell(cell: Integers) -> Integers:
    """Order by the number of the cell."""
    bits = max(len(cell), 1).bit_length()
    if int(cell.max(initial=0)).bit_length() + bits >= 63:
        return np.argsort(cell, kind="stable")
    # one sort of packed integers is several times faster than an argsort
    cell = (cell << bits) | np.arange(len(cell))
    cell.sort()
    return cell & ((1 << bits) - 1)


def _nearest_rows(part: _SortedPoints, index: ElementIndex, reach: float) -> Integers:
    """Element row of each point, -1 for none: own cell first, then ever wider for those still open."""
    best = np.full(len(part.row), np.inf)
    row = np.full(len(part.row), -1)
    radius = min(index.margin, reach)
    found = same_cell(index, part.east, part.north, part.code)
    pending = np.arange(len(part.row))
    known = np.full(len(part.row), radius)
    while True:
        near, which = _best(part.take(pending), index, found, reach)
        best[pending], row[pending] = near, which
        # done: nothing outside what was searched can be as near, or all of the reach was searched
        done = (near + TIE <= known) | (known >= reach)
        pending = pending[~done]
        if not pending.size:
            return row
        radius = min(radius * _WIDER, reach)
        known = np.where(np.isfinite(best[pending]), np.minimum(best[pending] + 2 * TIE, reach), radius)
        left = part.take(pending)
        found = window(index, left.east, left.north, left.code, known)


def _best(part: _SortedPoints, index: ElementIndex, lists: Ranges, reach: float) -> tuple[Floats, Integers]:
    """Distance and row of the nearest listed element of each point; inf and -1 where none is in reach."""
    best = np.full(len(part.row), np.inf)
    row = np.full(len(part.row), -1)
    for owner, count, entry, squared in _pairs(part, index, lists):
        start = np.cumsum(count) - count
        least = np.minimum.reduceat(squared, start)
        limit = np.minimum((np.sqrt(least) + TIE) ** 2, reach * reach)
        tied = np.where(squared <= np.repeat(limit, count), entry, _NO_ROW)
        first = np.minimum.reduceat(tied, start)
        hit = first != _NO_ROW
        best[owner[hit]] = np.sqrt(least[hit])
        row[owner[hit]] = first[hit]
    return best, row


def _rows_in_reach(part: _SortedPoints, index: ElementIndex, reach: float) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Point and element row of the nearest place of every line in reach, some at a time."""
    elements = index.courses.elements
    bits = max(len(elements), 1).bit_length()
    found = window(index, part.east, part.north, part.code, np.full(len(part.row), reach))
    for owner, count, entry, squared in _pairs(part, index, found):
        near = np.flatnonzero(squared <= reach * reach)
        if not near.size:
            continue
        packed = np.sort(np.repeat(owner, count)[near] << bits | entry[near])
        # an element is listed in several cells of one window
        point, row = _unpacked(packed[np.append(True, packed[1:] != packed[:-1])], bits)
        squared = distance_squared(index.courses, row, part.east[point], part.north[point])
        line = elements.line[row]
        start = np.flatnonzero(np.append(True, (point[1:] != point[:-1]) | (line[1:] != line[:-1])))
        limit = (np.sqrt(np.minimum.reduceat(squared, start)) + TIE) ** 2
        limit = np.repeat(limit, np.diff(np.append(start, len(row))))
        yield point[start], np.minimum.reduceat(np.where(squared <= limit, row, _NO_ROW), start)


def _unpacked(packed: Integers, bits: int) -> tuple[Integers, Integers]:
    return packed >> bits, packed & ((1 << bits) - 1)


def _pairs(
    part: _SortedPoints, index: ElementIndex, lists: Ranges
) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]]:
    """Points with listed elements: the point, how many pairs it has, and per pair element and squared distance."""
    until = np.append(0, np.cumsum(lists.size))
    last = np.cumsum(lists.per_point)
    total = until[last] - until[last - lists.per_point]
    through = np.cumsum(total)
    begin = 0
    while begin < len(total):
        before = through[begin - 1] if begin else 0
        stop = max(int(np.searchsorted(through, before + _PAIRS, side="right")), begin + 1)
        ranges = slice(last[begin] - lists.per_point[begin], last[stop - 1])
        size = lists.size[ranges]
        inside = np.arange(through[stop - 1] - before)
        inside += np.repeat(lists.start[ranges] - (np.cumsum(size) - size), size)
        entry = index.entry[inside]
        owner = begin + np.flatnonzero(total[begin:stop])
        count = total[owner]
        squared = distance_squared(
            index.courses, entry, np.repeat(part.east[owner], count), np.repeat(part.north[owner], count)
        )
        if len(owner):
            yield owner, count, entry, squared
        begin = stop
