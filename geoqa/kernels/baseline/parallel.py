"""Lines beside a centre line, as straight pieces and arcs that a design line can be made of.

The parallel of a straight is a straight, that of an arc an arc. That of a spiral is neither: it is divided until
arcs through three places each stay within a stated distance. A profile is straight between the ends of a piece, so
that a parabola is divided the same way.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats
from geoqa.kernels.baseline.course import TIE, Course, locate, place


class ParallelPieces(NamedTuple):
    """Pieces of one line beside the centre line; arrays of shape (n,) or (n, 2).

    A straight piece has no centre and radius (NaN) and the sense 0; sense is +1 curving right.
    """

    start: Floats
    end: Floats
    centre: Floats
    radius: Floats
    sense: Floats
    length: Floats
    start_elevation: Floats
    end_elevation: Floats
    station: Floats


_WIDEST = np.pi / 2
"""Radians an arc may turn by: one of more than half a circle has its centre on the other side of its chord."""

Elevation = Callable[[Floats], Floats]
"""Elevations of continuous stations."""


def parallel(
    course: Course, *, start: float, end: float, offset: float, elevation: Elevation, breaks: Floats, within: float
) -> ParallelPieces:
    """A line beside the centre line between two stations.

    Parameters
    ----------
    course : Course
    start, end : float
        Continuous stations.
    offset : float
        Positive right.
    elevation : callable
        Of the line, at continuous stations.
    breaks : (k,) array
        Stations at which the elevation changes its way: ends and tops of parabolas.
    within : float
        How far the pieces may leave the true line, in plan and in elevation.

    Raises
    ------
    GeometryInputError
        The line would reach the centre of a curve.

    Examples
    --------
    >>> arc = Course(easting=[0], northing=[0], azimuth=[0.0], length=[157.0], start_curvature=[0.01],
    ...              end_curvature=[0.01], station=[1000], stationed=[157.0])
    >>> level = lambda station: np.full(station.shape, 7.0)
    >>> inner = parallel(arc, start=1000, end=1157, offset=20.0, elevation=level, breaks=np.array([]), within=0.01)
    >>> inner.radius.round(9).tolist(), inner.sense.tolist(), inner.length.round(9).tolist()
    ([80.0], [1.0], [125.6])
    """
    marks = np.unique(np.concatenate([[start, end], course.station, breaks]))
    marks = marks[(marks >= start) & (marks <= end)]
    marks = marks[np.append(True, np.diff(marks) > 10 * TIE)]
    marks[-1] = end
    stations = [marks[:1]]
    for one, other in itertools.pairwise(marks):
        count = _divisions(course, one, other, offset, elevation, within)
        stations.append(np.linspace(one, other, count + 1)[1:])
    return _pieces(course, np.concatenate(stations), offset, elevation)


def _curvatures(course: Course, one: float, other: float) -> tuple[float, float, float]:
    """Curvature at two stations of one piece, and how fast it changes along it."""
    piece = locate(course, np.array([(one + other) / 2]))[0][0]
    change = (course.end_curvature[piece] - course.start_curvature[piece]) / course.length[piece]
    scale = course.length[piece] / course.stationed[piece]
    first, last = ((each - course.station[piece]) * scale for each in (one, other))
    return course.start_curvature[piece] + change * first, course.start_curvature[piece] + change * last, change


def _divisions(course: Course, one: float, other: float, offset: float, elevation: Elevation, within: float) -> int:
    first, last, change = _curvatures(course, one, other)
    tightest = min(1.0 - first * offset, 1.0 - last * offset)
    if tightest <= 0.01:
        raise GeometryInputError(
            f"A line {abs(offset):.2f} {'right' if offset > 0 else 'left'} would reach the centre of the curve, "
            f"{1.0 / max(abs(first), abs(last)):.2f} away"
        )
    heights = elevation(np.array([one, (one + other) / 2, other]))
    bulge = abs(heights[1] - (heights[0] + heights[2]) / 2)
    count = np.sqrt(bulge / within) if np.isfinite(bulge) else 1.0
    count = max(count, abs(first + last) / 2 * (other - one) / _WIDEST)
    if change != 0.0:
        # an arc through three places leaves a spiral by less than its change of curvature times the cube of its length
        # over 120; a parallel changes faster the nearer it comes to the centre
        count = max(count, (other - one) * np.cbrt(abs(change) / tightest**3 / (60.0 * within)))
    return max(1, int(np.ceil(count - 1e-9)))


def _pieces(course: Course, station: Floats, offset: float, elevation: Elevation) -> ParallelPieces:
    middle = (station[:-1] + station[1:]) / 2
    points, half = (np.column_stack(place(course, each, offset)[:2]) for each in (station, middle))
    start, end = points[:-1], points[1:]
    first, last = half - start, end - start
    # circle through three places: twice the area of their triangle, signed positive curving right
    area = first[:, 1] * last[:, 0] - first[:, 0] * last[:, 1]
    chord, one, two = (np.hypot(*each.T) for each in (last, first, end - half))
    curvature = np.divide(2 * area, chord * one * two, out=np.zeros(len(chord)), where=chord * one * two > 0)
    curvature[np.abs(curvature) * chord**2 / 8 < 1e-7] = 0.0
    # beside an arc it is known, and no digit of a large coordinate is asked
    piece = locate(course, middle)[0]
    known, k = ~course.spiral[piece], course.start_curvature[piece]
    curvature[known] = k[known] / (1.0 - k[known] * offset)
    bent = curvature != 0
    radius = np.divide(1.0, np.abs(curvature), out=np.full(len(chord), np.nan), where=bent)
    sense = np.sign(curvature)
    angle = _angles(one, two, np.abs(curvature))
    length = np.where(bent, angle * np.nan_to_num(radius), chord)
    centre = _centres(start, end, chord, radius, sense)
    heights = elevation(station)
    return ParallelPieces(start, end, centre, radius, sense, length, heights[:-1], heights[1:], station)


def _angles(one: Floats, two: Floats, curvature: Floats) -> Floats:
    """Angle at the centre over both halves of an arc."""
    return 2 * (np.arcsin(np.clip(one * curvature / 2, 0, 1)) + np.arcsin(np.clip(two * curvature / 2, 0, 1)))


def _centres(start: Floats, end: Floats, chord: Floats, radius: Floats, sense: Floats) -> Floats:
    """Centre of each arc of less than half a circle: square to its chord, on the side it curves to."""
    right = np.column_stack([end[:, 1] - start[:, 1], start[:, 0] - end[:, 0]]) / chord[:, None]
    away = np.sqrt(np.maximum(radius**2 - chord**2 / 4, 0.0))
    return (start + end) / 2 + right * (sense * away)[:, None]
