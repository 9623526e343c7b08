"""Points of intersection with radius and spirals, to lines, arcs and spirals.

With spirals of unequal length the circle is shifted inward by p1 before and p2 behind; the tangents from the point
of intersection are ``k1 + ((R + p2) - (R + p1) cos D) / sin D`` and the same with 1 and 2 exchanged, D being the
deflection (for equal spirals ``k + (R + p) tan(D / 2)``).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from geoqa.model.alignment import ARC, LINE, SPIRAL, STRAIGHT, Piece
from geoqa.model.baseline import GAP, clothoid, end_of


@dataclass(frozen=True, kw_only=True)
class Intersection:
    """One row of a table of points of intersection; the first and the last are the ends of the line."""

    easting: float
    northing: float
    radius: float
    """Positive; 0 or NaN where there is none."""
    spiral_in: float = 0.0
    spiral_out: float = 0.0
    place: str = ""


class IntersectionFault(Exception):
    """A row that cannot be, caught by the reader: place and words."""


@dataclass(frozen=True)
class _Curve:
    sign: float
    radius: float
    spiral_in: float
    spiral_out: float
    tangent_in: float
    tangent_out: float
    arc: float

    def parts(self) -> list[tuple[str, float, float, float]]:
        """Kind, length, radius at either end, of spiral, arc and spiral."""
        radius = self.sign * self.radius
        whole = [
            (SPIRAL, self.spiral_in, STRAIGHT, radius),
            (ARC, self.arc, radius, radius),
            (SPIRAL, self.spiral_out, radius, STRAIGHT),
        ]
        return [each for each in whole if each[1] > 1e-9]


def pieces_of(points: Sequence[Intersection], *, start: float, kink: float) -> tuple[Piece, ...]:
    """Lines, arcs and spirals of a line through points of intersection.

    Parameters
    ----------
    points : sequence of Intersection
    start : float
        Station of the first point.
    kink : float
        Degrees: a deflection without a curve that is not refused.

    Raises
    ------
    IntersectionFault
        A curve that does not fit between its neighbours, or a point that cannot be.
    """
    legs = [_leg(one, other) for one, other in itertools.pairwise(points)]
    curves = [None, *(_curve(*each, kink) for each in zip(points[1:-1], legs, legs[1:], strict=False)), None]
    made: list[Piece] = []
    station = start
    for at, (azimuth, length) in enumerate(legs):
        before, after, where = curves[at], curves[at + 1], points[at + 1].place
        used = before.tangent_out if before else 0.0
        straight = length - used - (after.tangent_in if after else 0.0)
        if straight < -GAP:
            raise IntersectionFault(
                where,
                f"has a curve that overlaps what lies before it by {-straight:.3f} ({GAP:g} is allowed); the tangents "
                f"need {length - straight:.3f} and the points are {length:.3f} apart; curves that are to touch "
                "need coordinates and radii with more digits",
            )
        if straight > GAP:
            start_place = _ahead(points[at], azimuth, used)
            made.append(Piece(kind=LINE, easting=start_place[0], northing=start_place[1], azimuth=azimuth,
                              length=straight, station=station, place=where))  # fmt: skip
            station += straight
        if after is not None:
            place, heading = _ahead(points[at + 1], azimuth, -after.tangent_in), azimuth
            for kind, long, first, last in after.parts():
                piece = Piece(kind=kind, easting=place[0], northing=place[1], azimuth=heading, length=long,
                              start_radius=first, end_radius=last, station=station, place=where)  # fmt: skip
                made.append(piece)
                east, north, heading = end_of(piece)
                place, station = (east, north), station + long
    return tuple(made)


def _ahead(point: Intersection, azimuth: float, distance: float) -> tuple[float, float]:
    angle = math.radians(azimuth)
    return point.easting + distance * math.sin(angle), point.northing + distance * math.cos(angle)


def _leg(one: Intersection, other: Intersection) -> tuple[float, float]:
    east, north = other.easting - one.easting, other.northing - one.northing
    length = math.hypot(east, north)
    if not length > GAP:
        raise IntersectionFault(other.place, "is the same place as the point before it; leave one out")
    return math.degrees(math.atan2(east, north)) % 360.0, length


def _curve(point: Intersection, before: tuple[float, float], after: tuple[float, float], kink: float) -> _Curve | None:
    turn = (after[0] - before[0] + 180.0) % 360.0 - 180.0
    radius = point.radius
    if math.isnan(radius):
        if point.spiral_in or point.spiral_out:
            raise IntersectionFault(point.place, "has a spiral and no radius; give the radius of its curve")
        if abs(turn) > kink:
            raise IntersectionFault(
                point.place,
                f"turns by {turn:+.4f} degrees without a radius ({kink:g} is allowed); give its radius, or, if the "
                f"line is meant to have an angle there, kink_deg = {math.ceil(abs(turn) * 10) / 10:g}",
            )
        return None
    if not radius > 0:
        raise IntersectionFault(
            point.place, f"has the radius {radius:g}; a radius is more than 0, and empty where there is no curve"
        )
    if abs(turn) < 1e-6 or abs(turn) > 179.0:
        raise IntersectionFault(
            point.place,
            f"has a radius and turns by {turn:+.4f} degrees; no curve fits there: leave the radius empty where the "
            "line goes straight on, or give the place that is meant",
        )
    deflection, sign = math.radians(abs(turn)), math.copysign(1.0, turn)
    (x1, y1, t1), (x2, y2, t2) = (clothoid(each, radius) for each in (point.spiral_in, point.spiral_out))
    arc = radius * (deflection - t1 - t2)
    if arc < -GAP:
        raise IntersectionFault(
            point.place,
            f"turns by {turn:+.4f} degrees, and its spirals alone turn by {math.degrees(t1 + t2):.4f}; shorten them "
            "or enlarge the radius",
        )
    k1, k2 = x1 - radius * math.sin(t1), x2 - radius * math.sin(t2)
    r1, r2 = y1 + radius * math.cos(t1), y2 + radius * math.cos(t2)
    sine, cosine = math.sin(deflection), math.cos(deflection)
    return _Curve(
        sign, radius, point.spiral_in, point.spiral_out,
        k1 + (r2 - r1 * cosine) / sine, k2 + (r1 - r2 * cosine) / sine, max(arc, 0.0),
    )  # fmt: skip
