"""Where the lines and points of a drawing lie, entity by entity, or why one of them is not read."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import islice
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.read.delimited.values import LARGEST

if TYPE_CHECKING:
    from ezdxf.entities import Arc, DXFEntity, Insert, Line, LWPolyline, Point, Polyline, Spline

Traced = tuple[list[tuple[float, ...]], list[float], bool]
"""Places, bulges, and whether it closes."""

FITTED = 0.001
"""How far the chords that stand for a spline may leave it, in the file's unit."""

_MOST_CHORDS = 20_000


class NotRead(Exception):
    """Why an entity is not read; caught by those who collect them."""


def traced(entity: Any) -> Traced:
    """Places and bulges of an entity.

    Raises
    ------
    NotRead
        With the reason.
    """
    take = _TAKEN.get(entity.dxftype())
    if take is None:
        raise NotRead("only lines, polylines, arcs, splines, points and block insertions are")
    try:
        return take(entity)
    except (AttributeError, TypeError, ValueError, ArithmeticError, IndexError, KeyError) as error:
        raise NotRead(f"it is not whole ({str(error) or type(error).__name__})") from None


def _line(entity: Line) -> Traced:
    return [tuple(entity.dxf.start), tuple(entity.dxf.end)], [0.0], False


def _point(entity: Point) -> Traced:
    return [tuple(entity.dxf.location)], [], False


def _insert(entity: Insert) -> Traced:
    if entity.dxf.get("row_count", 1) * entity.dxf.get("column_count", 1) > 1:
        raise NotRead("a grid of insertions")
    block = entity.block()
    if block is not None and block.block is not None and block.block.is_xref:
        raise NotRead(f"block {entity.dxf.name} is another drawing; name that file in the job")
    _mirrored(entity)
    return [tuple(entity.ocs().to_wcs(entity.dxf.insert))], [], False


def _lwpolyline(entity: LWPolyline) -> Traced:
    flip = -1.0 if _mirrored(entity) else 1.0
    elevation = entity.dxf.get("elevation", 0.0)
    rows = entity.get_points("xyb")
    places = [tuple(entity.ocs().to_wcs((x, y, elevation))) for x, y, _ in rows]
    return places, *_turns([flip * bulge for *_, bulge in rows], entity.closed)


def _polyline(entity: Polyline) -> Traced:
    if entity.is_3d_polyline:
        if entity.dxf.flags & 4:
            raise NotRead("a 3D polyline fitted with a spline")
        places = [tuple(each.dxf.location) for each in entity.vertices]
        return places, *_turns([0.0] * len(places), entity.is_closed)
    if not entity.is_2d_polyline:
        raise NotRead("a mesh")
    if entity.dxf.flags & 6:
        raise NotRead("a polyline fitted with a curve")
    flip = -1.0 if _mirrored(entity) else 1.0
    elevation = entity.dxf.elevation.z if entity.dxf.hasattr("elevation") else 0.0
    ocs = entity.ocs()
    places = [tuple(ocs.to_wcs((*each.dxf.location.vec2, elevation))) for each in entity.vertices]
    return places, *_turns([flip * each.dxf.get("bulge", 0.0) for each in entity.vertices], entity.is_closed)


def _arc(entity: Arc) -> Traced:
    flip = -1.0 if _mirrored(entity) else 1.0
    angle = math.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0) or 2.0 * math.pi
    if angle > math.radians(359.9):
        raise NotRead("a full circle has no ends")
    centre, radius, ocs = entity.dxf.center, entity.dxf.radius, entity.ocs()
    places = []
    for degrees in (entity.dxf.start_angle, entity.dxf.end_angle):
        at = math.radians(degrees)
        spot = (centre.x + radius * math.cos(at), centre.y + radius * math.sin(at), centre.z)
        places.append(tuple(ocs.to_wcs(spot)))
    return places, [flip * math.tan(angle / 4.0)], False


def _turns(bulges: list[float], closed: bool) -> tuple[list[float], bool]:
    if not bulges:
        raise NotRead("no vertices")
    return (bulges if closed else bulges[:-1]), bool(closed)


def _mirrored(entity: DXFEntity) -> bool:
    """Whether the entity is seen from below; refuse one that does not lie level."""
    extrusion = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    x, y, z = (float(each) for each in extrusion)
    if abs(x) > 1e-9 or abs(y) > 1e-9 or z == 0.0:
        raise NotRead("it does not lie level")
    return z < 0.0


def _spline(entity: Spline) -> Traced:
    control = np.asarray(list(entity.control_points), dtype=np.float64).reshape(-1, 3)
    if not len(control):
        at = next((f"; it begins at {each[0]:.2f}, {each[1]:.2f}" for each in entity.fit_points), "")
        raise NotRead(f"a spline of fit points alone is drawn differently by every program{at}; draw it as arcs")
    if not (np.abs(control) < LARGEST).all():
        raise NotRead("a spline with a place that is not on the earth")
    places = [tuple(each) for each in islice(entity.flattening(FITTED, segments=8), _MOST_CHORDS + 1)]
    if len(places) > _MOST_CHORDS:
        x, y = control[0, :2]
        raise NotRead(f"a spline that takes more than {_MOST_CHORDS} chords; it begins at {x:.2f}, {y:.2f}")
    return places, *_turns([0.0] * len(places), False)


_TAKEN: dict[str, Callable[[Any], Traced]] = {
    "LINE": _line,
    "POINT": _point,
    "INSERT": _insert,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "ARC": _arc,
    "SPLINE": _spline,
}
