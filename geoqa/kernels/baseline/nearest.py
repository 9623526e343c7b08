"""Station and offset of points beside a centre line.

The foot of a point is a place where the distance is least: where the part of the gap along the line changes from
ahead to behind. On a straight and an arc it is found in closed form. On a spiral the places where that changes
are bracketed between nine fixed ones and found by Newton steps that may not leave their bracket. All feet are
looked at, not the best alone: a point with a second one about as near has no station that could be relied on.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.baseline.course import TIE, Course, shift

_PARTS = 8
_STEPS = 60


class Standing(IntEnum):
    """Why a point has a station, or has none."""

    FOUND = 0
    BEFORE = 1
    """It projects before the start."""
    AFTER = 2
    """It projects beyond the end."""
    AMBIGUOUS = 3
    """Two places of the line are about as near, or it lies at the centre of a curve."""
    NO_PLACE = 4
    """The point has no position."""


@dataclass(frozen=True, kw_only=True, eq=False)
class BesideCourse:
    """Points beside a centre line; arrays of shape (n,).

    Attributes
    ----------
    station : float64
        Continuous station; NaN unless found.
    offset : float64
        Positive right; NaN unless found.
    azimuth : float64
        Of the line there, degrees; NaN unless found.
    standing : int8
        A `Standing`.
    """

    station: Floats
    offset: Floats
    azimuth: Floats
    standing: np.ndarray


@dataclass(eq=False)
class _Feet:
    """The nearest foot of each point so far, and how near the nearest other one is."""

    piece: Integers
    along: Floats
    distance: Floats
    station: Floats
    other_distance: Floats
    other_station: Floats


def station_offset(
    course: Course, easting: ArrayLike, northing: ArrayLike, *, margin: float = 0.1, centre: float = 0.02
) -> BesideCourse:
    """Station and offset of points.

    Parameters
    ----------
    course : Course
    easting, northing : (n,) array
        NaN where unknown.
    margin : float
        A second foot that is farther away than the nearest by no more than this makes the point ambiguous.
    centre : float
        So is a point whose distance from the centre of the curve is below this share of the radius: its station
        would move fifty times as fast as the point.

    Returns
    -------
    BesideCourse

    Examples
    --------
    Tangent from (1000, 1000) to (1300, 1400); the published point lies at 280, 40 right.

    >>> azimuth = np.arctan2(300, 400)
    >>> line = Course(easting=[1000], northing=[1000], azimuth=[azimuth], length=[500], start_curvature=[0],
    ...               end_curvature=[0], station=[0], stationed=[500])
    >>> beside = station_offset(line, [1200, 1136, 900], [1200, 1248, 900])
    >>> beside.station.round(9).tolist(), beside.offset.round(9).tolist(), beside.standing.tolist()
    ([280.0, 280.0, nan], [40.0, -40.0, nan], [0, 0, 1])
    """
    easting = np.atleast_1d(np.asarray(easting, dtype=np.float64))
    northing = np.atleast_1d(np.asarray(northing, dtype=np.float64))
    standing = np.full(len(easting), Standing.NO_PLACE, dtype=np.int8)
    station, offset, azimuth = (np.full(len(easting), np.nan) for _ in range(3))
    there = np.flatnonzero(np.isfinite(easting) & np.isfinite(northing))
    if len(course) and there.size:
        found = _beside(course, easting[there], northing[there], margin, centre)
        station[there], offset[there], azimuth[there], standing[there] = found
    return BesideCourse(station=station, offset=offset, azimuth=azimuth, standing=standing)


def _beside(
    course: Course, easting: Floats, northing: Floats, margin: float, centre: float
) -> tuple[Floats, Floats, Floats, np.ndarray]:
    feet, before, after = _all_feet(course, easting, northing, margin)
    east, north, direction = shift(course, feet.piece, feet.along)
    east = easting - course.easting[feet.piece] - east
    north = northing - course.northing[feet.piece] - north
    offset = east * np.cos(direction) - north * np.sin(direction)
    # at a joint that is not quite smooth the gap is not quite square to the line; its length counts, with its side
    offset = np.where(offset < 0, -1.0, 1.0) * np.hypot(east, north)
    change = (course.end_curvature - course.start_curvature) / course.length
    curvature = course.start_curvature[feet.piece] + change[feet.piece] * feet.along
    apart = np.abs(feet.other_station - feet.station) > 0.1 + 0.01 * feet.distance
    unsure = apart & (feet.other_distance - feet.distance <= margin)
    unsure |= 1.0 - curvature * offset < centre
    standing = np.where(unsure, Standing.AMBIGUOUS, Standing.FOUND)
    standing = np.where(before, Standing.BEFORE, np.where(after, Standing.AFTER, standing))
    known = standing == Standing.FOUND
    values = (feet.station, offset + 0.0, np.degrees(direction) % 360.0)
    station, offset, azimuth = (np.where(known, each, np.nan) for each in values)
    return station, offset, azimuth, standing.astype(np.int8)


def _all_feet(course: Course, easting: Floats, northing: Floats, margin: float) -> tuple[_Feet, np.ndarray, np.ndarray]:
    """The nearest foot of every point; and which are nearest to what lies before the start, and beyond the end."""
    count = len(easting)
    feet = _Feet(
        np.zeros(count, dtype=np.int64),
        *(np.full(count, fill) for fill in (0.0, np.inf, np.nan, np.inf, np.nan)),
    )
    ahead_of_end = np.full(count, np.inf)  # nothing stands before the first piece
    start_gap = end_gap = start_distance = np.zeros(count)
    last = len(course) - 1
    for row in range(len(course)):
        east, north = easting - course.easting[row], northing - course.northing[row]
        ends = _ends(course, row, east, north)
        # a joint is a least distance where the line before leads towards it and the one after leads away
        joint = (ahead_of_end >= -TIE) & (ends[0] <= TIE)
        if row == 0:
            start_gap, start_distance = ends[0], ends[1]
        _offer(feet, course, row, np.zeros(count), ends[1], joint)
        if course.spiral[row]:
            _spiral_feet(feet, course, row, east, north, margin)
        else:
            along, distance, between = _foot(course, row, east, north)
            _offer(feet, course, row, along, distance, between)
        if row == last:
            _offer(feet, course, row, np.full(count, course.length[row]), ends[3], ends[2] >= -TIE)
            end_gap = ends[2]
        ahead_of_end = ends[2]
    at_start = (feet.piece == 0) & (feet.along == 0.0) & (start_distance <= feet.distance + TIE)
    at_end = (feet.piece == last) & (feet.along == course.length[last])
    return feet, at_start & (start_gap < -TIE), at_end & (end_gap > TIE)


def _ends(course: Course, row: int, east: Floats, north: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """How far points lie ahead of the start and the end of a piece, and their distances from the two."""
    shifts = shift(course, np.array([row, row]), np.array([0.0, course.length[row]]))
    made: list[Floats] = []
    for end_east, end_north, azimuth in zip(*shifts, strict=True):
        gap = east - end_east, north - end_north
        made += [gap[0] * np.sin(azimuth) + gap[1] * np.cos(azimuth), np.hypot(*gap)]
    return made[0], made[1], made[2], made[3]


def _offer(feet: _Feet, course: Course, row: int, along: Floats, distance: Floats, valid: np.ndarray) -> None:
    """Take a foot where it is the nearest, and remember the nearest of those at another place."""
    scale = course.stationed[row] / course.length[row]
    station = course.station[row] + along * scale
    better = valid & (distance < feet.distance - TIE * 1e-3)
    same = np.abs(station - feet.station) <= 0.1 + 0.01 * np.minimum(distance, feet.distance)
    pushed = better & ~same & np.isfinite(feet.distance)
    feet.other_distance = np.where(pushed, feet.distance, feet.other_distance)
    feet.other_station = np.where(pushed, feet.station, feet.other_station)
    second = valid & ~better & ~same & (distance < feet.other_distance)
    feet.other_distance = np.where(second, distance, feet.other_distance)
    feet.other_station = np.where(second, station, feet.other_station)
    feet.piece[better] = row
    for name, values in (("along", along), ("distance", distance), ("station", station)):
        setattr(feet, name, np.where(better, values, getattr(feet, name)))


def _foot(course: Course, row: int, east: Floats, north: Floats) -> tuple[Floats, Floats, np.ndarray]:
    """Foot on a straight or an arc: distance along, distance from it, and whether it lies on the piece."""
    azimuth, k, length = course.azimuth[row], course.start_curvature[row], course.length[row]
    sine, cosine = np.sin(azimuth), np.cos(azimuth)
    a, b = east * sine + north * cosine, east * cosine - north * sine
    if k == 0.0:
        along, distance = a, np.abs(b)
    else:
        size = np.hypot(k * a, 1 - k * b)
        distance = np.abs(2 * b - k * (a * a + b * b)) / (1 + size)
        full = 2 * np.pi / abs(k)
        along = np.arctan2(k * a, 1 - k * b) / k % full
        along = np.where(along > full - TIE, along - full, along)
    between = (along >= -TIE) & (along <= length + TIE)
    return np.clip(along, 0.0, length), distance, between


def _spiral_feet(feet: _Feet, course: Course, row: int, east: Floats, north: Floats, margin: float) -> None:
    """Feet on a spiral, for the points that it could matter to: the line never strays from its start by its length."""
    near = np.flatnonzero(np.hypot(east, north) - course.length[row] <= feet.distance + margin)
    if not near.size:
        return
    marks = np.linspace(0.0, course.length[row], _PARTS + 1)
    at_east, at_north, azimuth = shift(course, np.full(_PARTS + 1, row), marks)
    gap_east, gap_north = east[near, None] - at_east, north[near, None] - at_north
    ahead = gap_east * np.sin(azimuth) + gap_north * np.cos(azimuth)
    for part in range(_PARTS):
        mine = near[(ahead[:, part] > 0) & (ahead[:, part + 1] <= 0)]
        if not mine.size:
            continue
        along, distance = _solved(course, row, east[mine], north[mine], marks[part], marks[part + 1])
        whole, far = np.zeros(len(east)), np.full(len(east), np.inf)
        whole[mine], far[mine] = along, distance
        _offer(feet, course, row, whole, far, np.isfinite(far))


def _solved(course: Course, row: int, east: Floats, north: Floats, low: float, high: float) -> tuple[Floats, Floats]:
    """The place between two others where what lies ahead becomes what lies behind."""
    below, above = np.full(len(east), low), np.full(len(east), high)
    rows = np.full(len(east), row)
    change = (course.end_curvature[row] - course.start_curvature[row]) / course.length[row]
    along, distance = (below + above) / 2, np.zeros(len(east))
    for _ in range(_STEPS):
        at_east, at_north, azimuth = shift(course, rows, along)
        gap_east, gap_north = east - at_east, north - at_north
        ahead = gap_east * np.sin(azimuth) + gap_north * np.cos(azimuth)
        offset = gap_east * np.cos(azimuth) - gap_north * np.sin(azimuth)
        distance = np.hypot(gap_east, gap_north)
        below, above = np.where(ahead > 0, along, below), np.where(ahead > 0, above, along)
        slope = 1.0 - (course.start_curvature[row] + change * along) * offset
        step = np.divide(ahead, slope, out=np.full(len(east), np.inf), where=slope > 0)
        tried = along + step
        moved = np.where((tried >= below) & (tried <= above), tried, (below + above) / 2)
        done = np.abs(moved - along)
        along = moved
        if done.max(initial=0.0) < 1e-11 * max(1.0, course.length[row]):
            break
    return along, distance
