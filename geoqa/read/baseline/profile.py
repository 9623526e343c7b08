"""The profile of a baseline from a plain table."""

from __future__ import annotations

from pathlib import Path
from typing import Any, ClassVar

import numpy as np

from geoqa.errors import SourceError
from geoqa.model.format import Format
from geoqa.model.quantity import LengthUnit
from geoqa.model.source import Source
from geoqa.model.station import ALLOWED, parse_station
from geoqa.read.delimited.headings import Sought
from geoqa.read.delimited.lengths import file_unit
from geoqa.read.delimited.listing import Listing, ListingReader, listing

SOUGHT: Sought = {
    "station": (("station", "pvi_station"), ("sta", "pvi")),
    "elevation": (("elevation", "elev"), ("el", "z")),
    "curve_in": (("curve_in",), ("length_in", "l1")),
    "curve_out": (("curve_out",), ("length_out", "l2")),
    "curve": (("curve", "curve_length"), ("length", "l", "vc", "lvc")),
    "equation": (("equation",), ()),
}


class ProfileTable(ListingReader):
    """Points of vertical intersection, one a row: station, elevation, and the length of the parabola about it.

    `curve` is the whole length of a symmetrical one; `curve_in` and `curve_out` are its two parts where they differ.
    Stations are as the drawing has them.
    """

    format: ClassVar[Format | None] = Format(
        title="table of points of vertical intersection",
        keeps="station, elevation, equal and unequal parabolas",
        loses="cross slopes and superelevation",
    )
    role: ClassVar[str] = "profile"
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("station", "elevation")

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file.

        Raises
        ------
        SourceError
            A row cannot be read, points are out of order, or curves overlap.
        """
        rows = listing(self, path)
        lengths = ("curve", "curve_in", "curve_out")
        stated = {ours: unit for ours, unit in rows.unit.items() if (ours, unit) != ("curve_in", "in")}
        unit, foreign, found = file_unit(rows.table.name, stated, places=("elevation",), lengths=lengths)
        if foreign:
            listed = ", ".join(sorted(foreign))
            raise SourceError(
                f"'{rows.table.name}': {listed} in another unit than the elevations; export all in one unit, and state "
                'it in the job: unit = "ft".'
            )
        rows.evidence += found
        return profile_of(rows, unit=unit)


def profile_of(rows: Listing, *, unit: LengthUnit | None) -> Source:
    """The profile of rows that are points of vertical intersection.

    Raises
    ------
    SourceError
        A station is none, points are out of order, or curves overlap.
    """
    lengths = ("curve", "curve_in", "curve_out")
    station, equation = stations(rows, "station")
    whole = np.nan_to_num(rows.numbers("curve")) / 2.0
    halves = [rows.numbers(name) if name in rows.place else np.full(len(whole), np.nan) for name in lengths[1:]]
    curve_in, curve_out = (np.where(np.isnan(half), whole, half) for half in halves)
    columns: dict[str, Any] = {
        "station": station,
        "equation": equation,
        "elevation": rows.numbers("elevation"),
        "curve_in": curve_in,
        "curve_out": curve_out,
        "place": places(rows),
    }
    _refuse_disorder(rows, columns)
    return rows.source("baseline_profile", columns, unit=unit)


def stations(rows: Listing, ours: str) -> tuple[np.ndarray, Any]:
    """Stations of a column as written, and the equations they are said to lie after; refused where one is none.

    Raises
    ------
    SourceError
        Names file, line and what is allowed.
    """
    import pandas as pd

    values, passed = np.full(len(rows.table), np.nan), []
    text = rows.raw(ours)
    stated = rows.raw("equation")
    for at in range(len(rows.table)):
        read = parse_station(text.iloc[at])
        if read is None:
            raise SourceError(f"'{rows.table.name}', {rows.at(at)}: {ours} '{text.iloc[at][:40]}' is none; {ALLOWED}.")
        values[at] = read[0]
        passed.append(read[1] if read[1] is not None else (int(stated.iloc[at]) if stated.iloc[at].isdigit() else None))
    return values, pd.array(passed, dtype="Int64")


def places(rows: Listing) -> list[str]:
    """Where each row stands, for a message."""
    return [f"'{rows.table.name}', {rows.at(row)}" for row in range(len(rows.table))]


def _refuse_disorder(rows: Listing, columns: dict[str, Any]) -> None:
    """Points out of order, or curves that overlap; where equations are stated the order shows only on the baseline."""
    import pandas as pd

    from geoqa.model.baseline import profile_fault

    if not pd.isna(columns["equation"]).all():
        return
    names = ("station", "elevation", "curve_in", "curve_out")
    problem = profile_fault(*(np.asarray(columns[name], dtype=np.float64) for name in names))
    if problem is not None:
        raise SourceError(f"'{rows.table.name}', {rows.at(problem[0])}: this point of the profile {problem[1]}.")
