"""The search for the nearest element compiled to machine code; everything else as in `station`.

Needs the optional package numba (``pip install "geoqa-survey[fast]"``), which is
imported on first use. The answers are those of `geoqa.kernels.design.station.nearest`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import MissingExtraError
from geoqa.kernels.design.cells import ElementIndex, index_elements
from geoqa.kernels.design.elements import Elements
from geoqa.kernels.design.nearest_on_element import TIE
from geoqa.kernels.design.station import WIDER, Nearest, SortedPoints, nearest_by


def nearest(
    points: ArrayLike,
    elements: Elements,
    *,
    reach: float,
    index: ElementIndex | None = None,
    point_group: ArrayLike | None = None,
    element_group: ArrayLike | None = None,
) -> Nearest:
    """Find the nearest design line of every point, with a compiled search.

    Parameters
    ----------
    points, elements, reach, index, point_group, element_group
        As in `geoqa.kernels.design.station.nearest`.

    Returns
    -------
    Nearest
        The same as from `geoqa.kernels.design.station.nearest`.

    Raises
    ------
    MissingExtraError
        If numba is not installed.
    GeometryInputError
        As in `geoqa.kernels.design.station.nearest`.

    Examples
    --------
    >>> from geoqa.kernels.design.element_making import from_vertices
    >>> wall = from_vertices([[0, 0], [0, 50]], [0, 0])
    >>> nearest([[1, 10]], wall, reach=5.0).offset.tolist()  # doctest: +SKIP
    [1.0]
    """
    search = _compiled()
    if index is None:
        index = index_elements(elements, reach=reach, element_group=element_group)
    table = _one_row_each(index)

    def rows(part: SortedPoints, index: ElementIndex, reach: float) -> np.ndarray:
        code = np.zeros(len(part.row), dtype=np.int64) if part.code is None else part.code
        sizes = index.cell, index.margin, float(reach)
        counts = index.columns, index.rows
        lists = index.key, index.first, index.entry
        return search(part.east, part.north, code, *index.origin, *sizes, *counts, *lists, table)

    return nearest_by(
        rows, points, elements, reach=reach, index=index, point_group=point_group, element_group=element_group
    )


def _one_row_each(index: ElementIndex) -> np.ndarray:
    """All numbers of an element side by side, in one line of the processor's cache."""
    courses = index.courses
    return np.column_stack(
        [
            courses.east,
            courses.north,
            courses.ahead_east,
            courses.ahead_north,
            courses.elements.length,
            courses.curvature,
            courses.end_east,
            courses.end_north,
        ]
    )


@cache
def _compiled() -> Callable[..., np.ndarray]:
    """Compile the loops below, once per process."""
    try:
        from numba import njit
    except ImportError as error:
        raise MissingExtraError(
            'The fast search needs the package numba, which is not installed; run pip install "geoqa-survey[fast]", '
            "or use geoqa.kernels.design.station, which gives the same answers."
        ) from error

    @njit(error_model="numpy")
    def squared_distance(east, north, row, table):
        east_gap, north_gap = east - table[row, 0], north - table[row, 1]
        ahead_east, ahead_north, length, k = table[row, 2], table[row, 3], table[row, 4], table[row, 5]
        along = east_gap * ahead_east + north_gap * ahead_north
        if k == 0.0:
            along = min(max(along, 0.0), length)
            east_gap = ahead_east * along - east_gap
            north_gap = ahead_north * along - north_gap
            return east_gap * east_gap + north_gap * north_gap
        aside = east_gap * ahead_north - north_gap * ahead_east
        to_start = east_gap * east_gap + north_gap * north_gap
        turned = math.atan2(k * along, 1.0 - k * aside) / k
        if turned < 0.0:
            turned += 2.0 * math.pi / abs(k)
        if turned <= length:
            offset = (2.0 * aside - k * to_start) / (1.0 + math.hypot(k * along, 1.0 - k * aside))
            return offset * offset
        to_end = (east - table[row, 6]) ** 2 + (north - table[row, 7]) ** 2
        return min(to_start, to_end)

    @njit(error_model="numpy")
    def first_not_below(key, wanted, low):
        """First place in `key`, from `low` on, that is not below `wanted`."""
        high = len(key)
        while low < high:
            middle = (low + high) // 2
            if key[middle] < wanted:
                low = middle + 1
            else:
                high = middle
        return low

    @njit(error_model="numpy")
    def cell_of(value, origin, cell, count):
        return int(min(max(math.floor((value - origin) / cell), -1.0), float(count)))

    @njit(error_model="numpy")
    def listed(east, north, start, stop, entry, table, least, limit, found):
        """Lower the least squared distance, and the row that is no farther than the limit."""
        for item in range(start, stop):
            row = entry[item]
            squared = squared_distance(east, north, row, table)
            least = min(least, squared)
            if squared <= limit and row < found:
                found = row
        return least, found

    @njit(error_model="numpy")
    def search(easts, norths, codes, east0, north0, cell, margin, reach, columns, rows, key, first, entry, table):
        result = np.full(len(easts), -1, dtype=np.int64)
        nothing = np.int64(len(table))
        for i in range(len(easts)):
            east, north = easts[i], norths[i]
            radius, half, limit, found = min(margin, reach), 0.0, -1.0, nothing
            while True:
                left = max(cell_of(east - half, east0, cell, columns), 0)
                right = min(cell_of(east + half, east0, cell, columns), columns - 1)
                bottom = max(cell_of(north - half, north0, cell, rows), 0)
                top = min(cell_of(north + half, north0, cell, rows), rows - 1)
                least, place = np.inf, 0
                if left <= right:
                    for line in range(bottom, top + 1):
                        base = (line + codes[i] * rows) * columns
                        place = first_not_below(key, base + left, place)
                        stop = place
                        while stop < len(key) and key[stop] <= base + right:
                            stop += 1
                        if stop > place:
                            least, found = listed(
                                east, north, first[place], first[stop], entry, table, least, limit, found
                            )
                if limit >= 0.0:
                    break
                best = math.sqrt(least)
                if best + TIE <= radius or radius >= reach:
                    # complete: once more over the same cells for the first of equals
                    limit = min((best + TIE) ** 2, reach * reach)
                    if least > limit:
                        break
                    continue
                radius = min(best + 2.0 * TIE if best <= reach else radius * WIDER, reach)
                half = max(radius - margin, 0.0) + 1e-6 * cell
            if found < nothing:
                result[i] = found
        return result

    return search
