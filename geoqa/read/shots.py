"""Collected shots from delimited text."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import Field

from geoqa.errors import SourceError
from geoqa.model.format import Format
from geoqa.model.source import Evidence, Source, Trouble
from geoqa.read.delimited.delimited import DelimitedReader, TextTable, limit_troubles
from geoqa.read.delimited.headings import Headings, Sought
from geoqa.read.delimited.keys import shot_keys
from geoqa.read.delimited.lengths import file_unit
from geoqa.read.delimited.order import order_of
from geoqa.read.delimited.solutions import solutions
from geoqa.read.delimited.values import Read, Whole, numbers, text_or_null, times, whole_numbers

if TYPE_CHECKING:
    import pandas as pd

    Columns = dict[str, pd.Series | np.ndarray]

_PLACE = ("easting", "northing", "elevation")
_TEXT = ("shot", "code", "line_id", "note", "photo", "session", "initialization")
_WHOLE: dict[str, Whole] = {"sequence": "Int64", "satellites": "Int32", "epochs": "Int32"}
_FAR = 1000.0
_LENGTHS = ("reported_h", "reported_v", "rod_height")

SOUGHT: Sought = {
    "shot": (
        ("shot", "point", "point_name", "point_number", "point_no", "point_id", "pt", "pt_no", "shot_name"),
        ("name", "number", "no", "id", "p", "station_name"),
    ),
    "easting": (("easting", "east"), ("e", "x")),
    "northing": (("northing", "north"), ("n", "y")),
    "elevation": (("elevation", "elev", "orthometric_height"), ("el", "z", "height")),
    "code": (("code", "feature_code"), ("description", "desc", "feature")),
    "line_id": (("line_id", "line", "string", "line_name"), ()),
    "sequence": (("sequence", "seq"), ("order",)),
    "note": (("note", "notes", "remark", "remarks", "comment", "comments"), ("description", "desc")),
    "photo": (("photo", "photos", "picture", "pictures"), ("image", "images")),
    "time": (("time", "time_utc", "date_time", "datetime", "timestamp"), ("utc", "observed")),
    "session": (("session", "session_id"), ()),
    "initialization": (("initialization", "initialisation", "initialization_id"), ("init",)),
    "solution": (("solution", "solution_type", "fix_type"), ("fix", "status")),
    "satellites": (("satellites", "satellites_used"), ("sats", "sv")),
    "epochs": (("epochs", "epoch_count"), ()),
    "pdop": (("pdop",), ()),
    "hdop": (("hdop",), ()),
    "vdop": (("vdop",), ()),
    "correction_age": (("correction_age", "age_of_correction"), ("age",)),
    "reported_h": (("reported_h", "horizontal_precision"), ("h_precision", "hrms")),
    "reported_v": (("reported_v", "vertical_precision"), ("v_precision", "vrms")),
    "rod_height": (("rod_height", "rod", "pole_height"), ()),
    "tilt": (("tilt", "tilt_angle"), ()),
    "tilt_azimuth": (("tilt_azimuth", "tilt_direction"), ()),
}


class ShotsText(DelimitedReader):
    """Shots, one a row, from delimited text.

    Every column but easting and northing may be missing; what is missing is named. Names stay text.
    """

    role: ClassVar[str] = "shots"
    format: ClassVar[Format | None] = Format(
        title="delimited text of shots, with or without a header",
        keeps="every number and name as written, with its line; a row that cannot be read is told with its line",
        loses="no coordinate system: that is the job’s word; which foot, unless a heading says ftUS; columns "
        "that nobody knows are named and not kept",
    )
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("easting", "northing")

    null_elevation: tuple[str | float, ...] = Field(
        ("", "-9999"), description="texts and numbers that mean no value, in easting, northing and elevation"
    )
    zero_is_null: bool = Field(False, description="take an elevation of 0 as no elevation")
    time_zone: str | None = Field(None, description="zone of times without Z or offset, e.g. America/Chicago")
    time_format: str | None = Field(None, description="pattern of times that are not ISO 8601, e.g. %m/%d/%Y %H:%M:%S")
    near: tuple[float, float] | None = Field(
        None,
        description="easting, northing of the site in the file's unit: decides the order of columns without a header",
    )

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file.

        Raises
        ------
        SourceError
            The file cannot be read as shots, or more than `bad_rows` rows fail.
        """
        import pandas as pd

        table = self.table(path)
        if len(table) == 0:
            raise SourceError(f"'{table.name}' has a header and no rows; export it again.")
        heads = self.headings(table)
        evidence, troubles = [*table.evidence, *heads.evidence], list(table.troubles)
        unit, foreign, more = file_unit(table.name, heads.unit, places=_PLACE, lengths=_LENGTHS)
        evidence += more
        place = {ours: at for ours, at in heads.place.items() if ours not in foreign}
        columns: Columns = {
            "source": pd.Series(source, index=range(len(table)), dtype="str"),
            "line": table.lines,
        }
        self._places(table, place, columns, evidence, troubles)
        _refuse_placeless(table.name, columns, troubles)
        limit_troubles(table.name, tuple(troubles), self.bad_rows)
        self._others(table, place, columns, evidence, troubles)
        frame = pd.DataFrame(columns)
        frame.insert(0, "shot_key", shot_keys(frame, source))
        return Source(
            layers={"shots": _conformed(frame)},
            unit=unit,
            facts={**table.facts, "columns": ", ".join(table.columns)},
            evidence=tuple(evidence),
            troubles=tuple(sorted(troubles, key=lambda each: (each.line, each.column))),
        )

    def without_header(self, table: TextTable) -> Headings:
        """Tell the columns by their numbers, as far as numbers can tell."""
        place, evidence = order_of(table, near=self.near)
        return Headings(place=place, unit={}, evidence=evidence)

    def _places(
        self,
        table: TextTable,
        place: Mapping[str, int],
        columns: Columns,
        evidence: list[Evidence],
        troubles: list[Trouble],
    ) -> None:
        nothing = _nothing(table)
        coordinates: dict[str, np.ndarray] = {}
        for ours in _PLACE:
            text = table.text[place[ours]] if ours in place else nothing
            nulls = self.null_elevation
            got = numbers(text, lines=table.lines, column=ours, decimal=table.decimal, nulls=nulls, every=True)
            troubles += got.troubles
            if ours == "elevation":
                self._zeros(got.values, got.null, evidence)
            if ours in place and got.null.any():
                words = ", ".join(sorted(set(text[got.null].unique()))[:5])
                answer = f"{got.null.sum()} rows without"
                evidence.append(Evidence(what=ours, answer=answer, because=f"written as {words!r}"))
            columns[ours] = coordinates[ours] = got.values
            columns[f"raw_{ours}"] = text_or_null(text)
        _refuse_origin(coordinates["easting"], coordinates["northing"], table.lines, troubles)

    def _zeros(self, values: np.ndarray, null: np.ndarray, evidence: list[Evidence]) -> None:
        zero = values == 0.0
        if not zero.any():
            return
        others = np.abs(values[np.isfinite(values) & ~zero])
        if self.zero_is_null:
            values[zero] = np.nan
            null |= zero
            because = "zero_is_null = true in the job"
            evidence.append(Evidence(what="elevation 0", answer=f"{zero.sum()} taken as no elevation", because=because))
        elif len(others) and np.quantile(others, 0.05) > 10.0:
            because = f"the median is {np.median(others):.2f}; if 0 means none, state zero_is_null = true"
            evidence.append(Evidence(what="elevation 0", answer=f"{zero.sum()} kept as 0", because=because))

    def _others(
        self,
        table: TextTable,
        place: Mapping[str, int],
        columns: Columns,
        evidence: list[Evidence],
        troubles: list[Trouble],
    ) -> None:
        for ours in (each for each in place if each not in _PLACE):
            text = table.text[place[ours]]
            got: Read[pd.Series] | Read[np.ndarray]
            if ours in _TEXT:
                columns[ours] = text_or_null(text)
                continue
            if ours == "solution":
                columns[ours], found = solutions(text)
                evidence += found
                continue
            if ours == "time":
                got = times(text, lines=table.lines, column=ours, zone=self.time_zone, pattern=self.time_format)
            elif ours in _WHOLE:
                got = whole_numbers(text, lines=table.lines, column=ours, decimal=table.decimal, dtype=_WHOLE[ours])
            else:
                got = numbers(text, lines=table.lines, column=ours, decimal=table.decimal)
            columns[ours] = got.values
            troubles += got.troubles
            evidence += got.evidence


def _refuse_origin(easting: np.ndarray, northing: np.ndarray, lines: np.ndarray, troubles: list[Trouble]) -> None:
    """Take 0, 0 as no place where all others lie far from it: some loggers write it for none."""
    away = np.hypot(easting, northing)
    origin = away == 0.0
    others = away[np.isfinite(away) & ~origin]
    if not origin.any() or not len(others) or others.min() < _FAR:
        return
    for line in lines[origin].tolist():
        reason = f"is taken as no place; the nearest other is {others.min():,.0f} away"
        troubles.append(Trouble(line=line, column="easting, northing", text="0, 0", reason=reason))
    easting[origin] = northing[origin] = np.nan


def _refuse_placeless(name: str, columns: Columns, troubles: list[Trouble]) -> None:
    """Refuse a file no row of which has a place: the columns were told wrongly, or it is another file."""
    if np.isfinite(columns["easting"] + columns["northing"]).any():
        return
    first = "".join(f"\n  {each}" for each in troubles[:3])
    raise SourceError(
        f"'{name}': no row has an easting and a northing that can be read as numbers. "
        f"State columns, delimiter or decimal if they were told wrongly.{first}"
    )


def _nothing(table: TextTable) -> pd.Series:
    import pandas as pd

    return pd.Series("", index=range(len(table)), dtype="str")


def _conformed(frame: pd.DataFrame) -> pd.DataFrame:
    from geoqa.model.tables.columns import conform

    return conform("shots", frame, made_by="")
