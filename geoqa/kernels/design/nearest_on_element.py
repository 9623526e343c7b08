"""Where a point lies beside one given element: the closed form behind every station and offset.

Points are measured from the start of the element, never from the origin of the
frame, so that no digit is lost at coordinates of millions. An arc is handled by
its curvature k: with a and b the parts of the point ahead and to the right, the
foot lies at atan2(k a, 1 - k b) / k along, and the offset is
(2 b - k (a^2 + b^2)) / (1 + hypot(k a, 1 - k b)), which tends to b as k tends to 0
(own derivation; tested against an independent construction).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from geoqa.kernels.arrays import Booleans, Floats, Integers
from geoqa.kernels.design.along_elements import elevation_along
from geoqa.kernels.design.elements import Elements, end_tangents, line_table, start_tangents

# Two distances nearer to each other than this are one distance: coordinates of
# 1.3e7 carry no more digits, and a choice between lines must not hang on them.
TIE = 1e-8


@dataclass(frozen=True, kw_only=True, eq=False)
class Courses:
    """Elements prepared for measuring: one contiguous array per number.

    Attributes
    ----------
    elements : Elements
        What was prepared.
    live : (k,) int64
        Rows that can be nearest: all with length, and the first of a line that
        has none. Other elements without length add nothing to their neighbours.
    east, north, end_east, end_north : (m,) float64
        Ends of the elements.
    ahead_east, ahead_north : (m,) float64
        Unit tangent at the start; 0 for an element without length.
    curvature : (m,) float64
        Positive curving right, 0 straight.
    start_direction, end_direction : (m, 2) float64
        Direction that decides the side at the two ends: the half-way direction
        between the two elements that meet there, or the element's own at the
        end of a line. NaN for a line without length.
    start_open, end_open : (m,) bool
        Nothing joins there: the line ends.
    bent : bool
        Some element is an arc.
    """

    elements: Elements
    live: Integers
    east: Floats
    north: Floats
    end_east: Floats
    end_north: Floats
    ahead_east: Floats
    ahead_north: Floats
    curvature: Floats
    start_direction: Floats
    end_direction: Floats
    start_open: Booleans
    end_open: Booleans
    bent: bool


class Beside(NamedTuple):
    """Points in relation to given elements; arrays of shape (n,). See `nearest` for their meaning."""

    station: np.ndarray
    offset: np.ndarray
    along: np.ndarray
    distance: np.ndarray
    elevation: np.ndarray
    azimuth: np.ndarray
    end: np.ndarray


def prepare(elements: Elements) -> Courses:
    """Directions at ends and vertices of all elements.

    Parameters
    ----------
    elements : Elements
        The design lines.

    Returns
    -------
    Courses
        What `beside` and `distance_squared` read.
    """
    table = line_table(elements)
    lines = np.searchsorted(table.line, elements.line)
    no_length = table.end_station - table.start_station <= 0
    alive = elements.length > 0
    alive[table.first[no_length]] = True
    live = np.flatnonzero(alive)

    start, end = start_tangents(elements), end_tangents(elements)
    start_direction, end_direction = start.copy(), end.copy()
    start_open, end_open = np.ones((2, len(elements)), dtype=bool)

    before, after = _joints(live, lines, table.closed)
    joint = _halfway(end[before], start[after])
    start_direction[after], end_direction[before] = joint, joint
    start_open[after], end_open[before] = False, False

    return Courses(
        elements=elements,
        live=live,
        east=elements.start[:, 0].copy(),
        north=elements.start[:, 1].copy(),
        end_east=elements.end[:, 0].copy(),
        end_north=elements.end[:, 1].copy(),
        ahead_east=np.nan_to_num(start[:, 0]),
        ahead_north=np.nan_to_num(start[:, 1]),
        curvature=elements.curvature,
        start_direction=start_direction,
        end_direction=end_direction,
        start_open=start_open,
        end_open=end_open,
        bent=bool(np.any(elements.sense != 0)),
    )


def _joints(live: Integers, lines: Integers, closed: Booleans) -> tuple[Integers, Integers]:
    """Rows of elements that meet: the one before and the one after each vertex."""
    here = lines[live]
    joined = np.flatnonzero(here[1:] == here[:-1])
    ends, first = np.unique(here, return_index=True)
    last = np.append(first[1:], len(here))[: len(first)] - 1
    round_again = closed[ends]
    before = np.concatenate([live[joined], live[last[round_again]]])
    after = np.concatenate([live[joined + 1], live[first[round_again]]])
    return before, after


def _halfway(incoming: Floats, outgoing: Floats) -> Floats:
    """Unit sum of two tangents; where they cancel (a turn straight back) the incoming one."""
    total = incoming + outgoing
    size = np.hypot(total[:, 0], total[:, 1])
    back = size < 1e-9
    total[back], size[back] = incoming[back], 1.0
    return total / size[:, None]


def distance_squared(courses: Courses, row: np.ndarray, east: Floats, north: Floats) -> Floats:
    """Squared distance from points to given elements, pair by pair.

    Parameters
    ----------
    courses : Courses
        Prepared elements.
    row : (n,) int array
        Element of each pair.
    east, north : (n,) array
        Point of each pair.

    Returns
    -------
    (n,) float array
        Squared distance to the nearest place of the element, ends included.
    """
    ahead_east, ahead_north = courses.ahead_east[row], courses.ahead_north[row]
    east_gap, north_gap = east - courses.east[row], north - courses.north[row]
    along = east_gap * ahead_east
    along += north_gap * ahead_north
    np.clip(along, 0.0, courses.elements.length[row], out=along)
    ahead_east *= along
    ahead_north *= along
    ahead_east -= east_gap
    ahead_north -= north_gap
    ahead_east *= ahead_east
    ahead_north *= ahead_north
    ahead_east += ahead_north
    if courses.bent:
        arc = np.flatnonzero(courses.curvature[row])
        if arc.size:
            foot = _foot(courses, row[arc], east[arc], north[arc])
            ahead_east[arc] = np.where(foot.place == 0, foot.offset**2, foot.gap**2)
    return ahead_east


class _Foot(NamedTuple):
    along: np.ndarray
    offset: np.ndarray
    place: np.ndarray  # -1 at the start, +1 at the end, 0 between
    east_gap: np.ndarray  # from the end in question, where place is not 0
    north_gap: np.ndarray
    gap: np.ndarray


def _foot(courses: Courses, row: np.ndarray, east: Floats, north: Floats) -> _Foot:
    """Nearest place of one element to one point, pair by pair."""
    length, curvature = courses.elements.length[row], courses.curvature[row]
    ahead_east, ahead_north = courses.ahead_east[row], courses.ahead_north[row]
    from_start = east - courses.east[row], north - courses.north[row]
    from_end = east - courses.end_east[row], north - courses.end_north[row]
    along = from_start[0] * ahead_east + from_start[1] * ahead_north
    offset = from_start[0] * ahead_north - from_start[1] * ahead_east
    # a foot within rounding of a vertex is the vertex
    place = np.where(along >= length - TIE, 1, 0)

    arc = np.flatnonzero(curvature)
    if arc.size:
        k, a, b = curvature[arc], along[arc], offset[arc]
        squared = from_start[0][arc] ** 2 + from_start[1][arc] ** 2
        offset[arc] = (2 * b - k * squared) / (1 + np.hypot(k * a, 1 - k * b))
        turned = np.arctan2(k * a, 1 - k * b) / k
        turned = np.where(turned < 0, turned + 2 * np.pi / np.abs(k), turned)
        # off the sweep: whichever end is nearer, the start if both are
        nearer_start = squared <= from_end[0][arc] ** 2 + from_end[1][arc] ** 2
        along[arc] = np.where((turned > length[arc]) & nearer_start, 0.0, turned)
        place[arc] = along[arc] >= length[arc] - TIE
    place[along <= TIE] = -1
    along = np.where(place < 0, 0.0, np.where(place > 0, length, along))

    at_end = place > 0
    east_gap = np.where(at_end, from_end[0], from_start[0])
    north_gap = np.where(at_end, from_end[1], from_start[1])
    return _Foot(along, offset, place, east_gap, north_gap, np.hypot(east_gap, north_gap))


def beside(courses: Courses, row: Integers, east: Floats, north: Floats) -> Beside:
    """Station, offset and the rest of points beside given elements, pair by pair.

    Parameters
    ----------
    courses : Courses
        Prepared elements.
    row : (n,) int array
        Element of each pair.
    east, north : (n,) array
        Point of each pair, finite.

    Returns
    -------
    Beside
        One row per pair; meaning and signs as in `nearest`.
    """
    elements = courses.elements
    foot = _foot(courses, row, east, north)
    turn = courses.curvature[row] * foot.along
    cosine, sine = np.cos(turn), np.sin(turn)
    tangent_east, tangent_north = courses.ahead_east[row], courses.ahead_north[row]
    direction_east = tangent_east * cosine + tangent_north * sine
    direction_north = tangent_north * cosine - tangent_east * sine
    offset, distance = foot.offset, np.abs(foot.offset)
    along, end = np.zeros(len(row)), np.zeros(len(row), dtype=np.int8)

    at = np.flatnonzero(foot.place)
    if at.size:
        where, here, gap = foot.place[at], row[at], foot.gap[at]
        start = where < 0
        direction = np.where(start[:, None], courses.start_direction[here], courses.end_direction[here])
        free = np.where(start, courses.start_open[here], courses.end_open[here])
        direction_east[at], direction_north[at] = direction.T
        right = foot.east_gap[at] * direction[:, 1] - foot.north_gap[at] * direction[:, 0]
        past = foot.east_gap[at] * direction[:, 0] + foot.north_gap[at] * direction[:, 1]
        past = np.where(past * where > TIE, past, 0.0)
        offset[at] = np.where(free, right, np.where(right < 0, -gap, gap) + 0.0 * right)
        along[at] = np.where(free, past + 0.0 * right, 0.0)
        end[at] = np.where(free & (past != 0), where, 0)
        distance[at] = gap
    return Beside(
        station=elements.start_station[row] + foot.along,
        offset=offset + 0.0,  # no minus zero
        along=along,
        distance=distance,
        elevation=elevation_along(elements, row, foot.along),
        azimuth=np.degrees(np.arctan2(direction_east, direction_north)) % 360.0,
        end=end,
    )
