"""A centre line as parallel arrays, and where its places lie.

A piece turns by its curvature, which changes evenly along it: 0 and 0 on a straight, equal on an arc,
different on a spiral. A place on a straight or an arc is found in closed form; on a spiral it is the integral
of the direction, which a Gauss-Legendre rule of 40 places gives to the last digit for up to a half turn each way
(tested against Fresnel integrals). Coordinates are measured from the start of the piece, so that no digit is lost
beside a large false origin.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(40)
_NODES, _WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2

MOST_TURN = 2 * np.pi
"""Radians a spiral may turn from end to end: more is a slip, and the rule above would not hold."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Course:
    """A centre line, one row a piece, in order along it.

    Attributes
    ----------
    easting, northing : (m,) float64
        Start of the piece. One linear unit throughout.
    azimuth : (m,) float64
        Direction at its start, radians clockwise from grid north.
    length : (m,) float64
        Along the piece, positive.
    start_curvature, end_curvature : (m,) float64
        One over the radius, positive curving right; 0 is straight.
    station : (m,) float64
        Continuous station of the start.
    stationed : (m,) float64
        How much the station grows over the piece; its length, but for a line scaled from ground to grid, whose
        stations stay those of the ground.

    Raises
    ------
    GeometryInputError
        Arrays of different length, a missing number, a piece without length, or a spiral that turns full circle.

    Examples
    --------
    >>> straight = Course(easting=[0], northing=[0], azimuth=[0.0], length=[100], start_curvature=[0],
    ...                   end_curvature=[0], station=[1000], stationed=[100])
    >>> straight.end_station
    1100.0
    """

    easting: Floats
    northing: Floats
    azimuth: Floats
    length: Floats
    start_curvature: Floats
    end_curvature: Floats
    station: Floats
    stationed: Floats

    def __post_init__(self) -> None:
        for field in fields(self):
            values = np.array(getattr(self, field.name), dtype=np.float64)
            values.setflags(write=False)
            object.__setattr__(self, field.name, values)
            if values.shape != (len(self.easting),):
                raise GeometryInputError(
                    f"Array '{field.name}' of a centre line has shape {values.shape}, and 'easting' has "
                    f"{self.easting.shape}; give one number a piece."
                )
            if not np.isfinite(values).all():
                row = int(np.flatnonzero(~np.isfinite(values))[0])
                raise GeometryInputError(f"Piece {row + 1} of the centre line has no {field.name}; give every number.")
        _check(self)

    def __len__(self) -> int:
        return len(self.easting)

    @property
    def end_station(self) -> float:
        """Continuous station of the end; NaN of a line without pieces."""
        return float(self.station[-1] + self.stationed[-1]) if len(self) else float("nan")

    @property
    def spiral(self) -> np.ndarray:
        """Which pieces change their curvature."""
        return self.start_curvature != self.end_curvature


def _check(course: Course) -> None:
    for wrong, what in (
        (course.length <= 0, "has no length; leave it out"),
        (course.stationed <= 0, "has stations that do not grow; turn it round"),
        (
            course.spiral & (np.abs(course.start_curvature + course.end_curvature) * course.length / 2 > MOST_TURN),
            "is a spiral that turns by more than a full circle",
        ),
    ):
        if wrong.any():
            raise GeometryInputError(f"Piece {int(np.argmax(wrong)) + 1} of the centre line {what}.")


def shift(course: Course, piece: Integers, along: Floats) -> tuple[Floats, Floats, Floats]:
    """Where places lie, from the start of their pieces.

    Parameters
    ----------
    course : Course
    piece : (n,) int array
        Row of each place.
    along : (n,) array
        Distance from the start of the piece.

    Returns
    -------
    east, north : (n,) float64
        From the start of the piece.
    azimuth : (n,) float64
        Direction there, radians.

    Examples
    --------
    A quarter of a circle to the right, radius 100, heading north at first.

    >>> arc = Course(easting=[0], northing=[0], azimuth=[0.0], length=[50 * np.pi], start_curvature=[0.01],
    ...              end_curvature=[0.01], station=[0], stationed=[50 * np.pi])
    >>> east, north, azimuth = shift(arc, np.array([0]), np.array([50 * np.pi]))
    >>> east.round(9).tolist(), north.round(9).tolist(), np.degrees(azimuth).round(9).tolist()
    ([100.0], [100.0], [90.0])
    """
    along = np.asarray(along, dtype=np.float64)
    start, k0, k1 = course.azimuth[piece], course.start_curvature[piece], course.end_curvature[piece]
    change = (k1 - k0) / course.length[piece]
    azimuth = start + along * (k0 + change * along / 2)
    # chord of an arc: length times sin(half)/half, in the direction half-way
    half = k0 * along / 2
    chord = along * np.sinc(half / np.pi)
    east, north = chord * np.sin(start + half), chord * np.cos(start + half)
    bent = np.flatnonzero(k0 != k1)
    if bent.size:
        s = along[bent, None] * _NODES
        direction = start[bent, None] + s * (k0[bent, None] + change[bent, None] * s / 2)
        east[bent] = along[bent] * (np.sin(direction) @ _WEIGHTS)
        north[bent] = along[bent] * (np.cos(direction) @ _WEIGHTS)
    return east, north, azimuth


def place(course: Course, station: ArrayLike, offset: ArrayLike = 0.0) -> tuple[Floats, Floats, Floats]:
    """Easting, northing and azimuth of stations and offsets.

    Parameters
    ----------
    course : Course
    station : (n,) array
        Continuous stations.
    offset : (n,) array or float
        Positive right of the line.

    Returns
    -------
    easting, northing : (n,) float64
        NaN where the station is beyond the ends.
    azimuth : (n,) float64
        Degrees clockwise from grid north, 0 to 360.

    Examples
    --------
    >>> line = Course(easting=[500], northing=[900], azimuth=[np.pi / 2], length=[100], start_curvature=[0],
    ...               end_curvature=[0], station=[1000], stationed=[100])
    >>> [value.round(6).tolist() for value in place(line, [1025.0, 1200.0], 5.0)]
    [[525.0, nan], [895.0, nan], [90.0, nan]]
    """
    station, offset = np.broadcast_arrays(np.asarray(station, dtype=np.float64), np.asarray(offset, dtype=np.float64))
    if not len(course):
        return np.full(station.shape, np.nan), np.full(station.shape, np.nan), np.full(station.shape, np.nan)
    piece, along, inside = locate(course, station)
    east, north, azimuth = shift(course, piece, along)
    easting = course.easting[piece] + (east + offset * np.cos(azimuth))
    northing = course.northing[piece] + (north - offset * np.sin(azimuth))
    turned = np.degrees(azimuth) % 360.0
    return tuple(np.where(inside, values, np.nan) for values in (easting, northing, turned))  # type: ignore[return-value]


TIE = 1e-7
"""Lengths nearer to each other than this are one: coordinates of 1.3e7 carry no more digits."""


def locate(course: Course, station: Floats) -> tuple[Integers, Floats, np.ndarray]:
    """Piece of each station, the distance along it, and whether it lies between the ends."""
    piece = np.clip(np.searchsorted(course.station, station, side="right") - 1, 0, len(course) - 1)
    along = (station - course.station[piece]) * (course.length[piece] / course.stationed[piece])
    inside = (station >= course.station[0] - TIE) & (station <= course.end_station + TIE)
    return piece, np.clip(np.nan_to_num(along), 0.0, course.length[piece]), inside


@dataclass(frozen=True, kw_only=True, eq=False)
class Joints:
    """How well pieces meet, one row a joint between two.

    Attributes
    ----------
    gap : (m - 1,) float64
        Distance from the end of one to the start of the next.
    kink : (m - 1,) float64
        Turn from the direction of the one to that of the next, degrees, positive right.
    step : (m - 1,) float64
        Station of the next minus station of the end.
    """

    gap: Floats
    kink: Floats
    step: Floats


def joints(course: Course) -> Joints:
    """How well the pieces of a centre line meet.

    Examples
    --------
    >>> bend = Course(easting=[0, 10.5], northing=[0, 0], azimuth=[np.pi / 2, np.pi / 2 + 0.1], length=[10, 10],
    ...               start_curvature=[0, 0], end_curvature=[0, 0], station=[0, 10], stationed=[10, 10])
    >>> meet = joints(bend)
    >>> meet.gap.round(6).tolist(), meet.kink.round(4).tolist(), meet.step.tolist()
    ([0.5], [5.7296], [0.0])
    """
    rows = np.arange(max(len(course) - 1, 0))
    east, north, azimuth = shift(course, rows, course.length[rows])
    gap_east = course.easting[rows + 1] - course.easting[rows] - east
    gap_north = course.northing[rows + 1] - course.northing[rows] - north
    turn = np.degrees(course.azimuth[rows + 1] - azimuth)
    return Joints(
        gap=np.hypot(gap_east, gap_north),
        kink=(turn + 180.0) % 360.0 - 180.0,
        step=course.station[rows + 1] - course.station[rows] - course.stationed[rows],
    )
