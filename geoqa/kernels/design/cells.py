"""A sparse grid of square cells that says which elements may be near a place.

Elements are written into every cell they may touch, long ones piece by piece, so
that a cell lists each element once. Cells are kept as one sorted array of cell
numbers; the cells of one row stand next to each other in it, so a search window
is a few ranges, one per row of cells.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.design.along_elements import points_along
from geoqa.kernels.design.elements import Elements
from geoqa.kernels.design.nearest_on_element import Courses, prepare

MARGIN = 0.1  # of a cell; a list is complete this far beyond its own cell

_PIECE = 1.5  # cells; a longer element is written piece by piece, so that its box stays close to it
_KEY_BITS = 62
_MOST_PIECES = 4_000_000
_BUILD_ROWS = 1 << 16


@dataclass(frozen=True, kw_only=True, eq=False)
class ElementIndex:
    """Elements sorted into cells; made by `index_elements`, usable many times.

    Attributes
    ----------
    courses : Courses
        The elements, prepared for measuring.
    groups : (g,) int64 or None
        The group numbers in use, ascending; None when groups are not told apart.
    element_group : (m,) int64 or None
        Group of every element.
    origin : (2,) float64
        Corner of cell (0, 0).
    cell, margin : float
        Side of a cell; how far beyond its elements a cell's list is complete.
    columns, rows : int
        Size of the grid.
    key : (c,) int64
        Numbers of the cells in use, ascending.
    first : (c + 1,) int64
        Where the list of each cell starts in `entry`.
    entry : (e,) int32
        Element rows, ascending within a cell.
    """

    courses: Courses
    groups: Integers | None
    element_group: Integers | None
    origin: Floats
    cell: float
    margin: float
    columns: int
    rows: int
    key: Integers
    first: Integers
    entry: np.ndarray


class Ranges(NamedTuple):
    """Ranges of `entry` to look at: of each range its start and size, of each point its number of ranges."""

    start: np.ndarray
    size: np.ndarray
    per_point: np.ndarray


def index_elements(elements: Elements, *, reach: float, element_group: ArrayLike | None = None) -> ElementIndex:
    """Sort elements into cells, for use in many searches.

    Parameters
    ----------
    elements : Elements
        The design lines.
    reach : float
        The usual search distance. It tunes the size of the cells; searches with
        another reach give the same answers.
    element_group : (m,) int array, optional
        Group (kind) of every element, when a search keeps groups apart.

    Returns
    -------
    ElementIndex
        To be passed to `nearest` and `candidates`.

    Raises
    ------
    GeometryInputError
        If `reach` is not a positive length or groups do not fit the elements.

    Examples
    --------
    >>> from geoqa.kernels.design.element_making import from_vertices
    >>> index = index_elements(from_vertices([[0, 0], [500, 0]], [0, 0]), reach=10.0)
    >>> sorted(set(index.entry.tolist()))
    [0]
    """
    if not (np.isfinite(reach) and reach > 0):
        raise GeometryInputError(f"The reach of a search is {reach}; give a positive length.")
    courses = prepare(elements)
    groups, codes, element_group = _groups(element_group, len(elements))
    cell = _cell_size(elements.length[courses.live], reach)
    origin, extent = _extent(elements, MARGIN * cell)
    row_bits = max(len(elements), 1).bit_length()
    group_bits = 0 if groups is None else len(groups).bit_length()
    while np.sum(np.log2(extent / cell + 3)) + row_bits + group_bits > _KEY_BITS:
        cell *= 2
    origin -= 2 * MARGIN * cell
    columns, rows = (np.floor((extent + 4 * MARGIN * cell) / cell).astype(np.int64) + 1).tolist()

    packed = [
        _packed(courses, live, codes, origin, cell, columns, rows, row_bits)
        for live in np.array_split(courses.live, len(courses.live) // _BUILD_ROWS + 1)
    ]
    listed = np.sort(np.concatenate(packed))
    del packed
    listed = listed[np.append(True, listed[1:] != listed[:-1])[: len(listed)]]
    entry = (listed & ((1 << row_bits) - 1)).astype(np.int32)
    listed >>= row_bits
    begin = np.flatnonzero(np.append(True, listed[1:] != listed[:-1])[: len(listed)])
    return ElementIndex(
        courses=courses,
        groups=groups,
        element_group=element_group,
        origin=origin,
        cell=cell,
        margin=MARGIN * cell,
        columns=columns,
        rows=rows,
        key=listed[begin],
        first=np.append(begin, len(listed)),
        entry=entry,
    )


def _groups(element_group: ArrayLike | None, count: int) -> tuple[Integers | None, Integers | None, Integers | None]:
    """Group numbers in use, the place of each element's group among them, and the groups as an array."""
    if element_group is None:
        return None, None, None
    element_group = np.array(element_group, dtype=np.int64)
    if element_group.shape != (count,):
        raise GeometryInputError(
            f"Element groups have shape {element_group.shape}; give one for each of {count} elements."
        )
    groups, codes = np.unique(element_group, return_inverse=True)
    return groups, codes, element_group


def _cell_size(length: Floats, reach: float) -> float:
    """Side of a cell: about the usual element, bounded by the reach and by the number of pieces."""
    usual = float(np.mean(length)) if len(length) else reach
    side = min(max(usual, reach / 8), max(reach, usual / 64))
    return max(side, float(np.sum(length)) / _MOST_PIECES, 1e-6)


def _extent(elements: Elements, margin: float) -> tuple[Floats, Floats]:
    """Lowest corner and size of a box round all elements."""
    if not len(elements):
        return np.zeros(2), np.ones(2)
    beyond = margin + np.max(_overhang(elements.length, elements.curvature))
    low = np.minimum(elements.start.min(axis=0), elements.end.min(axis=0)) - beyond
    high = np.maximum(elements.start.max(axis=0), elements.end.max(axis=0)) + beyond
    return low, high - low


def _overhang(length: Floats, curvature: Floats) -> Floats:
    """How far an arc may leave its chord: r (1 - cos t/2) <= r t^2 / 8, and never more than half its length."""
    return np.minimum(length * length * np.abs(curvature) / 8, length / 2)


def _packed(
    courses: Courses,
    live: Integers,
    codes: Integers | None,
    origin: Floats,
    cell: float,
    columns: int,
    rows: int,
    row_bits: int,
) -> Integers:
    """Cell number and element row, in one integer, for every cell each element may touch."""
    length = courses.elements.length[live]
    pieces = np.maximum(np.ceil(length / (_PIECE * cell)), 1).astype(np.int64)
    row = np.repeat(live, pieces)
    part = np.arange(len(row)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    step = np.repeat(length / pieces, pieces)
    head, tail = courses.elements.start[row], courses.elements.end[row]
    inner = np.flatnonzero(np.repeat(pieces > 1, pieces))
    if inner.size:
        head[inner] = points_along(courses.elements, row[inner], part[inner] * step[inner])[0]
        tail[inner] = points_along(courses.elements, row[inner], (part[inner] + 1) * step[inner])[0]
    beyond = MARGIN * cell + _overhang(step, courses.curvature[row])[:, None]
    low = np.floor((np.minimum(head, tail) - beyond - origin) / cell).astype(np.int64)
    high = np.floor((np.maximum(head, tail) + beyond - origin) / cell).astype(np.int64)

    across, up = (high - low + 1).T
    copies = across * up
    which = np.repeat(np.arange(len(row)), copies)
    part = np.arange(len(which)) - np.repeat(np.cumsum(copies) - copies, copies)
    upward = low[which, 1] + part // across[which]
    if codes is not None:
        upward += codes[row[which]] * rows
    return ((upward * columns + low[which, 0] + part % across[which]) << row_bits) | row[which]


def own_cells(index: ElementIndex, east: Floats, north: Floats, code: Integers | None) -> Integers:
    """Number of the cell each point lies in, points outside the grid in its nearest cell; for sorting."""
    column = _cell_of(east, index.origin[0], index.cell, index.columns)
    row = _cell_of(north, index.origin[1], index.cell, index.rows)
    np.clip(column, 0, index.columns - 1, out=column)
    np.clip(row, 0, index.rows - 1, out=row)
    if code is not None:
        row += code * index.rows
    return row * index.columns + column


def _cell_of(value: Floats, origin: float, cell: float, count: int) -> Integers:
    return np.clip(np.floor((value - origin) / cell), -1, count).astype(np.int64)


def same_cell(index: ElementIndex, east: Floats, north: Floats, code: Integers | None) -> Ranges:
    """The list of the cell each point lies in: complete to within the margin."""
    column = _cell_of(east, index.origin[0], index.cell, index.columns)
    row = _cell_of(north, index.origin[1], index.cell, index.rows)
    inside = (column >= 0) & (column < index.columns) & (row >= 0) & (row < index.rows)
    if code is not None:
        row += code * index.rows
    wanted = row * index.columns + column
    place = np.searchsorted(index.key, wanted).clip(max=max(len(index.key) - 1, 0))
    inside &= index.key[place] == wanted
    start = index.first[place]
    return Ranges(start, np.where(inside, index.first[place + 1] - start, 0), np.ones(len(east), dtype=np.int64))


def window(index: ElementIndex, east: Floats, north: Floats, code: Integers | None, radius: Floats) -> Ranges:
    """The lists of all cells that come within a radius of each point, one range per row of cells."""
    # the slack keeps a point on the rim from being lost to rounding
    half = np.maximum(radius - index.margin, 0.0) + 1e-6 * index.cell
    left = np.maximum(_cell_of(east - half, index.origin[0], index.cell, index.columns), 0)
    right = np.minimum(_cell_of(east + half, index.origin[0], index.cell, index.columns), index.columns - 1)
    bottom = np.maximum(_cell_of(north - half, index.origin[1], index.cell, index.rows), 0)
    top = np.minimum(_cell_of(north + half, index.origin[1], index.cell, index.rows), index.rows - 1)
    count = np.where(right >= left, np.maximum(top - bottom + 1, 0), 0)
    which = np.repeat(np.arange(len(east)), count)
    row = bottom[which] + np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    if code is not None:
        row += code[which] * index.rows
    row *= index.columns
    start = index.first[np.searchsorted(index.key, row + left[which])]
    stop = index.first[np.searchsorted(index.key, row + right[which], side="right")]
    return Ranges(start, stop - start, count)
