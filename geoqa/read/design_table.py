"""Design lines and points from a plain table: a vertex, or a point, a row."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import Field

from geoqa.errors import SourceError
from geoqa.model.format import Format
from geoqa.model.source import Evidence, Source
from geoqa.read.delimited.delimited import limit_troubles
from geoqa.read.delimited.headings import Sought
from geoqa.read.delimited.lengths import file_unit
from geoqa.read.delimited.listing import Listing, ListingReader, listing
from geoqa.read.vector.linework import Drawn, Elevations, design_tables

if TYPE_CHECKING:
    import pandas as pd

SOUGHT: Sought = {
    "line": (("line", "line_name"), ("string", "line_id", "feature")),
    "point": (("point", "point_name", "structure"), ("name", "id", "number", "point_no")),
    "kind": (("kind", "feature_kind"), ("type",)),
    "sequence": (("sequence", "seq", "vertex"), ("order",)),
    "start_station": (("start_station",), ()),
    "easting": (("easting", "east", "grid_easting", "grid_east", "grid_e"), ("e", "x")),
    "northing": (("northing", "north", "grid_northing", "grid_north", "grid_n"), ("n", "y")),
    "elevation": (("elevation", "elev"), ("el", "z")),
}
_PLACE = ("easting", "northing", "elevation")


class DesignText(ListingReader):
    """Design lines and points from delimited text with a header, a vertex or a point a row.

    Rows with the same `line` are the vertices of one line, in the order of `sequence` or else of the file; its legs are
    straight, and its stations begin at the `start_station` of its first row, or at 0. A row without one is a design
    point and is named by `point`. The kind stands in a column, or is stated once for the whole file.
    """

    role: ClassVar[str] = "design"
    format: ClassVar[Format | None] = Format(
        title="table of design vertices and points, with a header",
        keeps="every vertex with its elevation, line by line, and points, with kind and name",
        loses="no coordinate system: that is the job’s word; arcs: legs are straight",
    )
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("easting", "northing")

    kind: str | None = Field(None, description="kind of everything in the file, where it has no column for it")
    kinds: dict[str, str] = Field(
        default_factory=dict, description='words of the column kind = our kinds, "*" for all others; "" leaves rows out'
    )
    elevations: Elevations = Field(
        "auto", description="auto: Z of 0 everywhere means unknown; as-drawn: Z as it is; none: Z is not taken"
    )
    null_elevation: tuple[str | float, ...] = Field(
        ("", "-9999"), description="texts and numbers that mean no value, in easting, northing and elevation"
    )

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file.

        Raises
        ------
        SourceError
            No kind is given, a row is neither vertex nor point, or two things have one name.
        """
        rows = listing(self, path)
        name = rows.table.name
        unit, _, found = file_unit(name, rows.unit, places=_PLACE, lengths=())
        rows.evidence += found
        places = np.column_stack([rows.numbers(ours, nulls=self.null_elevation) for ours in _PLACE])
        for at, ours in enumerate(_PLACE[:2]):
            named = np.isin(rows.table.lines, [each.line for each in rows.troubles if each.column == ours])
            rows.leave_out(np.isnan(places[:, at]) & ~named, ours, "is no place")
        rows.dropped = rows.dropped | np.isnan(places[:, :2]).any(axis=1)
        kind = self._kinds(rows)
        rows.leave_out((rows.raw("line") == "") & (rows.raw("point") == ""), "point", "names neither line nor point")
        limit_troubles(name, tuple(rows.troubles), self.bad_rows)
        rows.tell_dates("line", "point")
        drawn = Drawn(file=name)
        self._draw(rows, kind, places, drawn)
        layers = design_tables(drawn, source=source, elevations=self.elevations)
        if "start_station" in rows.place:
            first = layers["design_elements"]["line"].map(_starts(rows)).fillna(0.0).astype("float64")
            elements = layers["design_elements"]
            layers["design_elements"] = elements.assign(start_station=elements["start_station"] + first)
        because = "one a leg; a table holds no arcs"
        told = Evidence(what="elements", answer=f"{len(layers['design_elements'])} straight", because=because)
        return Source(
            layers=layers,
            unit=unit,
            facts={**rows.table.facts, "columns": ", ".join(rows.table.columns)},
            evidence=(*rows.evidence, *drawn.evidence, told),
            troubles=tuple(sorted((*rows.troubles, *drawn.troubles), key=lambda each: (each.line, each.column))),
        )

    def _kinds(self, rows: Listing) -> pd.Series:
        """Kind of each row; "" for a row that is left out by the job's word."""
        if "kind" not in rows.place:
            if self.kind is None:
                raise SourceError(
                    f"'{rows.table.name}' has no column for the kind; state it once for all, kind = \"curb-top\", "
                    'or name the column, columns = { kind = "…" }.'
                )
            return rows.raw("kind").replace("", self.kind)
        written = rows.raw("kind")
        other = self.kinds.get("*")
        kind = written.map({word: self.kinds.get(word, word if other is None else other) for word in set(written)})
        kind = kind.where(written != "", self.kind or "")
        rows.leave_out((written == "") & (kind == ""), "kind", "is no kind")
        return kind

    def _draw(self, rows: Listing, kind: pd.Series, places: np.ndarray, drawn: Drawn) -> None:
        line, point = rows.raw("line").to_numpy(dtype=object), rows.raw("point").to_numpy(dtype=object)
        order = rows.numbers("sequence") if "sequence" in rows.place else np.full(len(line), np.nan)
        number, kinds = rows.table.lines, kind.to_numpy(dtype=object)
        kept = ~rows.dropped & (kinds != "")
        vertices: dict[str, list[int]] = {}
        for at in np.flatnonzero(kept).tolist():
            if line[at]:
                vertices.setdefault(line[at], []).append(at)
            else:
                drawn.add_point(point[at], kinds[at], places[at], number=int(number[at]), layer="table")
        for name, mine in vertices.items():
            mine.sort(key=lambda at: (np.nan_to_num(order[at], nan=np.inf), at))
            if len({kinds[at] for at in mine}) > 1:
                first, other = list(dict.fromkeys(kinds[at] for at in mine))[:2]
                raise SourceError(
                    f"'{rows.table.name}': line '{name}' has two kinds, {first} and {other}; give each kind a line of "
                    "its own."
                )
            drawn.add_line(name, kinds[mine[0]], places[mine], number=int(number[mine[0]]), layer="table")


def _starts(rows: Listing) -> dict[str, float]:
    """Station at which each line begins, by the first of its rows that says one."""
    line, stated = rows.raw("line").to_numpy(dtype=object), rows.numbers("start_station")
    held = [at for at in np.flatnonzero(np.isfinite(stated) & ~rows.dropped) if line[at]]
    return {line[at]: float(stated[at]) for at in reversed(held)}
