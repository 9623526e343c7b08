"""Approved changes of the design: they replace what bears the same name, and what was before is kept beside."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from geoqa.errors import SourceError
from geoqa.frames.files.reading import FileReading
from geoqa.job.document.file import Job
from geoqa.job.document.input_tables import DesignTable
from geoqa.model.tables.columns import REPLACED, conform

if TYPE_CHECKING:
    import pandas as pd

_NAME = {"design_lines": "line", "design_elements": "line", "design_points": "point"}
_LISTED = ("design_lines", "design_points")


def gathered_tables(job: Job, readings: Sequence[FileReading]) -> "dict[str, list[pd.DataFrame]]":
    """Parts of each table, a part a file: the design as it holds now, what was replaced, and by what.

    Raises
    ------
    SourceError
        Two changes hold the same name: which one is later is for the job to say, by leaving the other out.
    """
    changes = {each.source: each for each in job.design if each.field_change}
    new = _changed(readings, set(changes))
    made: dict[str, list[pd.DataFrame]] = {}
    before: dict[tuple[str, str], str] = {}
    for reading in readings:
        for name, table in reading.layers.items():
            of = new.get(name, {})
            if name not in _NAME or reading.key in changes or not of:
                made.setdefault(name, []).append(table)
                continue
            old = table[_NAME[name]].isin(set(of))
            made.setdefault(name, []).append(table[~old].reset_index(drop=True))
            kept = table[old].drop(columns="geometry", errors="ignore").reset_index(drop=True)
            made.setdefault(REPLACED[name], []).append(kept)
            before |= {(name, each): reading.key for each in table.loc[old, _NAME[name]]}
    if changes:
        made["field_changes"] = [_listed(changes, new, before)]
    return made


def _changed(readings: Sequence[FileReading], changes: set[str]) -> dict[str, dict[str, str]]:
    """Names that each table of the changes holds, and which change."""
    found: dict[str, dict[str, str]] = {}
    for reading in (each for each in readings if each.key in changes):
        for name in _LISTED:
            mine = found.setdefault(name, {})
            for each in reading.layers[name][_NAME[name]] if name in reading.layers else ():
                if mine.setdefault(each, reading.key) != reading.key:
                    raise SourceError(
                        f"{_NAME[name]} '{each}' is in two field changes, {mine[each]} and {reading.key}; take the "
                        "[[design]] of the one that no longer holds out of the job."
                    )
    # elements go with their lines, in a file that has lines only as well
    found["design_elements"] = found.get("design_lines", {})
    return found


def _listed(
    changes: dict[str, DesignTable], new: dict[str, dict[str, str]], before: dict[tuple[str, str], str]
) -> "pd.DataFrame":
    import pandas as pd

    rows = [
        {
            "name": each,
            "table": name,
            "source": source,
            "before": before.get((name, each)),
            "words": changes[source].field_change,
            "dated": str(changes[source].dated),
        }
        for name in _LISTED
        for each, source in sorted(new.get(name, {}).items())
    ]
    return conform("field_changes", pd.DataFrame(rows, columns=["name", "table", "source", "before", "words", "dated"]))
