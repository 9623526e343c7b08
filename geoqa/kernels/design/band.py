"""Tolerance bands: the area in which a shot on a line is within its limits, for drawing only.

A band follows the rules of station and offset: strips beside each element, pie
pieces in the wedge outside a bend, flat at the ends unless round ones are asked for.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers
from geoqa.kernels.design.along_elements import points_along
from geoqa.kernels.design.band_corner import bend_step, corner
from geoqa.kernels.design.band_ends import round_end
from geoqa.kernels.design.band_outline import outline, outlines
from geoqa.kernels.design.elements import ARC, Elements, end_tangents, line_table, start_tangents

# far finer than anything drawn, yet coarse enough to survive at coordinates of millions
_GRID = 1e-6


def bands(
    elements: Elements, left: ArrayLike, right: ArrayLike, *, max_sagitta: float = 0.01, round_ends: bool = False
) -> list[shapely.Geometry]:
    """Draw the band between two widths beside every line.

    Parameters
    ----------
    elements : Elements
        The design lines.
    left, right : float or (lines,) array
        Widths to either side, 0 or more, in the order of `line_table(elements)`.
        NaN where there is no limit: nothing is drawn.
    max_sagitta : float
        Largest distance between a drawn edge and the true one on arcs.
    round_ends : bool
        Go round the ends of open lines, a quarter circle for either side, so that all within the widths of the line
        lies in the band; otherwise it ends square to the line, as station and offset count.

    Returns
    -------
    list of shapely geometries
        A Polygon or MultiPolygon for each line; empty where a width is missing,
        both are 0 or the line has no length.

    Raises
    ------
    GeometryInputError
        If a width is negative or the widths do not fit the lines.

    Examples
    --------
    >>> from geoqa.kernels.design.element_making import from_vertices
    >>> (band,) = bands(from_vertices([[0, 0], [0, 50]], [0, 0]), left=0.1, right=0.3)
    >>> [round(value, 9) for value in band.bounds], round(band.area, 9)
    ([-0.1, 0.0, 0.3, 50.0], 20.0)
    """
    table = line_table(elements)
    left, right = _widths("left", left, len(table.line)), _widths("right", right, len(table.line))
    if not max_sagitta > 0:
        raise GeometryInputError(f"A band cannot be drawn with a sagitta of {max_sagitta}; give a positive length.")
    lines = np.searchsorted(table.line, elements.line)
    edges = _edges(elements, elements.start[table.first][lines], left[lines], right[lines], max_sagitta)
    backward, forward = -start_tangents(elements), end_tangents(elements)
    drawn = []
    at_once = edges.all_outlined(elements, lines, table.first, table.closed | ~(left + right > 0), max_sagitta)
    for line, (first, last) in enumerate(zip(table.first, table.last, strict=True)):
        rows = first + np.flatnonzero(elements.length[first : last + 1] > 0)
        if not (left[line] + right[line] > 0 and rows.size):
            drawn.append(shapely.Polygon())
            continue
        if line in at_once and not round_ends:
            drawn.append(at_once[line])
            continue
        band = None
        if not table.closed[line] and rows.size == last - first + 1:
            band = edges.outlined(first, last, elements, max_sagitta)
        if band is None:
            after = np.append(rows[1:], rows[0]) if table.closed[line] else rows[1:]
            parts = [edges.strips(first, last), *edges.wedges(rows[: len(after)], after, max_sagitta)]
            band = shapely.set_precision(shapely.union_all(np.concatenate(parts)), _GRID)
        if round_ends and not table.closed[line]:
            out = backward[rows[0]], forward[rows[-1]]
            caps = edges.caps(rows[0], rows[-1], out, left[line], right[line], max_sagitta)
            band = shapely.set_precision(shapely.union_all([band, *caps]), _GRID)
        drawn.append(shapely.transform(band, lambda xy, origin=elements.start[first]: xy + origin))
    return drawn


def _widths(name: str, given: ArrayLike, lines: int) -> Floats:
    width = np.asarray(given, dtype=np.float64)
    if width.shape not in ((), (lines,)):
        raise GeometryInputError(
            f"Band widths '{name}' have shape {width.shape}; give one, or one for each of {lines} lines."
        )
    if np.any((width < 0) | np.isinf(width)):
        raise GeometryInputError(f"A band width '{name}' is negative or endless; widths count outward from the line.")
    return np.broadcast_to(width, lines)


class _Edges:
    """Places along every element, with the edges of its band, each line from a local origin."""

    def __init__(self, middle: Floats, left: Floats, right: Floats, first: Integers) -> None:
        self.middle, self.left, self.right, self.first = middle, left, right, first

    def strips(self, first: int, last: int) -> np.ndarray:
        """Pieces of the elements from row `first` to row `last`, with corners on the line itself too."""
        here = np.arange(self.first[first], self.first[last + 1] - 1)
        here = here[~np.isin(here, self.first[first + 1 : last + 1] - 1)]
        there = here + 1
        around = (self.left[here], self.left[there], self.middle[there])
        back = (self.right[there], self.right[here], self.middle[here])
        corners = np.stack([*around, *back], axis=1)
        # an element without length has no direction, and no strip
        return shapely.polygons(corners[np.isfinite(corners).all(axis=(1, 2))])

    def all_outlined(
        self, elements: Elements, lines: Integers, heads: Integers, aside: Booleans, max_sagitta: float
    ) -> dict[int, shapely.Polygon]:
        """Bands of all lines that are drawn round their edge without rounding, but those that are put aside."""
        rows = np.flatnonzero(~aside[lines])
        places = np.repeat(~aside[lines], np.diff(self.first))
        counts = np.diff(self.first)[rows]
        return outlines(
            self.middle[places],
            self.left[places],
            self.right[places],
            first=np.append(0, np.cumsum(counts)),
            line=lines[rows],
            length=elements.length[rows],
            curved=elements.shape[rows] == ARC,
            max_sagitta=max_sagitta,
            grid=_GRID,
            origin=elements.start[heads],
        )

    def outlined(self, first: int, last: int, elements: Elements, max_sagitta: float) -> shapely.Polygon | None:
        """Draw the whole band of a line round its edge, where it allows that."""
        begin, finish = self.first[first], self.first[last + 1]
        return outline(
            self.middle[begin:finish],
            self.left[begin:finish],
            self.right[begin:finish],
            first=self.first[first : last + 2] - begin,
            length=elements.length[first : last + 1],
            curved=elements.shape[first : last + 1] == ARC,
            max_sagitta=max_sagitta,
            grid=_GRID,
        )

    def caps(
        self, head: int, tail: int, out: tuple[Floats, Floats], left: float, right: float, max_sagitta: float
    ) -> list[shapely.Polygon]:
        """Round ends of an open line, given its first and last row with a length, and the directions out of it."""
        begin, finish = self.middle[self.first[head]], self.middle[self.first[tail + 1] - 1]
        # whoever looks back out of the start has the left side on the right
        return [
            *round_end(begin, out[0], left=right, right=left, max_sagitta=max_sagitta),
            *round_end(finish, out[1], left=left, right=right, max_sagitta=max_sagitta),
        ]

    def wedges(self, before: Integers, after: Integers, max_sagitta: float) -> list[np.ndarray]:
        """Pie pieces outside the bends between elements."""
        end, start = self.first[before + 1] - 1, self.first[after]
        return [
            _pies(self.middle[end], edge[end], edge[start], outside, max_sagitta)
            for edge, outside in ((self.left, 1.0), (self.right, -1.0))
        ]


def _edges(elements: Elements, origin: Floats, left: Floats, right: Floats, max_sagitta: float) -> _Edges:
    curvature = elements.curvature
    pieces = np.ones(len(elements), dtype=np.int64)
    arc = np.flatnonzero(curvature)
    outer = elements.radius[arc] + np.fmax(left, right)[arc]
    turned = elements.length[arc] / elements.radius[arc]
    pieces[arc] = np.ceil(turned / bend_step(np.nan_to_num(outer, nan=1.0), max_sagitta))
    first = np.append(0, np.cumsum(pieces + 1))
    row = np.repeat(np.arange(len(elements)), pieces + 1)
    share = (np.arange(len(row)) - first[row]) / pieces[row]
    point, tangent = points_along(elements, row, elements.length[row] * share)
    point[share == 1.0] = elements.end
    middle = point - origin[row]
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    left_edge = middle - normal * left[row, None]
    right_edge = middle + normal * right[row, None]
    # on the inner side of an arc a band ends at the centre
    for edge, width, side in ((left_edge, left, -1), (right_edge, right, 1)):
        beyond = np.flatnonzero((curvature * width * side)[row] > 1.0)
        edge[beyond] = elements.centre[row[beyond]] - origin[row[beyond]]
    return _Edges(middle, left_edge, right_edge, first)


def _pies(vertex: Floats, first: Floats, last: Floats, outside: float, max_sagitta: float) -> np.ndarray:
    """Sectors round vertices (n, 2) from one corner to another, where they open on the outside of the bend.

    `outside` is +1 on the left edge, which opens where the line turns right. Most bends are so slight that one
    chord draws the sector; only the others are made one by one.
    """
    one, other = first - vertex, last - vertex
    radius = np.hypot(*one.T)
    turn = np.arctan2(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0], (one * other).sum(axis=1))  # left positive
    back = np.abs(np.abs(turn) - np.pi) < 1e-9
    opens = (radius > 0) & (back | (turn * outside < 0))
    slight = opens & ~back & (np.abs(turn) <= bend_step(np.where(radius > 0, radius, 1.0), max_sagitta))
    triangles = shapely.polygons(np.stack([vertex[slight], first[slight], last[slight]], axis=1))
    wide = [
        _pie(vertex[row], one[row], -outside * np.pi / 2 if back[row] else turn[row], max_sagitta)
        for row in np.flatnonzero(opens & ~slight)
    ]
    return np.append(triangles, np.array(wide, dtype=object))


def _pie(vertex: Floats, one: Floats, turn: float, max_sagitta: float) -> shapely.Polygon:
    """Sector round a vertex, from the corner `one` through `turn`.

    Where a line turns straight back, each side is given its quarter of the half circle ahead.
    """
    return shapely.Polygon(np.concatenate([vertex[None], corner(vertex, one, turn, max_sagitta)]))
