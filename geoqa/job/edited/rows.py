"""Rows of shots that differ from those of the run before: which point, what was written, and what is written now."""

import csv
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.job.inputs.sources import sha256

if TYPE_CHECKING:
    import pandas as pd

TABLE = "shots.csv"
COMPARED = ("raw_easting", "raw_northing", "raw_elevation", "code", "line_id", "note")
"""Columns that hold what a file says of a shot, as it is written there."""
CALLED = {"raw_easting": "easting", "raw_northing": "northing", "raw_elevation": "elevation", "line_id": "line ID"}
MOST = 50
"""Rows of one run that are told one by one; the rest is counted."""
LARGEST = 200_000_000


def edited_rows(
    before: Mapping[str, Any], record: Mapping[str, Any], folder: Path, shots: "pd.DataFrame"
) -> list[dict[str, str]]:
    """Shots of a changed file that are written otherwise than in the run before, by the table it left.

    Parameters
    ----------
    before, record : mapping
        Records of the run before, and of this one.
    folder : Path
        Output folder of the run before.
    shots : DataFrame
        Layer of this run.

    Returns
    -------
    list of dict
        Rows of texts: what, was, is. Empty where no file of shots changed under its name, or the folder does not hold
        the table as that run wrote it.
    """
    changed = _changed(before, record)
    then = _then(before, folder) if changed else {}
    if not then:
        return []
    rows = list(_differing(then, shots, changed))
    told = rows[:MOST]
    if len(rows) > MOST:
        told.append({"what": "shots of changed files", "was": "", "is": f"{len(rows) - MOST} more differ"})
    return told


def _changed(before: Mapping[str, Any], record: Mapping[str, Any]) -> dict[str, str]:
    """Sources whose file is another one under the same path -> that path."""
    try:
        was = {str(row["path"]): row["sha256"] for row in before["inputs"] if row["role"] == "shots"}
    except (LookupError, TypeError):
        return {}
    return {
        str(row["source"]): str(row["path"])
        for row in record["inputs"]
        if row["role"] == "shots" and was.get(str(row["path"]), row.get("sha256")) != row.get("sha256")
    }


def _then(before: Mapping[str, Any], folder: Path) -> dict[str, dict[str, str]]:
    """Shots of the run before by their keys; none where the table is not the one that run wrote."""
    place, outputs = folder / TABLE, before.get("outputs")
    try:
        known = outputs[TABLE] if isinstance(outputs, Mapping) else ""
        if place.stat().st_size > LARGEST or sha256(place) != known:
            return {}
        with place.open(encoding="utf-8", newline="") as stream:
            return {row["shot_key"]: row for row in csv.DictReader(stream)}
    except (OSError, ValueError, LookupError, csv.Error):
        return {}


def _differing(
    then: Mapping[str, Mapping[str, str]], shots: "pd.DataFrame", changed: Mapping[str, str]
) -> Iterator[dict[str, str]]:
    table = shots.loc[shots["source"].isin(list(changed)), ["shot_key", "source", "shot", *COMPARED]]
    mine = table.astype(object).where(table.notna(), "").to_dict("records")
    for row in mine:
        name = f"{changed[row['source']]}, shot {row['shot']}"
        old = then.get(row["shot_key"])
        if old is None:
            yield {"what": name, "was": "", "is": "new row"}
            continue
        for each in COMPARED:
            was = _plain(old.get(each, ""))
            if was != _plain(str(row[each])):
                yield {
                    "what": f"{name}, {CALLED.get(each, each)}",
                    "was": was or "–",
                    "is": _plain(str(row[each])) or "–",
                }
    there = {row["shot_key"] for row in mine}
    for key, old in then.items():
        if old.get("source") in changed and key not in there:
            yield {"what": f"{changed[old['source']]}, shot {old.get('shot', key)}", "was": "a row", "is": "no row"}


def _plain(text: str) -> str:
    """A cell without the apostrophe that keeps a spreadsheet from taking it for a formula."""
    return text.removeprefix("'").strip()
