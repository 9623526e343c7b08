"""``field_list.csv``: what to shoot again, in the order in which it is lost, as a file any collector loads."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, ClassVar

from geoqa.errors import OutputError
from geoqa.model import words
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.point_file import COLUMNS, Place, point_file
from geoqa.model.results import Results
from geoqa.model.tables.in_rows import in_rows
from geoqa.write.readback import opening_again
from geoqa.write.sheets.gap_points import gap_points
from geoqa.write.sheets.lists import open_places

FILE = "field_list.csv"
SAME = 2
"""Decimals to which places that are one agree."""
_SAID = {"OUT": "out", "UNDECIDED": "undecided", "NO_DATA": "again"}
_LATE = {"NO_DATA": 2, "OUT": 3, "UNDECIDED": 4}
"""What comes after reaches without a shot: what has no number, what is out, what cannot be decided."""


class FieldList(Output):
    """Places to shoot again: what is about to be covered first, gaps as points no farther apart than the spacing.

    Examples
    --------
    >>> FieldList().name
    'field'
    """

    name: ClassVar[str] = "field"
    files: ClassVar[Mapping[str, str]] = {
        FILE: f"what to shoot again for a collector: {COLUMNS} without a header; open trench first"
    }
    format: ClassVar[Format | None] = Format(
        title="points to shoot again, for a collector",
        keeps="where to go, in the order in which it is lost, and what for in a few letters",
        loses="everything else: the return list has the words; elevations are left empty",
    )

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write ``field_list.csv`` into `folder`."""
        Path(folder, FILE).write_text(_text(results), encoding="ascii", newline="\n")
        return (FILE,)

    @opening_again
    def read_back(self, results: Results, folder: Path) -> dict[str, Any]:
        """Read the file again and compare each point."""
        found = Path(folder, FILE).read_text(encoding="ascii")
        if found != _text(results):
            raise OutputError(f"{FILE} gives back other points than were written.")
        return {FILE: {"values": found.count("\n")}}


def _text(results: Results) -> str:
    digits = words.decimals("length", results.layers.frame.unit.name)
    return point_file(field_list(results), digits=digits)


def field_list(results: Results) -> tuple[Place, ...]:
    """Places that another shot would settle, each once.

    Returns
    -------
    tuple of Place
        What is covered when the trench is filled, reaches without a shot, what has no number, what is out, what cannot
        be decided; each of these along the baseline, where there is one.
    """
    places: dict[object, tuple[tuple[float, float, int], Place]] = {}
    names = dict(zip(results.shots["shot_key"], results.shots["shot"], strict=True))
    gaps = gap_points(results)
    for row in in_rows(open_places(results)):
        group = 0.0 if row["kind"] in words.COVERED_KINDS else 1.0 if row["finding"] in gaps else _LATE[row["verdict"]]
        station = row.get("baseline_station", math.nan)
        along = float(station) if station == station and station is not None else math.inf
        key = row["shot"] if isinstance(row["shot"], str) else row["finding"]
        said = gaps.get(row["finding"]) or (_place(row, names),)
        for nth, place in enumerate(said):
            held = places.get((key, nth))
            if held is None or (group, along) < held[0][:2]:
                places[key, nth] = ((group, along, len(places) if held is None else held[0][2]), place)
    once: dict[tuple[float, float], Place] = {}
    for _, place in sorted(places.values(), key=lambda each: each[0]):
        once.setdefault(
            (round(place.easting, SAME), round(place.northing, SAME)), place
        )  # two numbers of one place, one walk
    return tuple(once.values())


def _place(row: Mapping[Any, Any], names: Mapping[str, str]) -> Place:
    shot = names.get(row["shot"]) if isinstance(row["shot"], str) else None
    what = str(row["label"] if row["subject"] == "-" else row["subject"])
    parts = (_SAID[row["verdict"]], shot if isinstance(shot, str) else "", what)
    return Place(easting=row["easting"], northing=row["northing"], says=" ".join(part for part in parts if part))
