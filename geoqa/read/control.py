"""Control marks and their published values from delimited text."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from pydantic import Field

from geoqa.model.format import Format
from geoqa.model.source import Evidence, Source
from geoqa.read.delimited.delimited import DelimitedReader, TextTable
from geoqa.read.delimited.headings import Headings, Sought
from geoqa.read.delimited.lengths import file_unit
from geoqa.read.delimited.listing import ListingReader, listing, refuse_repeats
from geoqa.read.delimited.order import Around
from geoqa.read.delimited.unnamed import PlacesText

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

_OF_POINTS = (
    *("point_name", "point_number", "point_no", "point_id", "point_num", "pt", "pt_no", "pt_id", "pt_name", "ptid"),
    *("pnt", "pnt_no", "number", "no", "p", "control_point", "cp"),
)
"""Headings under which the names of points stand, in lists of marks too."""
SOUGHT: Sought = {
    "mark": (("mark", "mark_name"), ("point", "name", "control", *_OF_POINTS, "id")),
    "easting": (("easting", "east", "grid_easting", "grid_east", "grid_e"), ("e", "x")),
    "northing": (("northing", "north", "grid_northing", "grid_north", "grid_n"), ("n", "y")),
    "elevation": (("elevation", "elev", "orthometric_height", "ortho_height", "ortho_elev", "ortho_ht"), ("el", "z")),
    "u_h": (("u_h",), ("horizontal_uncertainty",)),
    "u_v": (("u_v",), ("vertical_uncertainty",)),
    "held": (("held",), ("fixed",)),
    "independent": (("independent",), ()),
    "reference": (("reference", "source"), ("origin",)),
}


class ControlText(ListingReader, PlacesText):
    """Control marks, one a row, from delimited text with or without a header.

    `u_h` and `u_v` are one sigma of the published value, horizontal per axis.
    """

    role: ClassVar[str] = "control"
    format: ClassVar[Format | None] = Format(
        title="delimited text of control marks, with or without a header",
        keeps="names as text, published values with their uncertainty and where they come from",
        loses="no coordinate system and no geoid: those are the job’s word",
    )
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("mark", "easting", "northing")
    around: ClassVar[Around] = Around("mark", ("reference",))
    open_texts: ClassVar[tuple[str, ...]] = ("reference",)

    null_elevation: tuple[str | float, ...] = Field(
        ("", "-9999"), description="texts and numbers that mean no value, in easting, northing and elevation"
    )

    def without_header(self, table: TextTable) -> Headings:
        """Tell the columns by their numbers; a list without any is asked for its header."""
        no_numbers = not any(each.str.contains(r"\d", regex=True).any() for each in table.text)
        return DelimitedReader.without_header(self, table) if no_numbers else super().without_header(table)

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file."""
        rows = listing(self, path)
        unit, foreign, found = file_unit(
            rows.table.name, rows.unit, places=("easting", "northing", "elevation"), lengths=("u_h", "u_v")
        )
        rows.evidence += found
        rows.place = {ours: at for ours, at in rows.place.items() if ours not in foreign}
        rows.leave_out(rows.raw("mark") == "", "mark", "is no name of a mark")
        refuse_repeats(rows, "mark")
        rows.tell_dates("mark")
        columns: dict[str, pd.Series | np.ndarray] = {"mark": rows.raw("mark")}
        for ours in ("easting", "northing", "elevation"):
            columns[ours] = rows.numbers(ours, nulls=self.null_elevation)
        for ours in ("u_h", "u_v"):
            values = rows.numbers(ours)
            rows.name_rows(values < 0, ours, "is negative; taken as not known")
            columns[ours] = values
            columns[ours][values < 0] = float("nan")
        for ours in ("held", "independent"):
            columns[ours] = rows.truths(ours)
            if ours not in rows.place:
                rows.evidence.append(Evidence(what=ours, answer="no, for every mark", because="no such column"))
        columns["reference"] = rows.text("reference")
        return rows.source("control", columns, unit=unit)
