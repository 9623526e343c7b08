"""Design lines and points from DXF drawings; a bulge becomes a true arc."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from pydantic import Field

from geoqa.errors import SourceError
from geoqa.model.design_word import DesignWord
from geoqa.model.format import Format
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT, LengthUnit
from geoqa.model.source import Evidence, Peek, Reader, Source
from geoqa.read.delimited.text import existing
from geoqa.read.vector.design_words import design_words
from geoqa.read.vector.drawing import KindsDrawn, Sketch, layer_of, sketch_of
from geoqa.read.vector.drawing_file import damage_heard, opened_drawing
from geoqa.read.vector.kind_tables import unused
from geoqa.read.vector.linework import MEND, Drawn, Elevations, design_tables
from geoqa.read.vector.text_elevations import text_elevations

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

UNITS: dict[int, LengthUnit] = {2: FOOT, 6: METRE, 21: US_SURVEY_FOOT}
"""What the drawing variable INSUNITS says, for the units a job can have."""

_OTHER_UNITS = {1: "inches", 3: "miles", 4: "millimetres", 5: "centimetres", 7: "kilometres", 10: "yards"}


class DesignDrawing(Reader):
    """Design lines and points of the model space of a drawing, by layer.

    Lines, polylines with bulges, 3D polylines, arcs, points and block insertions are read; everything
    else on a layer that is read is counted and named. A layer with one line or one point gives it the
    layer's name; on others they are numbered in the order of their handles.
    """

    role: ClassVar[str] = "design"
    format: ClassVar[Format | None] = Format(
        title="DXF drawing of design",
        keeps="lines, polylines with true arcs, points and block insertions of the model space, by layer, with "
        "their elevations",
        loses="no coordinate system, and a unit that is often only a setting: both are the job’s word; paper "
        "space, external drawings, text, hatches, what stands inside blocks",
    )

    layers: dict[str, str] = Field(
        default_factory=dict,
        description='layer = kind, "*" standing for any letters; other layers are then not read, and a kind of "" '
        "leaves a layer out. Without any such table all are read, the kind being the layer name",
    )
    blocks: dict[str, str] = Field(
        default_factory=dict, description="block = kind, for insertions on any layer; it goes before the layer's kind"
    )
    values: dict[str, str] = Field(
        default_factory=dict, description="value of the block attribute kind_tag = kind; it goes before the block's"
    )
    linetypes: dict[str, str] = Field(
        default_factory=dict, description="linetype of its own = kind; it goes before the layer's kind"
    )
    colours: dict[str, str] = Field(
        default_factory=dict, description='number of the colour of its own = kind, such as { "3" = "curb-top" }'
    )
    kind_tag: str = Field("TYPE", description="block attribute whose values tell the kind")
    name_tag: str = Field("NAME", description="block attribute that holds the name of an inserted point")
    elevations: Elevations = Field(
        "auto", description="auto: Z of 0 everywhere means unknown; as-drawn: Z as it is; none: Z is not taken"
    )

    def peek(self, path: Path) -> Peek:
        """Look at layers, what is drawn on them, and the unit."""
        counts: dict[tuple[str, str], int] = {}
        with damage_heard(path):
            document = opened_drawing(existing(path))
            for each in document.modelspace():
                key = (layer_of(each), each.dxftype())
                counts[key] = counts.get(key, 0) + 1
        rows = tuple((layer, what, str(count)) for (layer, what), count in sorted(counts.items()))
        layers = tuple(sorted({layer for layer, _ in counts}))
        return Peek(columns=("layer", "entity", "count"), rows=rows, layers=layers, evidence=(_unit(document)[1],))

    def words(self, path: Path, *, kinds: Mapping[str, str], codes: Mapping[str, str]) -> tuple[DesignWord, ...]:
        """List layers, blocks, block attributes, linetypes and colours, with counts and a guessed kind each."""
        with damage_heard(path):
            return design_words(path, kinds=kinds, codes=codes)

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole drawing.

        Raises
        ------
        SourceError
            The file is no sound drawing, nothing in it can be read, or a layer of the job is not there.
        """
        with damage_heard(path) as damage:
            whole = self._whole(existing(path), source)
        return replace(whole, troubles=(*damage.troubles(), *whole.troubles))

    def _whole(self, path: Path, source: str) -> Source:
        document = opened_drawing(path)
        unit, evidence, doubt = _unit(document)
        kinds = self._kinds()
        self._refuse_unknown_layers(document, path.name)
        sketch = sketch_of(document, kinds=kinds, name_tag=self.name_tag)
        drawn = Drawn(file=path.name, evidence=[evidence, *sketch.evidence], troubles=list(sketch.troubles))
        drawn.evidence += text_elevations(document, (each.places for each in sketch.entities), unit)
        if lost := kinds.unused(document):
            because = "nothing in the drawing fits them"
            drawn.evidence.append(Evidence(what="of no use in the job", answer=", ".join(lost), because=because))
        drawn.naming = f"state the block attribute that tells them apart as name_tag (it is '{self.name_tag}')"
        _name_all(sketch, drawn)
        tables = design_tables(drawn, source=source, elevations=self.elevations, mend=MEND)
        arcs = int((tables["design_elements"]["shape"] == "arc").sum())
        answer = f"{len(tables['design_elements']) - arcs} straight, {arcs} arcs"
        drawn.evidence.append(Evidence(what="elements", answer=answer, because="segments and bulges as drawn"))
        return Source(
            layers=tables,
            unit=unit,
            unit_doubt=doubt,
            facts={"layers": ", ".join(sorted(sketch.layers)), "drawing version": document.acad_release},
            evidence=tuple(drawn.evidence),
            troubles=tuple(drawn.troubles),
        )

    def _kinds(self) -> KindsDrawn:
        return KindsDrawn(
            layers=self.layers,
            blocks=self.blocks,
            values=self.values,
            linetypes=self.linetypes,
            colours=self.colours,
            tag=self.kind_tag,
        )

    def _refuse_unknown_layers(self, document: Document, file: str) -> None:
        there = {each.dxf.name for each in document.layers} | {layer_of(each) for each in document.modelspace()}
        strange = unused(self.layers, there)
        if strange:
            listed = ", ".join(sorted({each.casefold() for each in there}))
            raise SourceError(
                f"'{file}' has no layer {', '.join(strange)}; its layers are {listed}. Name them in the job: "
                'layers = { "NAME*" = "KIND" }; capitals do not count, and * stands for anything.'
            )


def _unit(document: Document) -> tuple[LengthUnit | None, Evidence, str]:
    """The unit a drawing states, in words, and why that is not certain; empty where it is."""
    code = document.header.get("$INSUNITS", 0)
    unit = UNITS.get(code)
    because, doubt = f"INSUNITS {code}", ""
    if unit is FOOT:
        doubt = "INSUNITS 2, which some programs write for either foot"
        because = f"{doubt}; state the unit in the job if it is ftUS"
    elif code == 0:
        because = "INSUNITS 0, unitless"
    elif unit is None:
        doubt = f"INSUNITS {code}" + (f" ({_OTHER_UNITS[code]})" if code in _OTHER_UNITS else "")
        because = f"{doubt} is no unit that coordinates of a job are in; the job has to state it"
    return unit, Evidence(what="unit", answer=unit.name if unit else "not stated", because=because), doubt


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
