"""Stretches of lines: within an area, and what is left of a line without some of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.design.along_elements import chords
from geoqa.kernels.design.elements import Elements, line_table

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


class Spans(NamedTuple):
    """Stretches of lines, by line and station: line (n,) int64, start and end station (n,) float64."""

    line: Integers
    start: Floats
    end: Floats


def spans_of(rows: list[tuple[int, float, float]]) -> Spans:
    """Stretches of (line, start, end), sorted; those without length are left out.

    Examples
    --------
    >>> spans_of([(1, 0.0, 5.0), (0, 3.0, 3.0), (0, 1.0, 2.0)]).line.tolist()
    [0, 1]
    """
    kept = sorted(row for row in rows if row[2] > row[1])
    line, start, end = zip(*kept, strict=True) if kept else ((), (), ())
    return Spans(np.array(line, dtype=np.int64), np.array(start, dtype=np.float64), np.array(end, dtype=np.float64))


def outside_of(elements: Elements, area: BaseGeometry, *, least: float) -> Spans:
    """Stretches of lines that lie outside of an area.

    Parameters
    ----------
    elements : Elements
    area : Polygon or MultiPolygon
    least : float
        A shorter stretch outside is none.

    Examples
    --------
    >>> import shapely
    >>> from geoqa.kernels.design.element_making import from_vertices
    >>> lines = from_vertices([[0, 0], [100, 0], [0, 50], [100, 50], [10, 0], [20, 0]], [0, 0, 1, 1, 2, 2])
    >>> found = outside_of(lines, shapely.box(-5, -5, 40, 5), least=0.01)
    >>> found.line.tolist(), found.start.tolist(), found.end.tolist()
    ([0, 1], [40.0, 0.0], [100.0, 100.0])
    """
    import shapely

    table = line_table(elements)
    if not len(table.line):
        return spans_of([])
    drawn = chords(elements, max_sagitta=0.01)
    place = np.searchsorted(table.line, drawn.line)
    shapes = shapely.linestrings(drawn.coordinates, indices=place)
    shapely.prepare(area)
    within, apart = shapely.covers(area, shapes), shapely.disjoint(area, shapes)
    rows = [
        (int(table.line[at]), float(table.start_station[at]), float(table.end_station[at]))
        for at in np.flatnonzero(apart)
    ]
    first = np.searchsorted(place, np.arange(len(table.line) + 1))
    for at in np.flatnonzero(~within & ~apart).tolist():
        mine = slice(first[at], first[at + 1])
        for start, end in _crossing(shapes[at], drawn.coordinates[mine], drawn.station[mine], area):
            if end - start > least:
                rows.append((int(table.line[at]), start, end))
    return spans_of(rows)


def _crossing(
    shape: BaseGeometry, coordinates: Floats, station: Floats, area: BaseGeometry
) -> list[tuple[float, float]]:
    """Stretches of one line outside of an area that it touches."""
    import shapely

    along = np.append(0.0, np.cumsum(np.hypot(*np.diff(coordinates, axis=0).T)))
    met = shapely.get_coordinates(shapely.intersection(shape, area.boundary))
    cuts = np.unique(np.concatenate([[0.0, along[-1]], shapely.line_locate_point(shape, shapely.points(met))]))
    middle = shapely.line_interpolate_point(shape, (cuts[1:] + cuts[:-1]) / 2)
    out = ~shapely.covers(area, middle)
    at = np.interp(cuts, along, station)
    found: list[tuple[float, float]] = []
    for start, end in zip(at[:-1][out].tolist(), at[1:][out].tolist(), strict=True):
        if found and found[-1][1] == start:
            found[-1] = (found[-1][0], end)
        else:
            found.append((start, end))
    return found


def left_of(line: Integers, start: Floats, end: Floats, without: Spans) -> Spans:
    """What is left of lines without some stretches of them.

    Parameters
    ----------
    line : (n,) int array
    start, end : (n,) array
        Stations of the ends of each line; a line with a missing end is left as it is.
    without : Spans
        They may overlap.

    Examples
    --------
    >>> lines = np.array([0, 1]), np.array([0.0, 0.0]), np.array([100.0, 50.0])
    >>> left = left_of(*lines, spans_of([(0, 20.0, 30.0), (0, 25.0, 40.0), (1, 0.0, 50.0)]))
    >>> left.line.tolist(), left.start.tolist(), left.end.tolist()
    ([0, 0], [0.0, 40.0], [20.0, 100.0])
    """
    first, last = (np.searchsorted(without.line, line, side=side) for side in ("left", "right"))
    kept: list[tuple[int, float, float]] = []
    for number, one, other, a, b in zip(
        line.tolist(), start.tolist(), end.tolist(), first.tolist(), last.tolist(), strict=True
    ):
        at = one
        for nth in range(a, b):
            if without.start[nth] > at:
                kept.append((number, at, min(float(without.start[nth]), other)))
            at = max(at, float(without.end[nth]))
        if not at >= other or a == b:
            kept.append((number, at, other))
    numbers, starts, ends = ([row[nth] for row in kept] for nth in range(3))
    return Spans(np.array(numbers, dtype=np.int64), np.array(starts, dtype=float), np.array(ends, dtype=float))
