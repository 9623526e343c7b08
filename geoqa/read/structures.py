"""Notes about structures and pipes, an end of a pipe a row, from delimited text."""

from __future__ import annotations

import re
from pathlib import Path
from typing import ClassVar

import numpy as np

from geoqa.errors import GeoqaError
from geoqa.model.format import Format
from geoqa.model.quantity import Length
from geoqa.model.source import Source
from geoqa.read.delimited.headings import Sought
from geoqa.read.delimited.lengths import file_unit
from geoqa.read.delimited.listing import Listing, ListingReader, listing

SOUGHT: Sought = {
    "structure": (("structure",), ("structure_name", "manhole", "inlet")),
    "shot": (("rim_shot", "shot"), ("rim", "point")),
    "pipe": (("pipe",), ("pipe_name",)),
    "direction": (("direction", "flow"), ("in_out",)),
    "invert_shot": (("invert_shot",), ()),
    "measure_down": (("measure_down", "measuredown"), ("md",)),
    "u_measure_down": (("u_measure_down",), ("measure_down_uncertainty",)),
    "sump": (("sump",), ("sump_measure_down",)),
    "depth": (("depth",), ("nut_depth",)),
    "size": (("size", "diameter"), ("inside_diameter",)),
    "wall": (("wall",), ("wall_thickness",)),
    "material": (("material",), ()),
    "type": (("type",), ("structure_type",)),
    "facing": (("facing",), ()),
    "kind": (("kind", "feature_kind"), ()),
}
LENGTHS = ("measure_down", "u_measure_down", "sump", "depth")
TEXTS = ("structure", "shot", "pipe", "invert_shot", "size", "material", "type", "facing", "kind")
WAYS = {"in": "in", "out": "out", "i": "in", "o": "out", "inlet": "in", "outlet": "out", "": ""}
_SIZE = re.compile(r'^\s*(?P<number>[\d. /]*\d)\s*(?P<unit>in|inch|inches|"|mm|cm|m|ft)?\.?\s*$', re.IGNORECASE)
_COMMA = re.compile(r"(?<=\d),(?=\d)")
_WORDS = {'"': "in", "inch": "in", "inches": "in"}


class StructuresText(ListingReader):
    """Structures and the ends of their pipes, an end a row, from delimited text with a header.

    `structure`, `rim_shot` (name of the shot of the rim), `pipe`, `direction` (in or out), `measure_down` from the rim
    to the invert in the unit of the heading, or `invert_shot`; `size` and `wall` with their own unit ("8 in"), or with
    the unit in the heading; material, type, facing, depth, sump; `kind` of the pipe. A row without a pipe is about the
    structure, one without a structure about the pipe.
    """

    role: ClassVar[str] = "structures"
    format: ClassVar[Format | None] = Format(
        title="delimited text of structures, pipes and measure-downs, with a header",
        keeps="rim shot, pipe, direction, measure-down, sump, size, wall, material, type, facing, depth",
        loses="other columns",
    )
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("structure",)

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file."""
        import pandas as pd

        rows = listing(self, path)
        unit, foreign, found = file_unit(rows.table.name, rows.unit, places=("measure_down",), lengths=LENGTHS[1:])
        rows.evidence += found
        rows.place = {ours: at for ours, at in rows.place.items() if ours not in foreign}
        rows.leave_out((rows.raw("structure") == "") & (rows.raw("pipe") == ""), "structure", "names no structure")
        ways = [WAYS.get(each.strip().casefold()) for each in rows.raw("direction")]
        rows.leave_out([each is None for each in ways], "direction", "is neither in nor out")
        columns: dict[str, pd.Series | np.ndarray] = {"line": rows.table.lines}
        columns["source"] = pd.Series(source, index=range(len(rows.table)), dtype="str")
        columns["direction"] = pd.Series([each or None for each in ways], dtype="str")
        columns |= {ours: rows.text(ours) for ours in TEXTS}
        columns |= {ours: rows.numbers(ours) for ours in LENGTHS}
        down = np.asarray(columns["measure_down"])
        # one slip of the pencil costs its own row: the end says rim-below, and the rest of the file is judged
        below = (down < 0) & ~rows.dropped
        rows.name_rows(below, "measure_down", "is below 0: a measure-down is written without a sign", kept=True)
        u_down = np.asarray(columns["u_measure_down"])
        rows.leave_out(u_down <= 0, "u_measure_down", "is no 1 sigma")
        columns["diameter"], columns["wall"] = self._metres(rows, "size"), self._metres(rows, "wall")
        rows.tell_dates("structure", "shot", "pipe")
        return rows.source("structure_notes", columns, unit=unit)

    @staticmethod
    def _metres(rows: Listing, ours: str) -> np.ndarray:
        """Sizes in metres; NaN for words, and for numbers without a unit, which are told; both stay as written."""
        text, stated = rows.raw(ours), rows.unit.get(ours, "")
        values = np.full(len(text), np.nan)
        bare = np.zeros(len(text), dtype=bool)
        comma = rows.table.decimal == ","
        for at, written in enumerate(text.tolist()):
            match = _SIZE.match(_COMMA.sub(".", written) if comma else written)
            if match is None:
                continue
            unit = (match["unit"] or stated).casefold()
            unit = "ft" if unit == "foot" else _WORDS.get(unit, unit)
            bare[at] = not unit
            if unit:
                try:
                    values[at] = float(Length.parse(f"{match['number'].strip()} {unit}").metres)
                except (GeoqaError, ValueError):
                    bare[at] = True
        nameless = 'is a number without its unit, so it is taken as not noted: write "8 in", or the unit in the heading'
        rows.name_rows(bare & ~rows.dropped, ours, nameless, kept=True)
        mixed = np.array([not comma and _SIZE.match(_COMMA.sub(".", each)) is not None for each in text]) & (text != "")
        mixed &= text.str.contains(",", regex=False).to_numpy(bool) & ~rows.dropped
        rows.name_rows(
            mixed, ours, "has a comma where the file has points; taken as not noted: write 8.5 in", kept=True
        )
        rows.leave_out(values <= 0, ours, "is no size")
        return values
