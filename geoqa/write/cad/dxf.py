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
from geoqa.model import words
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.quantity import Length, LengthUnit
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
    DESIGN_POINT,
    DIFFERENCE,
    HIDDEN,
    LINES_APART,
    drawing_of,
)
from geoqa.write.cad.dxf_opened import Place, nothing_collected, opened, passes_audit
from geoqa.write.cad.layout import ASIDE, COVERED, laid_out
from geoqa.write.cad.sheet import LABEL, NOTE, Mark, Raised, Sheet
from geoqa.write.cad.symbols import Attribute, Symbol, add_symbol
from geoqa.write.readback import opening_again

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.layouts import Modelspace

FILE = "checked.dxf"
ON_PAPER = {
    name: Length.parse(size) for name, size in (("text", "0.08 in"), ("symbol", "0.12 in"), ("longest_arrow", "0.5 in"))
}
"""Sizes on the sheet; common practice, no source."""
INCH = 0.0254
UNIT_CODES = {"ft": 2, "ftUS": 21, "m": 6}
"""$INSUNITS: 2 feet, 21 US survey feet, 6 metres."""

COLOURS = {"OUT": 1, "UNDECIDED": 30, "NO_DATA": 8, "IN": 5, NOT_CHECKED: 9, DESIGN: 7, BAND: 4, ASBUILT: 3}
COLOURS |= {DESIGN_POINT: 7, COVERED: 9}
"""Colour index by what a layer shows, for programs that know no other colours; grey for all else."""

SHOWN = ("POINT",)
"""Attributes drawn beside the symbol; the others are there and hidden: labels say what is out."""

ATTRIBUTES = (*SHOWN, "SAYS", "CODE", "ELEVATION")
EXTENDED, APPLICATION = ("KEY", "FINDINGS"), "GEOQA"
"""What only a program needs goes into the extended data of this application name."""

SHAPES: dict[str, list[list[tuple[float, float]]]] = {
    "triangle": [[(-0.5, -0.4), (0.5, -0.4), (0.0, 0.5), (-0.5, -0.4)]],
    "diamond": [[(0.0, -0.5), (0.5, 0.0), (0.0, 0.5), (-0.5, 0.0), (0.0, -0.5)]],
    "cross": [[(-0.4, -0.4), (0.4, 0.4)], [(-0.4, 0.4), (0.4, -0.4)]],
    "square": [[(-0.3, -0.3), (0.3, -0.3), (0.3, 0.3), (-0.3, 0.3), (-0.3, -0.3)]],
    "plus": [[(-0.5, 0.0), (0.5, 0.0)], [(0.0, -0.5), (0.0, 0.5)]],
}


class Drawing(Output):
    """Shots, design, bands, gaps, runs, differences and labels for a drawing desk."""

    name: ClassVar[str] = "dxf"
    effort: ClassVar[int] = 5
    imports: ClassVar[tuple[str, ...]] = ("ezdxf", "pyogrio")
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

    sheet_scale: int = Field(
        default=240, ge=1, le=100_000, description="Scale of the sheet it is plotted on: 240 is 1 in = 20 ft"
    )
    symbol: Length | None = Field(
        default=None, description="Size of the symbol of a shot; without, 0.12 in on that sheet"
    )
    text: Length | None = Field(default=None, description="Height of text; without, 0.08 in on that sheet")
    exaggeration: int = Field(default=20, ge=1, description="How many times their length difference arrows are drawn")
    longest_arrow: Length | None = Field(
        default=None, description="Length at which the arrow of a difference ends; without, 0.5 in on that sheet"
    )
    light_above: int = Field(
        default=100_000, ge=0, description="Above this many shots: points and lines only, without blocks"
    )

    def write(self, results: Results, folder: File) -> tuple[str, ...]:
        """Write ``checked.dxf`` into `folder`."""
        unit = results.layers.frame.unit
        height = self._size("text", unit)
        sheet = laid_out(self._sheet(results), height=height, size=self._size("symbol", unit))
        path = File(folder, FILE)
        if len(sheet.marks) > self.light_above:
            layers = {name: (COLOURS.get(shows, 8), is_off(name, shows)) for name, shows in sheet.layers().items()}
            dxf_light.write(path, sheet, insunits=UNIT_CODES[unit.name], height=height, layers=layers)
        else:
            _write_full(path, sheet, results, size=self._size("symbol", unit), height=height)
        return (FILE,)

    def _sheet(self, results: Results) -> Sheet:
        unit = results.layers.frame.unit
        height, longest = self._size("text", unit), self._size("longest_arrow", unit)
        sheet = drawing_of(results, spacing=LINES_APART * height, exaggeration=self.exaggeration, longest=longest)
        share = words.number(height * unit.metres_float / self.sheet_scale / INCH, 2)
        sheet.note.insert(1, f"Text is {share} in high on a sheet at 1:{self.sheet_scale}.")
        return sheet

    def _size(self, name: str, unit: LengthUnit) -> float:
        """A size in the drawing's unit: as the job says, else as large on the sheet as common practice wants it."""
        said: Length | None = getattr(self, name)
        return said.to(unit) if said is not None else ON_PAPER[name].to(unit) * self.sheet_scale

    @opening_again
    def read_back(self, results: Results, folder: File) -> dict[str, Any]:
        """Open the drawing again: unit, each shot and each line in space where it was."""
        unit = results.layers.frame.unit
        sheet = self._sheet(results)
        light = len(sheet.marks) > self.light_above
        back = opened(File(folder, FILE), light=light)
        if back.unit != UNIT_CODES[unit.name]:
            raise OutputError(f"{FILE} gives back unit {back.unit}; {unit.full_name} was written.")
        high = [mark for mark in (*sheet.design, *sheet.marks) if mark.elevation is not None]
        wanted = [(mark.layer, mark.easting, mark.northing, mark.elevation or 0.0) for mark in high]
        apart = next((pair for pair in zip(back.places, wanted, strict=False) if not _same(*pair, light)), None)
        if apart is not None or len(back.places) != len(wanted):
            raise OutputError(
                f"{FILE} gives back {many(len(back.places), 'shot')}, {len(wanted)} were written; first apart: {apart}."
            )
        if len(back.lines) != len(sheet.raised) or not all(map(partial(_same_line, light), back.lines, sheet.raised)):
            raise OutputError(
                f"{FILE} gives back {many(len(back.lines), 'line')} in space, {len(sheet.raised)} were written, "
                "or moved."
            )
        designed = sum(mark.elevation is not None for mark in sheet.design)
        said = {"shots": len(wanted) - designed, "lines in space": len(back.lines), "layers": back.layers}
        return {FILE: {**said, "audit": "clean", "light": light}}


def _same_line(light: bool, readback: Raised, wanted: Raised) -> bool:
    if readback.layer != wanted.layer or len(readback.vertices) != len(wanted.vertices):
        return False
    pairs = zip(readback.vertices, wanted.vertices, strict=True)
    apart = max(abs(a - b) for one, other in pairs for a, b in zip(one, other, strict=True))
    return apart <= (1e-6 if light else 0.0)


def _same(readback: Place, wanted: Place, light: bool) -> bool:
    near = all(abs(a - b) <= (1e-6 if light else 0.0) for a, b in zip(readback[1:], wanted[1:], strict=True))
    return near and readback[0] == wanted[0]


def _write_full(path: File, sheet: Sheet, results: Results, *, size: float, height: float) -> None:
    import ezdxf

    frame = results.layers.frame
    with _steady_dates(), nothing_collected():
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
        passes_audit(document, FILE)
        document.saveas(path, encoding="utf-8")


def _layer(document: Document, name: str, shows: str) -> None:
    layer = document.layers.add(name)
    layer.color = COLOURS.get(shows, 8)
    if shows in SIGNS:
        colour = SIGNS[shows].colour.lstrip("#")
        layer.rgb = int(colour[:2], 16), int(colour[2:4], 16), int(colour[4:], 16)
    if is_off(name, shows):
        layer.off()


def is_off(name: str, shows: str) -> bool:
    """Whether a layer is switched off when the drawing is opened."""
    return shows in (COVERED, BAND) or (shows in HIDDEN and name.startswith((LABEL, DIFFERENCE)))


def _blocks(document: Document, size: float, height: float) -> None:
    shapes = {verdict: sign.shape for verdict, sign in SIGNS.items()} | _OTHERS
    for verdict, shape in sorted(shapes.items()):
        block = document.blocks.new(block_name(verdict))
        if shape == "circle":
            block.add_circle((0.0, 0.0), 0.4 * size)
        for line in SHAPES.get(shape, ()):
            block.add_lwpolyline([(x * size, y * size) for x, y in line])
        for row, tag in enumerate(ATTRIBUTES):
            place = (ASIDE * size, -1.5 * height * row)
            attribute = block.add_attdef(tag, place, dxfattribs={"height": height, "prompt": tag.capitalize()})
            attribute.is_invisible = tag not in SHOWN


_OTHERS = {NOT_CHECKED: "plus", DESIGN_POINT: "square"}


def block_name(verdict: str) -> str:
    """Name of the block that is the symbol of a verdict."""
    return verdict if verdict == DESIGN_POINT else f"SHOT_{verdict.replace('_', '-')}"


def _draw(space: Modelspace, sheet: Sheet, size: float, height: float) -> None:
    for path in sheet.paths:
        space.add_lwpolyline(path.vertices, format="xyb", close=path.closed, dxfattribs={"layer": path.layer})
    for raised in sheet.raised:
        space.add_polyline3d(raised.vertices, dxfattribs={"layer": raised.layer})
    for mark in (*sheet.design, *sheet.marks):
        if mark.elevation is None:
            _in_plan(space, mark, size, height)
        else:
            add_symbol(space, _symbol(mark, mark.elevation, size, height))
    for label in sheet.labels:
        look = {"layer": label.layer, "rotation": label.turn}
        text = space.add_text(cad_text(label.text), height=height, dxfattribs=look)
        text.set_placement((label.easting, label.northing))
    west, south, *_ = sheet.corners()
    look = {"layer": NOTE, "char_height": 1.25 * height, "width": 100 * height}
    note = space.add_mtext(note_text(sheet.note), dxfattribs=look)
    note.set_location((west, south - 10 * height))


def _symbol(mark: Mark, elevation: float, size: float, height: float) -> Symbol:
    east, north = mark.beside or (mark.easting + ASIDE * size, mark.northing)
    attributes = tuple(
        Attribute(
            tag=tag,
            text=cad_text(mark.says[tag]),
            easting=east,
            northing=north - 1.5 * height * row,
            hidden=tag not in SHOWN or mark.quiet,
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
        extended=_extended(mark),
    )


def _extended(mark: Mark) -> tuple[str, ...]:
    return tuple(cad_text(f"{tag}={mark.says[tag]}") for tag in EXTENDED if tag in mark.says)


def _in_plan(space: Modelspace, mark: Mark, size: float, height: float) -> None:
    """A shot without an elevation: its symbol as lines of the plan, its name, and no point to snap to."""
    look = {"layer": mark.layer}
    shape = SIGNS[mark.verdict].shape if mark.verdict in SIGNS else _OTHERS[mark.verdict]
    drawn = [[(mark.easting + x * size, mark.northing + y * size) for x, y in line] for line in SHAPES.get(shape, ())]
    for line in drawn:
        space.add_lwpolyline(line, dxfattribs=look)
    if not drawn:
        space.add_circle((mark.easting, mark.northing), 0.4 * size, dxfattribs=look)
    text = space.add_text(cad_text(f"{mark.says['POINT']} (no elevation)"), height=height, dxfattribs=look)
    text.set_placement(mark.beside or (mark.easting + ASIDE * size, mark.northing))
    text.dxf.invisible = int(mark.quiet)
    if said := _extended(mark):
        text.set_xdata(APPLICATION, [(1000, each) for each in said])


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
