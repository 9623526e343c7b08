"""Design lines made of vertices: legs, and arcs by their bulges."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.design.elements import Elements


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


def _vertices(coordinates: ArrayLike, bulges: ArrayLike, line_index: ArrayLike) -> tuple[Floats, Floats, Integers]:
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


def _single_vertices_doubled(line_index: Integers) -> tuple[Integers, Integers]:
    """Vertex rows at the start and end of every element."""
    here = np.arange(len(line_index))
    joined = np.append(line_index[1:] == line_index[:-1], False)[: len(here)]
    alone = ~joined & ~np.append(False, joined[:-1])[: len(here)]
    first = here[joined | alone]
    return first, first + joined[first]


def _stations(line: Integers, length: Floats, start_station: ArrayLike) -> Floats:
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
