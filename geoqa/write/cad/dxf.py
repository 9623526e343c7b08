"""checked.dxf: one layer per kind and verdict, shots as blocks with attributes, linework with true arcs.

The header's unit is the job's own foot. A drawing carries no coordinate system that every program
trusts, so the frame stands in words in the drawing's properties and in a note beside the work.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from pathlib import Path as File
from typing import TYPE_CHECKING, Any, ClassVar

from pydantic import Field

from geoqa.errors import OutputError
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.quantity import Length
from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.model.tables.reported import NOT_CHECKED
from geoqa.model.words import many
from geoqa.write.about import about
from geoqa.write.cad import dxf_light
from geoqa.write.cad.cad_text import cad_text, note_text
from geoqa.write.cad.drawing import (
    ASBUILT,
    BAND,
    DESIGN,
    DIFFERENCE,
    HIDDEN,
    LABEL,
    NOTE,
    Mark,
    Raised,
    Sheet,
    drawing_of,
)
from geoqa.write.cad.symbols import Attribute, Symbol, add_symbol
from geoqa.write.readback import opening_again

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.entities import DXFEntity
    from ezdxf.layouts import Modelspace

Place = tuple[str, float, float, float]
"""Layer, easting, northing and elevation of a shot."""

FILE = "checked.dxf"
UNIT_CODES = {"ft": 2, "ftUS": 21, "m": 6}
"""$INSUNITS: 2 feet, 21 US survey feet, 6 metres."""

COLOURS = {"OUT": 1, "UNDECIDED": 30, "NO_DATA": 8, "IN": 5, NOT_CHECKED: 9, DESIGN: 7, BAND: 4, ASBUILT: 3}
"""Colour index by what a layer shows, for programs that know no other colours; grey for all else."""

SHOWN = ("POINT",)
"""Attributes drawn beside the symbol; the others are there and hidden: labels say what is out."""

ATTRIBUTES = (*SHOWN, "SAYS", "CODE", "ELEVATION")
EXTENDED, APPLICATION = ("KEY", "FINDINGS"), "GEOQA"
"""What only a program needs goes into the extended data of this application name."""

SHAPES = {
    "triangle": [[(-0.5, -0.4), (0.5, -0.4), (0.0, 0.5), (-0.5, -0.4)]],
    "diamond": [[(0.0, -0.5), (0.5, 0.0), (0.0, 0.5), (-0.5, 0.0), (0.0, -0.5)]],
    "cross": [[(-0.4, -0.4), (0.4, 0.4)], [(-0.4, 0.4), (0.4, -0.4)]],
    "plus": [[(-0.5, 0.0), (0.5, 0.0)], [(0.0, -0.5), (0.0, 0.5)]],
}


class Drawing(Output):
    """Shots, design, bands, gaps, runs, differences and labels for a drawing desk."""

    name: ClassVar[str] = "dxf"
    files: ClassVar[Mapping[str, str]] = {
        FILE: "drawing: as-built and design lines, shots by verdict, in the job's unit"
    }
    format: ClassVar[Format | None] = Format(
        title="DXF drawing of results",
        keeps="shots as blocks with attributes, as-built and design lines with true arcs in plan, and in space "
        "where every elevation is known, one layer a kind and verdict, the job’s foot",
        loses="arcs of lines in space are chords; no coordinate system that every program trusts: the frame stands "
        "in words; arrows of "
        "differences are exaggerated by a printed factor; numbers are rounded for print",
    )

    symbol: Length = Field(default=Length.parse("0.8 ft"), description="Size of the symbol of a shot")
    text: Length = Field(default=Length.parse("0.4 ft"), description="Height of text")
    exaggeration: int = Field(default=20, ge=1, description="How many times their length difference arrows are drawn")
    longest_arrow: Length = Field(
        default=Length.parse("10 ft"), description="Length at which the arrow of a difference ends"
    )
    light_above: int = Field(
        default=100_000, ge=0, description="Above this many shots: points and lines only, without blocks"
    )

    def write(self, results: Results, folder: File) -> tuple[str, ...]:
        """Write ``checked.dxf`` into `folder`."""
        unit = results.layers.frame.unit
        height = self.text.to(unit)
        sheet = self._sheet(results)
        path = File(folder, FILE)
        if len(sheet.marks) > self.light_above:
            dxf_light.write(path, sheet, insunits=UNIT_CODES[unit.name], height=height)
        else:
            _write_full(path, sheet, results, size=self.symbol.to(unit), height=height)
        return (FILE,)

    def _sheet(self, results: Results) -> Sheet:
        unit = results.layers.frame.unit
        spacing, longest = 1.5 * self.text.to(unit), self.longest_arrow.to(unit)
        return drawing_of(results, spacing=spacing, exaggeration=self.exaggeration, longest=longest)

    @opening_again
    def read_back(self, results: Results, folder: File) -> dict[str, Any]:
        """Open the drawing again: audit, unit, properties, and each shot where it was."""
        import ezdxf

        unit = results.layers.frame.unit
        sheet = self._sheet(results)
        document = ezdxf.readfile(File(folder, FILE))
        errors = document.audit().errors
        if errors:
            raise OutputError(f"{FILE} does not pass its audit: {errors[0].message}; do not use it.")
        if document.header.get("$INSUNITS") != UNIT_CODES[unit.name]:
            raise OutputError(
                f"{FILE} gives back unit {document.header.get('$INSUNITS')}; {unit.full_name} was written."
            )
        light = len(sheet.marks) > self.light_above
        found = [_place(each, light) for each in document.modelspace().query("POINT" if light else "INSERT")]
        high = [mark for mark in sheet.marks if mark.elevation is not None]
        wanted = [(mark.layer, mark.easting, mark.northing, mark.elevation or 0.0) for mark in high]
        apart = next((pair for pair in zip(found, wanted, strict=False) if not _same(*pair, light)), None)
        if apart is not None or len(found) != len(wanted):
            raise OutputError(
                f"{FILE} gives back {many(len(found), 'shot')}, {len(wanted)} were written; first apart: {apart}."
            )
        lines = _lines_in_space(document)
        if len(lines) != len(sheet.raised) or not all(map(partial(_same_line, light), lines, sheet.raised)):
            raise OutputError(
                f"{FILE} gives back {many(len(lines), 'line')} in space, {len(sheet.raised)} were written, or moved."
            )
        said = {"shots": len(found), "lines in space": len(lines), "layers": len(sheet.layers())}
        return {FILE: {**said, "audit": "clean", "light": light}}


def _lines_in_space(document: Document) -> list[Raised]:
    found: Any = document.modelspace().query("POLYLINE")
    lines = [each for each in found if each.is_3d_polyline]
    return [Raised(each.dxf.layer, tuple((at.x, at.y, at.z) for at in each.points()), "") for each in lines]


def _same_line(light: bool, readback: Raised, wanted: Raised) -> bool:
    if readback.layer != wanted.layer or len(readback.vertices) != len(wanted.vertices):
        return False
    pairs = zip(readback.vertices, wanted.vertices, strict=True)
    apart = max(abs(a - b) for one, other in pairs for a, b in zip(one, other, strict=True))
    return apart <= (1e-6 if light else 0.0)


def _same(readback: Place, wanted: Place, light: bool) -> bool:
    near = all(abs(a - b) <= (1e-6 if light else 0.0) for a, b in zip(readback[1:], wanted[1:], strict=True))
    return near and readback[0] == wanted[0]


def _place(entity: DXFEntity, light: bool) -> Place:
    place = entity.dxf.location if light else entity.dxf.insert
    return entity.dxf.layer, place.x, place.y, place.z


def _write_full(path: File, sheet: Sheet, results: Results, *, size: float, height: float) -> None:
    import ezdxf

    frame = results.layers.frame
    with _steady_dates():
        document = ezdxf.new("R2010", units=UNIT_CODES[frame.unit.name])
        document.header["$MEASUREMENT"] = 1 if frame.unit.name == "m" else 0
        for label, text in about(results).items():
            if label != "record":
                document.header.custom_vars.append(f"geoqa {label}", cad_text(text))
        for name, shows in sheet.layers().items():
            _layer(document, name, shows)
        _blocks(document, size, height)
        document.appids.add(APPLICATION)
        _draw(document.modelspace(), sheet, size, height)
        west, south, east, north = sheet.corners()
        document.header["$EXTMIN"], document.header["$EXTMAX"] = (west, south, 0.0), (east, north, 0.0)
        document.set_modelspace_vport(
            max(north - south, east - west, 10 * height), ((west + east) / 2, (south + north) / 2)
        )
        for kind in sorted(document.entitydb.dxf_types_in_use()):
            document.classes.add_class(kind)  # the library would add them in the order of a set
        document.saveas(path, encoding="utf-8")


def _layer(document: Document, name: str, shows: str) -> None:
    layer = document.layers.add(name)
    layer.color = COLOURS.get(shows, 8)
    if shows in SIGNS:
        colour = SIGNS[shows].colour.lstrip("#")
        layer.rgb = int(colour[:2], 16), int(colour[2:4], 16), int(colour[4:], 16)
    if shows in HIDDEN and name.startswith((LABEL, DIFFERENCE)):
        layer.off()


def _blocks(document: Document, size: float, height: float) -> None:
    shapes = {verdict: sign.shape for verdict, sign in SIGNS.items()} | {NOT_CHECKED: "plus"}
    for verdict, shape in sorted(shapes.items()):
        block = document.blocks.new(block_name(verdict))
        if shape == "circle":
            block.add_circle((0.0, 0.0), 0.4 * size)
        for line in SHAPES.get(shape, ()):
            block.add_lwpolyline([(x * size, y * size) for x, y in line])
        for row, tag in enumerate(ATTRIBUTES):
            place = (0.7 * size, -1.5 * height * row)
            attribute = block.add_attdef(tag, place, dxfattribs={"height": height, "prompt": tag.capitalize()})
            attribute.is_invisible = tag not in SHOWN


def block_name(verdict: str) -> str:
    """Name of the block that is the symbol of a verdict."""
    return f"SHOT_{verdict.replace('_', '-')}"


def _draw(space: Modelspace, sheet: Sheet, size: float, height: float) -> None:
    for path in sheet.paths:
        space.add_lwpolyline(path.vertices, format="xyb", close=path.closed, dxfattribs={"layer": path.layer})
    for raised in sheet.raised:
        space.add_polyline3d(raised.vertices, dxfattribs={"layer": raised.layer})
    for mark in sheet.marks:
        if mark.elevation is None:
            _in_plan(space, mark, size, height)
        else:
            add_symbol(space, _symbol(mark, mark.elevation, size, height))
    for label in sheet.labels:
        text = space.add_text(cad_text(label.text), height=height, dxfattribs={"layer": label.layer})
        text.set_placement((label.easting, label.northing))
    west, south, *_ = sheet.corners()
    note = space.add_mtext(note_text(sheet.note), dxfattribs={"layer": NOTE, "char_height": 2 * height})
    note.set_location((west, south - 10 * height))


def _symbol(mark: Mark, elevation: float, size: float, height: float) -> Symbol:
    attributes = tuple(
        Attribute(
            tag=tag,
            text=cad_text(mark.says[tag]),
            easting=mark.easting + 0.7 * size,
            northing=mark.northing - 1.5 * height * row,
            hidden=tag not in SHOWN,
        )
        for row, tag in enumerate(ATTRIBUTES)
    )
    return Symbol(
        block=block_name(mark.verdict),
        layer=mark.layer,
        place=(mark.easting, mark.northing, elevation),
        height=height,
        attributes=attributes,
        application=APPLICATION,
        extended=tuple(cad_text(f"{tag}={mark.says[tag]}") for tag in EXTENDED),
    )


def _in_plan(space: Modelspace, mark: Mark, size: float, height: float) -> None:
    """A shot without an elevation: its symbol as lines of the plan, its name, and no point to snap to."""
    look = {"layer": mark.layer}
    shape = SIGNS[mark.verdict].shape if mark.verdict in SIGNS else "plus"
    drawn = [[(mark.easting + x * size, mark.northing + y * size) for x, y in line] for line in SHAPES.get(shape, ())]
    for line in drawn:
        space.add_lwpolyline(line, dxfattribs=look)
    if not drawn:
        space.add_circle((mark.easting, mark.northing), 0.4 * size, dxfattribs=look)
    text = space.add_text(cad_text(f"{mark.says['POINT']} (no elevation)"), height=height, dxfattribs=look)
    text.set_placement((mark.easting + 0.7 * size, mark.northing))
    text.set_xdata(APPLICATION, [(1000, cad_text(f"{tag}={mark.says[tag]}")) for tag in EXTENDED])


@contextmanager
def _steady_dates() -> Iterator[None]:
    """Keep the clock and random ids out of the file, and put the setting back after."""
    import ezdxf

    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
