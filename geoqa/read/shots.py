"""Collected shots from delimited text."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import Field

from geoqa.errors import SourceError
from geoqa.model.format import Format
from geoqa.model.source import Evidence, Peek, Source, Trouble
from geoqa.model.tables.read_facts import ANGLES
from geoqa.model.words import many
from geoqa.read.delimited.angles import AngleUnit, lean_angles
from geoqa.read.delimited.day_order import patterns_of
from geoqa.read.delimited.delimited import TextTable, limit_troubles
from geoqa.read.delimited.headings import Headings, Sought
from geoqa.read.delimited.keys import shot_keys
from geoqa.read.delimited.lengths import file_unit
from geoqa.read.delimited.solutions import solutions
from geoqa.read.delimited.spreadsheet import dates_for_names
from geoqa.read.delimited.unnamed import PlacesText
from geoqa.read.delimited.values import Read, Whole, numbers, text_or_null, times, whole_numbers

if TYPE_CHECKING:
    import pandas as pd

    Columns = dict[str, pd.Series | np.ndarray]

_PLACE = ("easting", "northing", "elevation")
_TEXT = ("shot", "code", "line_id", "line_word", "note", "photo", "session", "initialization")
_WHOLE: dict[str, Whole] = {"sequence": "Int64", "satellites": "Int32", "epochs": "Int32"}
_FAR = 1000.0
_OFFSETS = 10.0
_CLOCK = r"[0-9]{1,2}:[0-9]{2}(?!.*[0-9][-/.][0-9]{1,2}[-/.][0-9])"
"""A time of day without a day."""
_LENGTHS = ("reported_h", "reported_v", "rod_height")

SOUGHT: Sought = {
    "shot": (
        (
            *("shot", "point", "point_name", "point_number", "point_no", "point_id", "pt", "pt_no", "shot_name"),
            *("pnt", "pnt_no", "ptid", "pt_id", "pt_name", "point_num", "shot_no", "shot_number", "shot_id"),
        ),
        ("name", "number", "no", "id", "p", "station_name"),
    ),
    "easting": (("easting", "east", "grid_easting", "grid_east", "grid_e", "east_coordinate"), ("e", "x")),
    "northing": (("northing", "north", "grid_northing", "grid_north", "grid_n", "north_coordinate"), ("n", "y")),
    "elevation": (
        (
            "elevation",
            "elev",
            "orthometric_height",
            "ortho_height",
            "ortho_elevation",
            "ortho_elev",
            "ortho_ht",
            "ground_elevation",
        ),
        ("el", "z", "height"),
    ),
    "code": (
        ("code", "feature_code", "fcode", "code_name"),
        ("description", "desc", "feature", "descriptor", "descr", "point_description", "d"),
    ),
    "line_id": (("line_id", "line", "string", "line_name"), ()),
    "line_word": (("line_word", "line_words", "line_control"), ()),
    "sequence": (("sequence", "seq"), ("order",)),
    "note": (("note", "notes", "remark", "remarks", "comment", "comments"), ("description", "desc")),
    "photo": (("photo", "photos", "picture", "pictures"), ("image", "images")),
    "time": (
        (
            *("time", "time_utc", "utc_time", "date_time", "datetime", "timestamp", "time_stamp"),
            *("local_time", "time_local", "local_date_time", "observation_time", "observed_at", "shot_time"),
        ),
        ("utc", "observed", "clock"),
    ),
    "date": (("date", "local_date", "observation_date"), ("day",)),
    "session": (("session", "session_id"), ()),
    "initialization": (
        ("initialization", "initialisation", "initialization_id"),
        ("init", "setup", "setup_id", "base_setup", "instrument_setup", "station_setup"),
    ),
    "solution": (("solution", "solution_type", "fix_type"), ("fix", "status")),
    "satellites": (("satellites", "satellites_used", "satellite_count"), ("sats", "sv", "svs", "no_sats", "num_sats")),
    "epochs": (("epochs", "epoch_count"), ()),
    "pdop": (("pdop",), ()),
    "hdop": (("hdop",), ()),
    "vdop": (("vdop",), ()),
    "correction_age": (("correction_age", "age_of_correction", "age_of_corrections"), ("age", "corr_age")),
    "reported_h": (
        ("reported_h", "horizontal_precision", "horz_precision"),
        ("h_precision", "h_prec", "hrms", "h_rms"),
    ),
    "reported_v": (("reported_v", "vertical_precision", "vert_precision"), ("v_precision", "v_prec", "vrms", "v_rms")),
    "rod_height": (("rod_height", "rod", "pole_height", "rod_ht", "pole_ht", "height_of_rod"), ()),
    "tilt": (("tilt", "tilt_angle", "lean", "lean_angle"), ()),
    "tilt_azimuth": (("tilt_azimuth", "tilt_direction", "tilt_az", "lean_azimuth", "lean_direction"), ()),
}


class ShotsText(PlacesText):
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
    aids: ClassVar[tuple[str, ...]] = ("date", "line_word")
    open_texts: ClassVar[tuple[str, ...]] = ("code", "note")

    null_elevation: tuple[str | float, ...] = Field(
        ("", "-9999"), description="texts and numbers that mean no value, in easting, northing and elevation"
    )
    zero_is_null: bool = Field(False, description="take an elevation of 0 as no elevation")
    time_zone: str | None = Field(None, description="zone of times without Z or offset, e.g. America/Chicago")
    time_format: str | None = Field(None, description="pattern of times that are not ISO 8601, e.g. %m/%d/%Y %H:%M:%S")
    date: datetime.date | None = Field(
        None, description="day of the shots, where their times state none; a column of dates goes before it"
    )
    session: str | None = Field(
        None,
        min_length=1,
        max_length=100,
        description="session of the shots, where the file names none: files that state the same one are one session",
    )

    angle_unit: AngleUnit | None = Field(
        None,
        description="unit of tilt and azimuth of the lean, where their headings state none: deg, gon or rad; degrees "
        "are taken where nothing is stated and nothing speaks against them",
    )

    setup: str | None = Field(
        None,
        min_length=1,
        max_length=100,
        description="base or instrument setup of the shots, where the file names no initialization: shots of one setup "
        "share what went wrong with it; files of a session that state the same one are one setup",
    )

    def peek(self, path: Path) -> Peek:
        """Look at the header and the first rows; an order that only other files can settle is told, not refused."""
        peek = super().peek(path)
        return replace(peek, evidence=(*peek.evidence, *self._times_told(peek)), doubt=offsets_only(peek))

    def _times_told(self, peek: Peek) -> Iterator[Evidence]:
        """What the first times say of a zone that is not stated."""
        if "time" not in peek.holds or not peek.rows:
            return

        text = _times_seen(peek)
        if len(text) and self.time_zone is None:
            lines = np.arange(len(text))
            if times(text, lines=lines, column="time", pattern=self.time_format).values.isna().all():
                orders = patterns_of(text)[0] if self.time_format is None else ()
                form = " and, where no day of the file is above 12, time_format = " if len(orders) > 1 else ""
                because = f"no Z or offset that can be read, e.g. {text.iloc[0]!r}; state time_zone = {form}"
                yield Evidence(what="time", answer="not taken", because=because)

    def time_orders(self, peek: Peek) -> tuple[str, ...]:
        """The patterns that all times at the head of a file may be written in."""
        return patterns_of(_times_seen(peek))[0]

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
        facts = self._leans(table, heads, columns, evidence, troubles)
        frame = pd.DataFrame(columns)
        frame.insert(0, "shot_key", shot_keys(frame, source))
        return Source(
            layers={"shots": _conformed(frame)},
            unit=unit,
            facts={**table.facts, **facts, "columns": ", ".join(table.columns)},
            evidence=tuple(evidence),
            troubles=tuple(sorted(troubles, key=lambda each: (each.line, each.column))),
        )

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
                answer = f"{many(int(got.null.sum()), 'row')} without"
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
        self._grouped("session", self.session, table, place, columns, evidence)
        self._grouped("initialization", self.setup, table, place, columns, evidence)
        for ours in (each for each in place if each not in (*_PLACE, "date") and each not in columns):
            text = table.text[place[ours]]
            got: Read[pd.Series] | Read[np.ndarray]
            if ours in _TEXT:
                columns[ours] = text_or_null(text)
                if ours in ("shot", "code"):
                    troubles += dates_for_names(text, lines=table.lines, column=ours)
                continue
            if ours == "solution":
                columns[ours], found = solutions(text)
                evidence += found
                continue
            if ours == "time":
                text = self._dated(text, table, place, evidence)
                got = times(text, lines=table.lines, column=ours, zone=self.time_zone, pattern=self.time_format)
            elif ours in _WHOLE:
                got = whole_numbers(text, lines=table.lines, column=ours, decimal=table.decimal, dtype=_WHOLE[ours])
            else:
                got = numbers(text, lines=table.lines, column=ours, decimal=table.decimal)
            columns[ours] = got.values
            troubles += got.troubles
            evidence += got.evidence

    def _leans(
        self, table: TextTable, heads: Headings, columns: Columns, evidence: list[Evidence], troubles: list[Trouble]
    ) -> Mapping[str, str]:
        """Tilt and azimuth of the lean in degrees; what is to be known of them later."""
        there = [each for each in ANGLES if each in heads.place]
        found = lean_angles(
            table.name,
            {each: np.asarray(columns[each], dtype=np.float64) for each in there},
            text={each: table.text[heads.place[each]] for each in there},
            lines=table.lines,
            headings=heads.unit,
            stated=self.angle_unit,
        )
        columns.update(found.values)
        evidence += found.evidence
        troubles += found.troubles
        return found.facts

    def _dated(
        self, text: pd.Series, table: TextTable, place: Mapping[str, int], evidence: list[Evidence]
    ) -> pd.Series:
        """Times with a day: of their own, else of the column of dates, else as the job states."""
        bare = text.str.match(_CLOCK)
        if not bare.any() or ("date" not in place and self.date is None):
            return text
        day = table.text[place["date"]] if "date" in place else _nothing(table)
        if self.date is not None:
            day = day.where(day != "", self.date.isoformat())
        because = f"column '{table.columns[place['date']]}'" if "date" in place else f"date = {self.date} in the job"
        evidence.append(Evidence(what="day of the times", answer=f"{bare.sum()} times", because=because))
        return text.where(~bare | (day == ""), day + " " + text)

    def _grouped(
        self, ours: str, stated: str | None, table: TextTable, place: Mapping[str, int], columns: Columns,
        evidence: list[Evidence],
    ) -> None:  # fmt: skip
        """What the job states of the whole file, for rows that name none."""
        if stated is None:
            return
        written = table.text[place[ours]] if ours in place else _nothing(table)
        columns[ours] = text_or_null(written.where(written != "", stated))
        answer = f"{stated}, for {many(int((written == '').sum()), 'shot')}"
        what = "setup" if ours == "initialization" else ours
        evidence.append(Evidence(what=what, answer=answer, because="stated in the job for this file"))


def _times_seen(peek: Peek) -> pd.Series:
    """Times at the head of a file, as written."""
    import pandas as pd

    at = dict(zip(peek.holds, peek.places, strict=True))["time"]
    return pd.Series([row[at] for row in peek.rows if row[at]], dtype="str")


def offsets_only(peek: Peek) -> str:
    """Why a table with eastings and northings holds no shots, or nothing: offsets of a thing from itself.

    Examples
    --------
    >>> rows = (("L1", "0.58", "-1.20", "66.31"), ("L2", "-0.11", "0.74", "65.02"))
    >>> offsets_only(Peek(columns=("Band", "North", "East", "Up"), holds=("northing", "easting"),
    ...                   places=(1, 2), rows=rows))
    'all easting and northing lie within 10 of 0, 0, and no column is a code or an elevation: offsets, not shots'
    """
    heads = dict(zip(peek.holds, peek.places, strict=False))
    if {"code", "elevation"} & heads.keys() or not {"easting", "northing"} <= heads.keys() or not peek.rows:
        return ""
    try:
        values = [abs(float(row[heads[each]])) for row in peek.rows for each in ("easting", "northing")]
    except ValueError:
        return ""
    near = max(values, default=_OFFSETS) < _OFFSETS
    words = (
        "all easting and northing lie within 10 of 0, 0, and no column is a code or an elevation: offsets, not shots"
    )
    return words if near else ""


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
