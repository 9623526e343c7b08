"""Design lines as elements: straight legs and true circular arcs, in parallel arrays.

Every kernel that measures along or beside a design line reads this record. An
arc stays an arc; chords exist for drawing only.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.element_checks import check_elements

LINE = 0
ARC = 1

_TYPES = {"line": np.int64, "shape": np.int8, "sense": np.int8}
_PAIRS = ("start", "end", "centre")


@dataclass(frozen=True, kw_only=True, eq=False)
class Elements:
    """Elements of design lines, one row an element.

    Elements of one line stand together, in the order of their stations, and
    lines stand in the order of their numbers. Arrays are read-only.

    Attributes
    ----------
    line : (m,) int64
        Number of the line; does not decrease from row to row.
    shape : (m,) int8
        0 straight, 1 arc.
    start, end : (m, 2) float64
        Easting and northing. One linear unit throughout.
    centre : (m, 2) float64
        Centre of an arc; NaN for a straight element.
    radius : (m,) float64
        Radius of an arc, positive; NaN for a straight element.
    sense : (m,) int8
        +1 curves right (clockwise), -1 curves left, 0 straight.
    start_station, length : (m,) float64
        Station at the start, and length along the element.
    start_elevation, end_elevation : (m,) float64
        Design elevation at the ends; NaN where unknown.
    tolerance : float
        How far ends, radii and stations of the input may disagree before they
        are refused; also how close the two ends of a line must be to close it.

    Raises
    ------
    GeometryInputError
        If shapes of arrays differ, a coordinate is missing, an arc does not
        fit its centre and radius, or elements of one line do not join.

    Examples
    --------
    >>> leg = from_vertices([[0, 0], [30, 40]], [0, 0], start_station=100.0)
    >>> len(leg), leg.length.tolist(), leg.start_station.tolist()
    (1, [50.0], [100.0])
    """

    line: np.ndarray
    shape: np.ndarray
    start: np.ndarray
    end: np.ndarray
    centre: np.ndarray
    radius: np.ndarray
    sense: np.ndarray
    start_station: np.ndarray
    length: np.ndarray
    start_elevation: np.ndarray
    end_elevation: np.ndarray
    tolerance: float = 0.005

    def __post_init__(self) -> None:
        for field in fields(self):
            if field.name == "tolerance":
                continue
            values = np.array(getattr(self, field.name), dtype=_TYPES.get(field.name, np.float64))
            if field.name in _PAIRS and values.size == 0:
                values = values.reshape(0, 2)
            values.setflags(write=False)
            object.__setattr__(self, field.name, values)
        check_elements(self)

    def __len__(self) -> int:
        return len(self.line)

    @property
    def curvature(self) -> np.ndarray:
        """Signed curvature, sense over radius; 0 for straight elements."""
        return np.divide(self.sense, self.radius, out=np.zeros(len(self)), where=self.shape == ARC)


@dataclass(frozen=True, kw_only=True, eq=False)
class LineTable:
    """What each line is as a whole, one row a line.

    Attributes
    ----------
    line : (k,) int64
        Numbers of the lines, ascending.
    first, last : (k,) int64
        First and last element row.
    start_station, end_station : (k,) float64
        Stations of the two ends.
    closed : (k,) bool
        The end joins the start, and the line is longer than its tolerance.
    """

    line: np.ndarray
    first: np.ndarray
    last: np.ndarray
    start_station: np.ndarray
    end_station: np.ndarray
    closed: np.ndarray


def line_table(elements: Elements) -> LineTable:
    """Rows, stations and closure of every line.

    Parameters
    ----------
    elements : Elements
        Any number of lines.

    Returns
    -------
    LineTable
        One row per line, in the order of `elements`.

    Examples
    --------
    >>> square = from_vertices([[0, 0], [0, 9], [9, 9], [9, 0], [0, 0]], [4] * 5)
    >>> table = line_table(square)
    >>> table.line.tolist(), table.end_station.tolist(), table.closed.tolist()
    ([4], [36.0], [True])
    """
    line, first = np.unique(elements.line, return_index=True)
    last = np.append(first[1:], len(elements))[: len(first)] - 1
    start_station = elements.start_station[first]
    end_station = elements.start_station[last] + elements.length[last]
    gap = np.hypot(*(elements.end[last] - elements.start[first]).T)
    closed = (gap <= elements.tolerance) & (end_station - start_station > 2 * elements.tolerance)
    return LineTable(
        line=line, first=first, last=last, start_station=start_station, end_station=end_station, closed=closed
    )


def start_tangents(elements: Elements, row: np.ndarray | slice = slice(None)) -> np.ndarray:
    """Unit tangent at the start of elements, shape (m, 2).

    NaN for an element without length. On an arc the tangent is square to the
    radius through the start point.
    """
    start = elements.start[row]
    chord = elements.end[row] - start
    size = np.hypot(chord[:, 0], chord[:, 1])
    tangent = np.divide(chord, size[:, None], out=np.full(chord.shape, np.nan), where=size[:, None] > 0)
    arc = np.flatnonzero(elements.shape[row] == ARC)
    if arc.size:
        radial = start[arc] - elements.centre[row][arc]
        normal = -elements.sense[row][arc, None] * radial / np.hypot(radial[:, 0], radial[:, 1])[:, None]
        tangent[arc] = np.column_stack([-normal[:, 1], normal[:, 0]])
    return tangent


def end_tangents(elements: Elements) -> np.ndarray:
    """Unit tangent at the end of every element, shape (m, 2); NaN without length."""
    return _turned(start_tangents(elements), elements.curvature * elements.length)


def _turned(tangent: np.ndarray, angle: np.ndarray) -> np.ndarray:
    """Directions turned to the right by an angle in radians."""
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    return tangent * np.cos(angle)[:, None] + normal * np.sin(angle)[:, None]


def from_vertices(
    coordinates: ArrayLike,
    line_index: ArrayLike,
    *,
    start_station: ArrayLike = 0.0,
    tolerance: float = 0.005,
) -> Elements:
    """Straight elements between the vertices of one or many lines.

    Parameters
    ----------
    coordinates : (k, 2) or (k, 3) array
        Easting, northing and perhaps elevation (NaN where unknown) of the
        vertices, lines one after the other.
    line_index : (k,) int array
        Number of the line of each vertex; does not decrease.
    start_station : float or (lines,) array
        Station of the first vertex of every line. Stations restart per line.
    tolerance : float
        See `Elements`.

    Returns
    -------
    Elements
        One fewer than vertices for each line. A line of a single vertex gives
        one element without length, so that no line is lost.

    Raises
    ------
    GeometryInputError
        If a coordinate is missing or the arrays do not fit each other.

    Examples
    --------
    >>> bend = from_vertices([[0, 0, 7.0], [3, 4, 7.5], [3, 14, 8.0]], [0, 0, 0], start_station=100.0)
    >>> bend.start_station.tolist(), bend.length.tolist(), bend.end_elevation.tolist()
    ([100.0, 105.0], [5.0, 10.0], [7.5, 8.0])
    """
    bulges = np.zeros(len(np.asarray(line_index)))
    return from_bulges(coordinates, bulges, line_index, start_station=start_station, tolerance=tolerance)


def from_bulges(
    coordinates: ArrayLike,
    bulges: ArrayLike,
    line_index: ArrayLike,
    *,
    start_station: ArrayLike = 0.0,
    tolerance: float = 0.005,
) -> Elements:
    """Straight and circular elements between vertices that carry bulges.

    A bulge is the tangent of a quarter of the arc's central angle, positive
    where the arc turns left (counter-clockwise). It belongs to the vertex at
    which the arc starts; the bulge of the last vertex of a line is not used.

    Parameters
    ----------
    coordinates : (k, 2) or (k, 3) array
        As in `from_vertices`. Repeat the first vertex to close a line.
    bulges : (k,) array
        Dimensionless; 0 is straight.
    line_index : (k,) int array
        Number of the line of each vertex; does not decrease.
    start_station : float or (lines,) array
        Station of the first vertex of every line.
    tolerance : float
        See `Elements`.

    Returns
    -------
    Elements
        An arc that would leave its chord by less than some billionths of its
        length is made straight.

    Raises
    ------
    GeometryInputError
        If a coordinate or bulge is missing or the arrays do not fit each other.

    Examples
    --------
    A half circle to the right, from south to north.

    >>> half = from_bulges([[0, 0], [0, 20]], [-1.0, 0.0], [0, 0])
    >>> half.sense.tolist(), half.centre.tolist(), half.radius.tolist(), half.length.round(6).tolist()
    ([1], [[0.0, 10.0]], [10.0], [31.415927])
    """
    coordinates, bulges, line_index = _vertices(coordinates, bulges, line_index)
    first, last = _single_vertices_doubled(line_index)
    start, end, bulge, line = coordinates[first], coordinates[last], bulges[first], line_index[first]

    chord = end[:, :2] - start[:, :2]
    length = np.hypot(chord[:, 0], chord[:, 1])
    bent = (np.abs(bulge) > 1e-8) & (length > 0)
    radius, centre = np.full(len(line), np.nan), np.full(chord.shape, np.nan)
    arc = np.flatnonzero(bent)
    if arc.size:
        b, across = bulge[arc], np.column_stack([-chord[arc, 1], chord[arc, 0]])
        radius[arc] = length[arc] * (1 + b**2) / (4 * np.abs(b))
        centre[arc] = start[arc, :2] + chord[arc] / 2 + across * ((1 - b**2) / (4 * b))[:, None]
        length[arc] = radius[arc] * 4 * np.arctan(np.abs(b))
    return Elements(
        line=line,
        shape=bent,
        start=start[:, :2],
        end=end[:, :2],
        centre=centre,
        radius=radius,
        sense=np.where(bent, -np.sign(bulge), 0),
        start_station=_stations(line, length, start_station),
        length=length,
        start_elevation=start[:, 2],
        end_elevation=end[:, 2],
        tolerance=tolerance,
    )


def _vertices(
    coordinates: ArrayLike, bulges: ArrayLike, line_index: ArrayLike
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    coordinates = np.asarray(coordinates, dtype=np.float64)
    if coordinates.size == 0:
        coordinates = coordinates.reshape(0, 2)
    bulges = np.asarray(bulges, dtype=np.float64)
    line_index = np.asarray(line_index, dtype=np.int64)
    rows = len(coordinates)
    if coordinates.ndim != 2 or coordinates.shape[1] not in (2, 3):
        raise GeometryInputError(f"Vertices have shape {coordinates.shape}; give (k, 2) or (k, 3) coordinates.")
    if line_index.shape != (rows,) or bulges.shape != (rows,):
        raise GeometryInputError(
            f"{rows} vertices have {line_index.shape} line numbers and {bulges.shape} bulges; give one of each."
        )
    missing = np.flatnonzero(~np.isfinite(coordinates[:, :2]).all(axis=1) | ~np.isfinite(bulges))
    if missing.size:
        row = missing[0]
        within = row - int(np.argmax(line_index == line_index[row]))
        raise GeometryInputError(
            f"Line {line_index[row]}, vertex {within} (row {row}) lacks a coordinate or a bulge; leave such lines out."
        )
    if np.any(np.diff(line_index) < 0):
        row = int(np.flatnonzero(np.diff(line_index) < 0)[0]) + 1
        raise GeometryInputError(
            f"Line {line_index[row]} (row {row}) comes after a higher line number; sort the vertices by line."
        )
    if coordinates.shape[1] == 2:
        coordinates = np.column_stack([coordinates, np.full(rows, np.nan)])
    return coordinates, bulges, line_index


def _single_vertices_doubled(line_index: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Vertex rows at the start and end of every element."""
    here = np.arange(len(line_index))
    joined = np.append(line_index[1:] == line_index[:-1], False)[: len(here)]
    alone = ~joined & ~np.append(False, joined[:-1])[: len(here)]
    first = here[joined | alone]
    return first, first + joined[first]


def _stations(line: np.ndarray, length: np.ndarray, start_station: ArrayLike) -> np.ndarray:
    """Start station per element. Summed line by line: one long sum would lose the last digits."""
    lines, first = np.unique(line, return_index=True)
    start_station = np.asarray(start_station, dtype=np.float64)
    if start_station.shape not in ((), (len(lines),)) or not np.isfinite(start_station).all():
        raise GeometryInputError(
            f"Start stations have shape {start_station.shape}; give one number, or one for each of {len(lines)} lines."
        )
    begin = np.broadcast_to(start_station, len(lines))
    station = np.empty(len(line))
    for number, (row, stop) in enumerate(zip(first, np.append(first[1:], len(line)), strict=False)):
        station[row] = begin[number]
        np.cumsum(length[row : stop - 1], out=station[row + 1 : stop])
        station[row + 1 : stop] += begin[number]
    return station


class Places(NamedTuple):
    """Where stations lie: easting, northing, elevation, azimuth; arrays of shape (n,)."""

    easting: np.ndarray
    northing: np.ndarray
    elevation: np.ndarray
    azimuth: np.ndarray


def point_at(elements: Elements, line: ArrayLike, station: ArrayLike) -> Places:
    """Place, elevation and direction of stations on their lines.

    Parameters
    ----------
    elements : Elements
        The design lines.
    line : int or (n,) int array
        Line number of each station.
    station : (n,) array
        Stations, in the unit of the elements.

    Returns
    -------
    Places
        Easting, northing, elevation, and azimuth in degrees clockwise from
        grid north. At a vertex the direction is that of the element which
        starts there. NaN for a station that is missing or beyond the line, and
        for a line that is not there; elevation also NaN where it is unknown,
        azimuth where the line has no length.

    Examples
    --------
    >>> quarter = from_bulges([[0, 0, 5.0], [10, 10, 6.0]], [-np.tan(np.pi / 8), 0], [0, 0])
    >>> [values.round(6).tolist() for values in point_at(quarter, 0, [0, 5 * np.pi / 2, 99])]
    [[0.0, 2.928932, nan], [0.0, 7.071068, nan], [5.0, 5.5, nan], [0.0, 45.0, nan]]
    """
    line, station = np.broadcast_arrays(np.asarray(line, dtype=np.int64), np.asarray(station, dtype=np.float64))
    row = _element_at(elements, line, station)
    found = row >= 0
    at = row[found]
    along = np.clip(station[found] - elements.start_station[at], 0.0, elements.length[at])
    east, north, elevation, azimuth = np.full((4, *station.shape), np.nan)
    point, direction = points_along(elements, at, along)
    east[found], north[found] = point.T
    azimuth[found] = np.degrees(np.arctan2(direction[:, 0], direction[:, 1])) % 360.0
    elevation[found] = elevation_along(elements, at, along)
    return Places(east, north, elevation, azimuth)


def elevation_along(elements: Elements, row: np.ndarray, along: np.ndarray) -> np.ndarray:
    """Design elevation at a distance along given elements, linear between the ends.

    Exactly at an end the elevation of that end is enough; elsewhere both must
    be known, or the answer is NaN.
    """
    low, high = elements.start_elevation[row], elements.end_elevation[row]
    length = elements.length[row]
    share = np.divide(along, length, out=np.zeros(len(row)), where=length > 0)
    elevation = low + (high - low) * share
    elevation = np.where(share >= 1.0, high, elevation)
    return np.where(share <= 0.0, low, elevation)


def _element_at(elements: Elements, line: np.ndarray, station: np.ndarray) -> np.ndarray:
    """Row of the element that holds each station, -1 for none."""
    table = line_table(elements)
    if not len(elements):
        return np.full(station.shape, -1)
    place = np.searchsorted(table.line, line).clip(max=len(table.line) - 1)
    slack = elements.tolerance
    inside = (table.line[place] == line) & (station >= table.start_station[place] - slack)
    inside &= station <= table.end_station[place] + slack
    low, high = table.first[place].copy(), table.last[place].copy()
    while np.any(low < high):
        middle = (low + high + 1) // 2
        later = elements.start_station[middle] <= station
        low, high = np.where(later, middle, low), np.where(later, high, np.maximum(middle - 1, low))
    return np.where(inside, low, -1)


def points_along(elements: Elements, row: np.ndarray, along: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points and unit tangents at a distance along given elements, shapes (n, 2)."""
    tangent = start_tangents(elements, row)
    curvature = elements.curvature[row]
    turn = curvature * along
    ahead, aside = along.astype(np.float64), np.zeros(len(row))
    bent = np.flatnonzero(curvature)
    ahead[bent] = np.sin(turn[bent]) / curvature[bent]
    aside[bent] = 2 * np.sin(turn[bent] / 2) ** 2 / curvature[bent]
    east, north = np.nan_to_num(tangent).T
    point = elements.start[row] + np.column_stack([east * ahead + north * aside, north * ahead - east * aside])
    return point, _turned(tangent, turn)


class Chords(NamedTuple):
    """Vertices that draw the lines: coordinates (k, 2), and line, station, elevation of shape (k,)."""

    coordinates: np.ndarray
    line: np.ndarray
    station: np.ndarray
    elevation: np.ndarray


def chords(elements: Elements, *, max_sagitta: float = 0.01, max_length: float | None = None) -> Chords:
    """Vertices of chords that follow the elements, for drawing only.

    Parameters
    ----------
    elements : Elements
        The design lines.
    max_sagitta : float
        Largest distance between an arc and its chord.
    max_length : float, optional
        Longest chord; straight elements are divided too.

    Returns
    -------
    Chords
        Vertices in the order of the elements, the last of every line included.

    Raises
    ------
    GeometryInputError
        If a limit is not positive.

    Examples
    --------
    >>> half = from_bulges([[0, 0], [0, 20]], [-1.0, 0.0], [0, 0])
    >>> chords(half, max_sagitta=3.0).coordinates.round(6).tolist()
    [[0.0, 0.0], [-10.0, 10.0], [0.0, 20.0]]
    """
    if not max_sagitta > 0 or (max_length is not None and not max_length > 0):
        raise GeometryInputError(
            f"Chords of sagitta {max_sagitta} and length {max_length} cannot be drawn; give positive lengths."
        )
    pieces = np.ones(len(elements))
    arc = np.flatnonzero(elements.shape == ARC)
    radius = elements.radius[arc]
    # 1 - cos(half angle) = sagitta / radius, in the form that keeps its digits on flat arcs
    widest = 4 * np.arcsin(np.sqrt(np.minimum(max_sagitta / (2 * radius), 1.0)))
    pieces[arc] = elements.length[arc] / radius / np.minimum(widest, np.pi)
    if max_length is not None:
        pieces = np.maximum(pieces, elements.length / max_length)
    pieces = np.maximum(np.ceil(pieces - 1e-9), 1).astype(np.int64)

    table = line_table(elements)
    pieces_and_end = pieces.copy()
    pieces_and_end[table.last] += 1
    row = np.repeat(np.arange(len(elements)), pieces_and_end)
    before = np.cumsum(pieces_and_end) - pieces_and_end
    share = (np.arange(len(row)) - before[row]) / pieces[row]
    along = elements.length[row] * share
    coordinates = points_along(elements, row, along)[0]
    at_end = share == 1.0
    coordinates[at_end] = elements.end[row[at_end]]
    return Chords(
        coordinates=coordinates,
        line=elements.line[row],
        station=elements.start_station[row] + along,
        elevation=elevation_along(elements, row, along),
    )
