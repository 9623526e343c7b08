"""``field_list.csv``: what to shoot again, in the order in which it is lost, as a file any collector loads."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from geoqa.errors import OutputError
from geoqa.model import words
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.point_file import COLUMNS, Place, point_file
from geoqa.model.results import Results
from geoqa.write.readback import opening_again
from geoqa.write.sheets.lists import open_places

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

FILE = "field_list.csv"
NEAR = 0.1
"""Share of the spacing within which the end of a gap counts as shot."""
_SAID = {"OUT": "out", "UNDECIDED": "und", "NO_DATA": "again"}
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
    gaps = _gaps(results)
    for row in open_places(results).to_dict("records"):
        group = 0.0 if row["kind"] in words.COVERED_KINDS else 1.0 if row["finding"] in gaps else _LATE[row["verdict"]]
        station = row.get("baseline_station", math.nan)
        along = float(station) if station == station and station is not None else math.inf
        key = row["shot"] if isinstance(row["shot"], str) else row["finding"]
        said = gaps.get(row["finding"]) or (_place(row, names),)
        for nth, place in enumerate(said):
            held = places.get((key, nth))
            if held is None or (group, along) < held[0][:2]:
                places[key, nth] = ((group, along, len(places) if held is None else held[0][2]), place)
    return tuple(place for _, place in sorted(places.values(), key=lambda each: each[0]))


def _place(row: Mapping[Any, Any], names: Mapping[str, str]) -> Place:
    shot = names.get(row["shot"]) if isinstance(row["shot"], str) else None
    what = str(row["label"] if row["subject"] == "-" else row["subject"])
    parts = (_SAID[row["verdict"]], shot if isinstance(shot, str) else "", what)
    return Place(easting=row["easting"], northing=row["northing"], says=" ".join(part for part in parts if part))


def _gaps(results: Results) -> dict[str, tuple[Place, ...]]:
    """Points along each reach without a shot, by its finding: after them no leg is longer than the spacing."""
    if "gaps" not in results.layers or "geometry" not in results.layers["gaps"]:
        return {}
    limits = results.findings.drop_duplicates("finding").set_index("finding")["upper"]
    made = {}
    for row in results.layers["gaps"].to_dict("records"):
        spacing = float(limits.get(row["finding"], math.nan))
        if row["geometry"] is not None and not row["geometry"].is_empty and spacing > 0 and math.isfinite(spacing):
            made[row["finding"]] = tuple(_along(row, spacing, _usable(results.shots, row["kind"])))
    return made


def _usable(shots: pd.DataFrame, kind: object) -> np.ndarray:
    mine = shots[shots["kind"] == kind] if "kind" in shots else shots
    mine = mine[mine["use"].to_numpy(bool)] if "use" in mine else mine
    places = mine[["easting", "northing"]].to_numpy("float64")
    return places[(places == places).all(axis=1)]


def _along(gap: Mapping[Any, Any], spacing: float, usable: np.ndarray) -> Iterator[Place]:
    import numpy as np
    import shapely

    line, legs = gap["geometry"], max(1, math.ceil(gap["geometry"].length / spacing - 1e-9))
    for nth in range(legs + 1):
        east, north = shapely.get_coordinates(line.interpolate(nth / legs, normalized=True))[0].tolist()
        end = nth in (0, legs)
        if end and len(usable) and np.hypot(usable[:, 0] - east, usable[:, 1] - north).min() <= NEAR * spacing:
            continue  # the shot beside the gap
        station = gap["station"] + (gap["station_end"] - gap["station"]) * nth / legs
        yield Place(easting=east, northing=north, says=f"gap {gap['line']} {words.station(station, 0)}")
