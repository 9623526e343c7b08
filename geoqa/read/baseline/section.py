"""The typical section of a baseline from a plain table: which line lies how far out, how high, and on which stretch."""

from __future__ import annotations

from pathlib import Path
from typing import Any, ClassVar

import numpy as np

from geoqa.errors import QuantityError, SourceError
from geoqa.model.format import Format
from geoqa.model.quantity import Slope
from geoqa.model.source import Evidence, Source
from geoqa.read.baseline.profile import places, stations
from geoqa.read.delimited.headings import Sought
from geoqa.read.delimited.lengths import file_unit
from geoqa.read.delimited.listing import Listing, ListingReader, listing

SOUGHT: Sought = {
    "line": (("line", "design_line"), ("name",)),
    "kind": (("kind", "feature_kind"), ("feature",)),
    "from_station": (("from", "from_station"), ("start_station", "begin")),
    "to_station": (("to", "to_station"), ("end_station", "end")),
    "after": (("after", "outside_of"), ("previous",)),
    "width": (("width",), ("offset",)),
    "slope": (("slope", "cross_slope"), ()),
    "rise": (("rise",), ("step", "height")),
    "superelevation": (("superelevation", "super"), ("e",)),
}


class SectionTable(ListingReader):
    """A typical section, one row a design line and stretch.

    `width` is how far the line lies from the one named in `after`, or from the baseline where that is empty, positive
    to the right. Its elevation is that of the other line, or of the profile, plus `slope` times the width (positive
    rising outward, away from the other line), plus `rise` (a curb face, say).
    """

    format: ClassVar[Format | None] = Format(
        title="table of a typical section",
        keeps="offsets, slopes and rises of its lines by range of stations",
        loses="superelevation: a section is as its rows say",
    )
    role: ClassVar[str] = "section"
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("line", "kind", "from_station", "to_station", "width")

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file.

        Raises
        ------
        SourceError
            A row cannot be read, or follows a line that is not there.
        """
        rows = listing(self, path)
        unit, foreign, found = file_unit(rows.table.name, rows.unit, places=("width",), lengths=("rise",))
        if foreign:
            raise SourceError(
                f"'{rows.table.name}': rise in another unit than the widths; export both in one unit, and state it in "
                'the job: unit = "ft".'
            )
        rows.evidence += found
        columns: dict[str, Any] = {}
        for name in ("from", "to"):
            columns[f"{name}_station"], columns[f"{name}_equation"] = stations(rows, f"{name}_station")
        columns |= {
            "sequence": np.arange(len(rows.table)),
            "line": rows.raw("line"),
            "kind": rows.raw("kind"),
            "after": rows.raw("after"),
            "width": rows.numbers("width"),
            "slope": _slopes(rows),
            "rise": np.nan_to_num(rows.numbers("rise")) if "rise" in rows.place else np.zeros(len(rows.table)),
            "source": [source] * len(rows.table),
            "place": places(rows),
        }
        for empty, what in ((rows.raw("line") == "", "line"), (rows.raw("kind") == "", "kind")):
            rows.leave_out(empty, what, "is empty; every row of a section names its line and its kind")
        rows.leave_out(np.isnan(columns["width"]), "width", "is no number; 0 is allowed, e.g. for a curb face")
        if "superelevation" in rows.place:
            because = "banked sections are not made; the slopes of the table hold everywhere"
            rows.evidence.append(Evidence(what="superelevation", answer="not used", because=because))
            columns["left_out"] = ["superelevation" if text else "" for text in rows.raw("superelevation")]
        return rows.source("section", columns, unit=unit)


def _slopes(rows: Listing) -> np.ndarray:
    values = np.zeros(len(rows.table))
    for at, text in enumerate(rows.raw("slope")):
        text = text.strip()
        if not text:
            continue
        try:
            values[at] = float(Slope.parse(text)) if ("%" in text or ":" in text) else float(text)
        except (QuantityError, ValueError):
            values[at] = np.nan
        if not np.isfinite(values[at]) or abs(values[at]) > 5.0:
            raise SourceError(
                f"'{rows.table.name}', line {int(rows.table.lines[at])}: slope '{text[:40]}' is none; -2 %, 1:48 or "
                "-0.02 are, positive rising outward."
            )
    return values
