"""Levelled elevations: the notes of a level run, or elevations that were reduced elsewhere, from delimited text."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from geoqa.errors import SourceError
from geoqa.model.format import Format
from geoqa.model.source import Evidence, Source
from geoqa.model.words import many
from geoqa.read.delimited.headings import Sought
from geoqa.read.delimited.lengths import file_unit
from geoqa.read.delimited.listing import Listing, ListingReader, listing

if TYPE_CHECKING:
    import pandas as pd

SOUGHT: Sought = {
    "point": (("point", "mark"), ("name", "shot", "point_name", "id", "station")),
    "backsight": (("backsight",), ("back_sight", "bs")),
    "intermediate": (("intermediate",), ("intermediate_sight", "side", "is")),
    "foresight": (("foresight",), ("fore_sight", "fs")),
    "distance": (("distance",), ("length", "dist")),
    "elevation": (("elevation", "elev"), ("levelled", "leveled", "levelled_elevation", "leveled_elevation")),
    "u_v": (("u_v",), ("vertical_uncertainty",)),
}
READINGS = ("backsight", "intermediate", "foresight")
LENGTHS = (*READINGS, "distance", "u_v")


class LevelsText(ListingReader):
    """Levelled elevations, a point a row, from delimited text with a header.

    Either the notes of a run, in the order in which they were read: point, `backsight`, `intermediate`, `foresight`,
    and `distance`, the length levelled from the turning point before; marks bear the names they have in control, points
    that were also shot the names of their shots. Or, for a run that was reduced elsewhere: point, `elevation` and its
    1 sigma `u_v`, which may not be left out.
    """

    role: ClassVar[str] = "levels"
    format: ClassVar[Format | None] = Format(
        title="level notes, or elevations levelled elsewhere, with a header",
        keeps="every reading in its order, or elevations with their 1 sigma",
        loses="where a point lies: it bears the name of a mark or of a shot",
    )
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("point",)

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file."""
        import pandas as pd

        rows = listing(self, path)
        unit, foreign, found = file_unit(rows.table.name, rows.unit, places=("elevation", *LENGTHS), lengths=())
        rows.evidence += found
        rows.place = {ours: at for ours, at in rows.place.items() if ours not in foreign}
        columns: dict[str, pd.Series | np.ndarray] = {"point": rows.raw("point"), "line": rows.table.lines}
        columns["source"] = pd.Series(source, index=range(len(rows.table)), dtype="str")
        for ours in ("elevation", *LENGTHS):
            columns[ours] = rows.numbers(ours)
        notes = [ours for ours in READINGS if ours in rows.place]
        if "elevation" in rows.place and not notes:
            rows.leave_out(~(np.asarray(columns["u_v"]) > 0), "u_v", "is no 1 sigma of a levelled elevation")
        elif not {"backsight", "foresight"} <= set(notes):
            raise SourceError(
                f"'{rows.table.name}' has neither backsight and foresight, nor elevation and u_v; found: "
                f"{', '.join(rows.table.columns)}. Name them in the job, e.g. columns = "
                '{ backsight = "BS", foresight = "FS" }.'
            )
        else:
            _side_readings(rows, columns)
            columns["elevation"] = np.full(len(rows.table), np.nan)
            columns["resolution"] = np.full(len(rows.table), _last_digit(rows, notes))
        rows.tell_dates("point")
        return rows.source("levels", columns, unit=unit)


def _side_readings(rows: Listing, columns: dict[str, pd.Series | np.ndarray]) -> None:
    """Foresights that books write for side readings: nothing is set up anew there, and the next is read from the same.

    A backsight that was forgotten looks the same; then the run misses its mark by about a rod reading.
    """
    back, side, fore = (np.asarray(columns[ours], dtype=np.float64) for ours in READINGS)
    goes_on = np.append(~np.isnan(fore[1:]) | ~np.isnan(side[1:]), False)
    aside = ~np.isnan(fore) & np.isnan(back) & np.isnan(side) & goes_on
    aside[:1] = False
    if not aside.any():
        return
    columns["intermediate"], columns["foresight"] = np.where(aside, fore, side), np.where(aside, np.nan, fore)
    lines = [str(line) for line in np.asarray(rows.table.lines)[aside][:5]]
    more = " …" * (int(aside.sum()) > len(lines))
    rows.evidence.append(
        Evidence(
            what="side readings",
            answer=f"{many(int(aside.sum()), 'foresight')} taken as intermediate",
            because=f"no backsight behind them, and the next is read from the same instrument: line"
            f"{'s' * (len(lines) > 1)} {', '.join(lines)}{more}",
        )
    )


def _last_digit(rows: Listing, readings: list[str]) -> float:
    """The step that the rod was read to: 0.01 where no reading has more than two decimals."""
    texts = [text for ours in readings for text in rows.raw(ours).tolist()]
    return 10.0 ** -max((len(text.partition(rows.table.decimal)[2]) for text in texts), default=0)
