"""Entities of a drawing: which are lines and points, where they are, and which are not read."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.model.source import Evidence, Trouble

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.entities import Arc, DXFEntity, Insert, Line, LWPolyline, Point, Polyline

Traced = tuple[list[tuple[float, ...]], list[float], bool]
"""Places, bulges, and whether it closes."""


@dataclass(frozen=True, kw_only=True)
class DrawnEntity:
    """One line or point as drawn, in drawing coordinates.

    Attributes
    ----------
    places : (n, 3) float64
    bulges : (n - 1,) or, if closed, (n,) float64
        Positive curves left.
    """

    layer: str
    kind: str
    name: str
    block: str
    handle: int
    number: int
    point: bool
    closed: bool
    places: np.ndarray
    bulges: np.ndarray


@dataclass(kw_only=True)
class Sketch:
    """All that was found in a drawing."""

    entities: list[DrawnEntity] = field(default_factory=list)
    layers: set[str] = field(default_factory=set)
    evidence: list[Evidence] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)


class _NotRead(Exception):
    """Why an entity is not read; caught here, never seen outside."""


def sketch_of(document: Document, *, layers: Mapping[str, str], name_tag: str) -> Sketch:
    """Collect the lines and points of a drawing's model space.

    Parameters
    ----------
    document : ezdxf document
    layers : mapping of layer to kind
        Layers to read, in any case; all if empty. A kind of "" leaves a layer out.
    name_tag : str
        Block attribute that names an inserted point.
    """
    kinds = {layer.casefold(): kind for layer, kind in layers.items()}
    sketch = Sketch()
    refused: dict[tuple[str, str, str], list[int]] = {}
    aside: Counter[str] = Counter()
    for number, entity in enumerate(document.modelspace(), start=1):
        layer = layer_of(entity)
        kind = kinds.get(layer.casefold(), "") if kinds else layer.lower()
        if not kind:
            aside[layer] += 1
            continue
        sketch.layers.add(layer)
        try:
            sketch.entities.append(_drawn(entity, layer=layer, kind=kind, number=number, name_tag=name_tag))
        except _NotRead as why:
            refused.setdefault((layer, entity.dxftype(), str(why)), []).append(number)
    for (layer, what, reason), numbers in sorted(refused.items()):
        text = f"{len(numbers)} {what}"
        sketch.troubles.append(
            Trouble(line=numbers[0], column=f"layer {layer}", text=text, reason=f"not read: {reason}")
        )
    if aside:
        listed = ", ".join(f"{layer} {count}" for layer, count in sorted(aside.items()))
        sketch.evidence.append(Evidence(what="layers not read", answer=listed, because="not named in the job"))
    sketch.evidence += [*_inside_blocks(document, kinds), *_elsewhere(document)]
    return sketch


def layer_of(entity: DXFEntity) -> str:
    """Layer of an entity; an entity of a type nobody knows has none."""
    return entity.dxf.get("layer", "0") if entity.dxf.is_supported("layer") else "(none)"


def _inside_blocks(document: Document, kinds: Mapping[str, str]) -> list[Evidence]:
    """Lines on the job's layers that stand inside blocks, where they are not read."""
    inside = Counter(
        layer_of(entity)
        for block in document.blocks
        if not block.is_any_layout
        for entity in block
        if entity.dxftype() in ("LINE", "LWPOLYLINE", "POLYLINE", "ARC") and kinds.get(layer_of(entity).casefold())
    )
    listed = ", ".join(f"{layer} {count}" for layer, count in sorted(inside.items()))
    because = "only the place of a block is read; take the blocks apart if they hold design"
    return [Evidence(what="lines inside blocks, not read", answer=listed, because=because)] if inside else []


def _elsewhere(document: Document) -> list[Evidence]:
    paper = sum(len(layout) for layout in document.layouts if layout.name != "Model")
    hidden = sorted(each.dxf.name for each in document.layers if each.is_off() or each.is_frozen())
    found = []
    if paper:
        found.append(Evidence(what="paper space", answer=f"{paper} entities not read", because="only model space is"))
    if hidden:
        found.append(
            Evidence(what="hidden layers", answer=", ".join(hidden), because="off or frozen, read all the same")
        )
    return found


def _drawn(entity: DXFEntity, *, layer: str, kind: str, number: int, name_tag: str) -> DrawnEntity:
    what = entity.dxftype()
    take = _TAKEN.get(what)
    if take is None:
        raise _NotRead("only lines, polylines, arcs, points and block insertions are")
    places, bulges, closed = take(entity)
    name, block = _block_name(entity, name_tag) if what == "INSERT" else ("", "")
    return DrawnEntity(
        layer=layer,
        kind=kind,
        name=name,
        block=block,
        handle=int(entity.dxf.get("handle", "0") or "0", 16),
        number=number,
        point=what in ("POINT", "INSERT"),
        closed=closed,
        places=np.asarray(places, dtype=np.float64).reshape(-1, 3),
        bulges=np.asarray(bulges, dtype=np.float64),
    )


def _line(entity: Line) -> Traced:
    return [tuple(entity.dxf.start), tuple(entity.dxf.end)], [0.0], False


def _point(entity: Point) -> Traced:
    return [tuple(entity.dxf.location)], [], False


def _insert(entity: Insert) -> Traced:
    if entity.dxf.get("row_count", 1) * entity.dxf.get("column_count", 1) > 1:
        raise _NotRead("a grid of insertions")
    block = entity.block()
    if block is not None and block.block is not None and block.block.is_xref:
        raise _NotRead(f"block {entity.dxf.name} is another drawing; name that file in the job")
    _mirrored(entity)
    return [tuple(entity.ocs().to_wcs(entity.dxf.insert))], [], False


def _block_name(entity: Any, name_tag: str) -> tuple[str, str]:
    attribute = entity.get_attrib(name_tag, search_const=True)
    return (attribute.dxf.text.strip() if attribute is not None else ""), entity.dxf.name


def _lwpolyline(entity: LWPolyline) -> Traced:
    flip = -1.0 if _mirrored(entity) else 1.0
    elevation = entity.dxf.get("elevation", 0.0)
    rows = entity.get_points("xyb")
    places = [tuple(entity.ocs().to_wcs((x, y, elevation))) for x, y, _ in rows]
    return places, *_turns([flip * bulge for *_, bulge in rows], entity.closed)


def _polyline(entity: Polyline) -> Traced:
    if entity.is_3d_polyline:
        if entity.dxf.flags & 4:
            raise _NotRead("a 3D polyline fitted with a spline")
        places = [tuple(each.dxf.location) for each in entity.vertices]
        return places, *_turns([0.0] * len(places), entity.is_closed)
    if not entity.is_2d_polyline:
        raise _NotRead("a mesh")
    if entity.dxf.flags & 6:
        raise _NotRead("a polyline fitted with a curve")
    flip = -1.0 if _mirrored(entity) else 1.0
    elevation = entity.dxf.elevation.z if entity.dxf.hasattr("elevation") else 0.0
    ocs = entity.ocs()
    places = [tuple(ocs.to_wcs((*each.dxf.location.vec2, elevation))) for each in entity.vertices]
    return places, *_turns([flip * each.dxf.get("bulge", 0.0) for each in entity.vertices], entity.is_closed)


def _arc(entity: Arc) -> Traced:
    flip = -1.0 if _mirrored(entity) else 1.0
    angle = math.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0) or 2.0 * math.pi
    if angle > math.radians(359.9):
        raise _NotRead("a full circle has no ends")
    centre, radius, ocs = entity.dxf.center, entity.dxf.radius, entity.ocs()
    places = []
    for degrees in (entity.dxf.start_angle, entity.dxf.end_angle):
        at = math.radians(degrees)
        spot = (centre.x + radius * math.cos(at), centre.y + radius * math.sin(at), centre.z)
        places.append(tuple(ocs.to_wcs(spot)))
    return places, [flip * math.tan(angle / 4.0)], False


def _turns(bulges: list[float], closed: bool) -> tuple[list[float], bool]:
    if not bulges:
        raise _NotRead("no vertices")
    return (bulges if closed else bulges[:-1]), bool(closed)


def _mirrored(entity: DXFEntity) -> bool:
    """Whether the entity is seen from below; refuse one that does not lie level."""
    extrusion = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    x, y, z = (float(each) for each in extrusion)
    if abs(x) > 1e-9 or abs(y) > 1e-9 or z == 0.0:
        raise _NotRead("it does not lie level")
    return z < 0.0


_TAKEN: dict[str, Callable[[Any], Traced]] = {
    "LINE": _line,
    "POINT": _point,
    "INSERT": _insert,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "ARC": _arc,
}
