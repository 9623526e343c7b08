"""Design lines and points from DXF drawings; a bulge becomes a true arc."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from pydantic import Field

from geoqa.errors import SourceError
from geoqa.model.design_word import DesignWord
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT, LengthUnit
from geoqa.model.source import Evidence, Peek, Reader, Source
from geoqa.read.delimited.text import existing
from geoqa.read.vector.design_words import design_words
from geoqa.read.vector.drawing import Sketch, layer_of, sketch_of
from geoqa.read.vector.drawing_file import opened_drawing
from geoqa.read.vector.linework import Drawn, Elevations, design_tables

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

UNITS: dict[int, LengthUnit] = {2: FOOT, 6: METRE, 21: US_SURVEY_FOOT}
"""What the drawing variable INSUNITS says, for the units a job can have."""


class DesignDrawing(Reader):
    """Design lines and points of the model space of a drawing, by layer.

    Lines, polylines with bulges, 3D polylines, arcs, points and block insertions are read; everything
    else on a layer that is read is counted and named. A layer with one line or one point gives it the
    layer's name; on others they are numbered in the order of their handles.
    """

    role: ClassVar[str] = "design"

    layers: dict[str, str] = Field(
        default_factory=dict,
        description="layer = kind; other layers are then not read. Without it all are, the kind being the layer name",
    )
    name_tag: str = Field("NAME", description="block attribute that holds the name of an inserted point")
    elevations: Elevations = Field(
        "auto", description="auto: Z of 0 everywhere means unknown; as-drawn: Z as it is; none: Z is not taken"
    )

    def peek(self, path: Path) -> Peek:
        """Look at layers, what is drawn on them, and the unit."""
        document = opened_drawing(existing(path))
        counts: dict[tuple[str, str], int] = {}
        for each in document.modelspace():
            key = (layer_of(each), each.dxftype())
            counts[key] = counts.get(key, 0) + 1
        rows = tuple((layer, what, str(count)) for (layer, what), count in sorted(counts.items()))
        layers = tuple(sorted({layer for layer, _ in counts}))
        return Peek(columns=("layer", "entity", "count"), rows=rows, layers=layers, evidence=(_unit(document)[1],))

    def words(self, path: Path, *, kinds: Mapping[str, str], codes: Mapping[str, str]) -> tuple[DesignWord, ...]:
        """List layers, blocks, block attributes, linetypes and colours, with counts and a guessed kind each."""
        return design_words(path, kinds=kinds, codes=codes)

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole drawing.

        Raises
        ------
        SourceError
            The file is no sound drawing, nothing in it can be read, or a layer of the job is not there.
        """
        path = existing(path)
        document = opened_drawing(path)
        unit, evidence = _unit(document)
        sketch = sketch_of(document, layers=self.layers, name_tag=self.name_tag)
        self._refuse_unknown_layers(document, path.name)
        drawn = Drawn(file=path.name, evidence=[evidence, *sketch.evidence], troubles=list(sketch.troubles))
        _name_all(sketch, drawn)
        tables = design_tables(drawn, source=source, elevations=self.elevations)
        arcs = int((tables["design_elements"]["shape"] == "arc").sum())
        answer = f"{len(tables['design_elements']) - arcs} straight, {arcs} arcs"
        drawn.evidence.append(Evidence(what="elements", answer=answer, because="segments and bulges as drawn"))
        return Source(
            layers=tables,
            unit=unit,
            facts={"layers": ", ".join(sorted(sketch.layers)), "drawing version": document.acad_release},
            evidence=tuple(drawn.evidence),
            troubles=tuple(drawn.troubles),
        )

    def _refuse_unknown_layers(self, document: Document, file: str) -> None:
        there = {each.dxf.name.casefold() for each in document.layers}
        there |= {layer_of(each).casefold() for each in document.modelspace()}
        strange = [each for each in self.layers if each.casefold() not in there]
        if strange:
            raise SourceError(f"'{file}' has no layer {', '.join(strange)}; its layers are {', '.join(sorted(there))}.")


def _unit(document: Document) -> tuple[LengthUnit | None, Evidence]:
    code = int(document.header.get("$INSUNITS", 0))
    unit = UNITS.get(code)
    if unit is FOOT:
        because = "INSUNITS 2; some programs write it for either foot, so state the unit in the job if it is ftUS"
    elif unit is not None:
        because = f"INSUNITS {code}"
    elif code == 0:
        because = "INSUNITS 0, unitless"
    else:
        raise SourceError(
            f"The drawing says INSUNITS {code}; only 2 (ft), 6 (m), 21 (ftUS) and 0 (not stated) can be read. "
            "Set the drawing's units and save it again."
        )
    return unit, Evidence(what="unit", answer=unit.name if unit else "not stated", because=because)


def _name_all(sketch: Sketch, drawn: Drawn) -> None:
    """Give every line and point its name and hand it over, layer by layer in handle order."""
    alone = {layer for layer in sketch.layers if sum(each.layer == layer for each in sketch.entities) == 1}
    counts: dict[str, int] = {}
    for each in sorted(sketch.entities, key=lambda one: (one.layer, one.handle)):
        stem = each.block or each.layer
        counts[stem] = counts.get(stem, 0) + 1
        name = each.name or (each.layer if each.layer in alone and not each.block else f"{stem}-{counts[stem]}")
        if each.point:
            drawn.add_point(name, each.kind, each.places[0], number=each.number, layer=each.layer)
        else:
            drawn.add_line(
                name,
                each.kind,
                each.places,
                number=each.number,
                layer=each.layer,
                bulges=each.bulges,
                closed=each.closed,
            )
