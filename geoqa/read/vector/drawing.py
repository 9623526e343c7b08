"""Entities of a drawing: which are lines and points, where they are, and which are not read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.model.source import Evidence, Trouble
from geoqa.model.words import many
from geoqa.read.vector.entities import FITTED, NotRead, traced
from geoqa.read.vector.kind_tables import entry_of, kind_of, unused
from geoqa.read.vector.sound_text import sound_text

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.entities import DXFEntity


@dataclass(frozen=True, kw_only=True)
class KindsDrawn:
    """Tables by which the entities of a drawing get their kinds; what fits none is not read, unless all are empty.

    Attributes
    ----------
    layers, blocks, values, linetypes, colours : mapping of str to str
        Words or patterns and their kinds; a kind of "" leaves out.
    tag : str
        Block attribute whose value is looked up in `values`.
    """

    layers: Mapping[str, str]
    blocks: Mapping[str, str]
    values: Mapping[str, str]
    linetypes: Mapping[str, str]
    colours: Mapping[str, str]
    tag: str

    @property
    def stated(self) -> bool:
        """Whether the job says anything of kinds."""
        return bool(self.layers or self.blocks or self.values or self.linetypes or self.colours)

    def kind(self, entity: DXFEntity) -> str:
        """Kind of an entity; "" where it is not to be read."""
        layer = layer_of(entity)
        if not self.stated:
            return layer.lower()
        if self._with_its_layer(layer):
            return ""
        own = self._own_kind(entity)
        return (kind_of(self.layers, layer) or "") if own is None else own

    def overruled(self, entity: DXFEntity) -> bool:
        """Whether a layer that the job leaves out takes along what its tables of blocks or their values give a kind."""
        named = ((table, word) for table, word in self._words(entity)[:2] if table and word)
        return self._with_its_layer(layer_of(entity)) and any(kind_of(table, word) for table, word in named)

    def _with_its_layer(self, layer: str) -> bool:
        return kind_of(self.layers, layer) == "" and entry_of(self.layers, layer) != "*"

    def _own_kind(self, entity: DXFEntity) -> str | None:
        """Kind by what is closer to the entity than its layer; None where no table names it."""
        said = (kind_of(table, word) for table, word in self._words(entity) if table and word)
        return next((kind for kind in said if kind is not None), None)

    def _words(self, entity: DXFEntity) -> tuple[tuple[Mapping[str, str], str], ...]:
        """What is known of an entity beside its layer, the closest to it first."""
        return (
            (self.values, attribute_of(entity, self.tag)),
            (self.blocks, sound_text(str(entity.dxf.get("name", ""))) if entity.dxftype() == "INSERT" else ""),
            (self.linetypes, linetype_of(entity)),
            (self.colours, colour_of(entity)),
        )

    def unused(self, document: Document) -> list[str]:
        """Entries that fit nothing in the drawing; of layers, `unknown_layers` tells."""
        seen: dict[str, set[str]] = {"values": set(), "blocks": set(), "linetypes": set(), "colours": set()}
        for entity in document.modelspace():
            for key, (_, word) in zip(seen, self._words(entity), strict=True):
                seen[key].add(word)
        return [f"{key} {entry}" for key, words in seen.items() for entry in unused(getattr(self, key), words)]


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


def sketch_of(document: Document, *, kinds: KindsDrawn, name_tag: str) -> Sketch:
    """Collect the lines and points of a drawing's model space.

    Parameters
    ----------
    document : ezdxf document
    kinds : KindsDrawn
        Which are read, and as what.
    name_tag : str
        Block attribute that names an inserted point.
    """
    sketch = Sketch()
    refused: dict[tuple[str, str, str], list[int]] = {}
    aside: Counter[str] = Counter()
    overruled: dict[str, list[int]] = {}
    fitted: Counter[str] = Counter()
    unseen = 0
    for number, entity in enumerate(document.modelspace(), start=1):
        layer = layer_of(entity)
        if entity.dxf.get("invisible", 0):
            unseen += 1
            continue
        kind = kinds.kind(entity)
        if not kind:
            aside[layer] += 1
            if kinds.overruled(entity):
                overruled.setdefault(layer, []).append(number)
            continue
        sketch.layers.add(layer)
        try:
            drawn = _drawn(entity, layer=layer, kind=kind, number=number, name_tag=name_tag)
        except NotRead as why:
            refused.setdefault((layer, entity.dxftype(), str(why)), []).append(number)
            continue
        sketch.entities.append(drawn)
        if entity.dxftype() == "SPLINE":
            fitted[layer] += len(drawn.places) - 1
    for (layer, what, reason), numbers in sorted(refused.items()):
        text = f"{len(numbers)} {what}"
        sketch.troubles.append(
            Trouble(line=numbers[0], column=f"layer {layer}", text=text, reason=f"not read: {reason}")
        )
    for layer, numbers in sorted(overruled.items()):
        reason = 'left out with their layer, to which layers gives "", though another table of the job names them'
        where = f"layer {layer}"
        sketch.troubles.append(
            Trouble(line=numbers[0], column=where, text=many(len(numbers), "thing"), reason=reason, kept=True)
        )
    sketch.evidence += _left(aside, fitted, unseen, kinds)
    sketch.evidence += [*_inside_blocks(document, kinds), *_elsewhere(document)]
    return sketch


def _left(aside: Counter[str], fitted: Counter[str], unseen: int, kinds: KindsDrawn) -> list[Evidence]:
    found = []
    if aside:
        by_layer_only = kinds.layers and not (kinds.blocks or kinds.values or kinds.linetypes or kinds.colours)
        what = "layers not read" if by_layer_only else "not read, by layer"
        found.append(Evidence(what=what, answer=_counts(aside), because="not named in the job"))
    if unseen:
        found.append(Evidence(what="invisible", answer=f"{unseen} not read", because="marked as not to be seen"))
    if fitted:
        because = f"chords in place of splines, nowhere more than {FITTED} of the file's unit from them"
        found.append(Evidence(what="splines fitted, chords", answer=_counts(fitted), because=because))
    return found


def _counts(found: Counter[str]) -> str:
    return ", ".join(f"{word} {count}" for word, count in sorted(found.items()))


def attribute_of(entity: DXFEntity, tag: str) -> str:
    """Text of an inserted block's attribute; empty without one."""
    for attribute in getattr(entity, "attribs", ()):
        if str(attribute.dxf.get("tag", "")).casefold() == tag.casefold():
            return sound_text(str(attribute.dxf.get("text", ""))).strip()
    return ""


def linetype_of(entity: DXFEntity) -> str:
    """Linetype that an entity has of its own; empty where it has its layer's."""
    linetype = sound_text(str(entity.dxf.get("linetype", "BYLAYER")))
    return "" if linetype.casefold() in ("bylayer", "byblock") else linetype


def colour_of(entity: DXFEntity) -> str:
    """Number of the colour that an entity has of its own; empty where it has its layer's."""
    colour = entity.dxf.get("color", 256)
    return "" if colour in (0, 256) else str(colour)


def layer_of(entity: DXFEntity) -> str:
    """Layer of an entity; an entity of a type nobody knows has none."""
    return sound_text(str(entity.dxf.get("layer", "0"))) if entity.dxf.is_supported("layer") else "(none)"


def _inside_blocks(document: Document, kinds: KindsDrawn) -> list[Evidence]:
    """Lines on the job's layers that stand inside blocks, where they are not read."""
    inside = Counter(
        layer_of(entity)
        for block in document.blocks
        if not block.is_any_layout
        for entity in block
        if entity.dxftype() in ("LINE", "LWPOLYLINE", "POLYLINE", "ARC") and kind_of(kinds.layers, layer_of(entity))
    )
    listed = _counts(inside)
    because = "only the place of a block is read; take the blocks apart if they hold design"
    return [Evidence(what="lines inside blocks, not read", answer=listed, because=because)] if inside else []


def _elsewhere(document: Document) -> list[Evidence]:
    paper = sum(len(layout) for layout in document.layouts if layout.name != "Model")
    absent = Counter(
        sound_text(str(each.dxf.get("name", "")))
        for each in document.modelspace().query("INSERT")
        if str(each.dxf.get("name", "")) not in document.blocks
    )
    outside = sorted(
        sound_text(str(each.name)) for each in document.blocks if each.block is not None and each.block.is_xref
    )
    hidden = sorted(sound_text(str(each.dxf.name)) for each in document.layers if each.is_off() or each.is_frozen())
    found = []
    if paper:
        found.append(Evidence(what="paper space", answer=f"{paper} entities not read", because="only model space is"))
    if absent:
        because = "the drawing lacks these blocks; the places of their insertions are read all the same"
        found.append(Evidence(what="blocks that are not there", answer=_counts(absent), because=because))
    if outside:
        because = "other drawings are never opened; name that file in the job if it holds design"
        found.append(Evidence(what="external references", answer=", ".join(outside), because=because))
    if hidden:
        found.append(
            Evidence(what="hidden layers", answer=", ".join(hidden), because="off or frozen, read all the same")
        )
    return found


def _drawn(entity: DXFEntity, *, layer: str, kind: str, number: int, name_tag: str) -> DrawnEntity:
    what = entity.dxftype()
    places, bulges, closed = traced(entity)
    name, block = _block_name(entity, name_tag) if what == "INSERT" else ("", "")
    return DrawnEntity(
        layer=layer,
        kind=kind,
        name=name,
        block=block,
        handle=_handle(entity),
        number=number,
        point=what in ("POINT", "INSERT"),
        closed=closed,
        places=np.asarray(places, dtype=np.float64).reshape(-1, 3),
        bulges=np.asarray(bulges, dtype=np.float64),
    )


def _handle(entity: DXFEntity) -> int:
    try:
        return int(entity.dxf.get("handle", "0") or "0", 16)
    except ValueError:
        return 0


def _block_name(entity: Any, name_tag: str) -> tuple[str, str]:
    block = sound_text(str(entity.dxf.get("name", "")))
    if entity.block() is None:
        return attribute_of(entity, name_tag), block
    attribute = entity.get_attrib(name_tag, search_const=True)
    return (sound_text(str(attribute.dxf.text)).strip() if attribute is not None else ""), block
