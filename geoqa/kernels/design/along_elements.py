"""Places and elevations along design lines, and chords for drawing."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.design.elements import ARC, Elements, line_table, start_tangents, turned


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
    >>> from geoqa.kernels.design.element_making import from_bulges
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


def elevation_along(elements: Elements, row: Integers, along: Floats) -> Floats:
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


def _element_at(elements: Elements, line: Integers, station: Floats) -> Integers:
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


def points_along(elements: Elements, row: Integers, along: Floats) -> tuple[Floats, Floats]:
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
    return point, turned(tangent, turn)


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
    >>> from geoqa.kernels.design.element_making import from_bulges
    >>> half = from_bulges([[0, 0], [0, 20]], [-1.0, 0.0], [0, 0])
    >>> chords(half, max_sagitta=3.0).coordinates.round(6).tolist()
    [[0.0, 0.0], [-10.0, 10.0], [0.0, 20.0]]
    """
    if not max_sagitta > 0 or (max_length is not None and not max_length > 0):
        raise GeometryInputError(
            f"Chords of sagitta {max_sagitta} and length {max_length} cannot be drawn; give positive lengths."
        )
    least = np.ones(len(elements))
    arc = np.flatnonzero(elements.shape == ARC)
    radius = elements.radius[arc]
    # 1 - cos(half angle) = sagitta / radius, in the form that keeps its digits on flat arcs
    widest = 4 * np.arcsin(np.sqrt(np.minimum(max_sagitta / (2 * radius), 1.0)))
    least[arc] = elements.length[arc] / radius / np.minimum(widest, np.pi)
    if max_length is not None:
        least = np.maximum(least, elements.length / max_length)
    pieces = np.maximum(np.ceil(least - 1e-9), 1).astype(np.int64)

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
