"""The log of edits in the record of an output folder: it goes on from run to run, each edit with its reason."""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.job.earlier import RECORD
from geoqa.job.edited.changes import LONGEST, changes
from geoqa.job.edited.rows import edited_rows

if TYPE_CHECKING:
    import pandas as pd

    from geoqa.job.document.file import Edit

MOST = 1000
"""Edits that a record remembers, the newest."""
TEXTS = ("run", "what", "was", "is", "why", "on", "by", "stated")
LARGEST = 100_000_000


def with_edits(
    record: Mapping[str, Any], stated: "Sequence[Edit]", earlier: Path | None, shots: "pd.DataFrame"
) -> dict[str, Any]:
    """A record with the log of edits: that of the run before in the same folder, and what changed since.

    Parameters
    ----------
    record : mapping
        JSON-ready, with the name of its run.
    stated : sequence of Edit
        Reasons that the job states.
    earlier : Path or None
        Output folder whose record tells of the run before.
    shots : DataFrame
        Layer of this run: rows of a changed file are compared with those that the folder holds.

    Returns
    -------
    dict
        With the key `edits`: rows of texts (`TEXTS`; empty ones are left out), oldest first. A row without `was` and
        `is` is a reason of which the record shows no change; `stated` is what a reason calls the thing it is of.
    """
    before = _read(earlier)
    log = _log(before)
    reasons = [_reason(each) for each in stated]
    if before.get("run") == record["run"]:
        found = []
    else:
        found = changes(before, record) if before else []
        found += edited_rows(before, record, earlier, shots) if earlier is not None and before else []
    known = _known(log)
    fresh = [each for each in reasons if each not in known]
    rows = [_whole({"run": record["run"], **each}) for each in found]
    used = _explain(rows, fresh)
    late = [each for nth, each in enumerate(fresh) if nth not in used]
    used = _explain(log[::-1], late)
    rows += [
        _whole({"run": record["run"], **each, "stated": each["what"]})
        for nth, each in enumerate(late)
        if nth not in used
    ]
    return {**record, "edits": [*log, *rows][-MOST:]}


def _explain(rows: "Sequence[dict[str, str]]", reasons: Sequence[Mapping[str, str]]) -> set[int]:
    """Give changes without a reason theirs; the places of the reasons that were asked for."""
    used = set()
    for row in rows:
        changed = "was" in row or "is" in row
        for nth, each in enumerate(reasons):
            if changed and "why" not in row and _is_of(row["what"], each["what"]):
                row |= {**each, "what": row["what"], "stated": each["what"]}
                used.add(nth)
    return used


def _is_of(what: str, named: str) -> bool:
    """Whether a change is of what a reason names: itself, a key below it, or a row of a file."""
    return what == named or what.startswith((f"{named}.", f"{named}, "))


def _known(log: Sequence[Mapping[str, str]]) -> list[dict[str, str]]:
    """Reasons that the log holds already, as the job states them."""
    return [
        {"what": row["stated"]} | {name: row[name] for name in ("why", "on", "by") if name in row}
        for row in log
        if "stated" in row
    ]


def _reason(edit: "Edit") -> dict[str, str]:
    told = {"what": edit.what, "why": edit.why, "on": edit.on.isoformat() if edit.on else "", "by": edit.by}
    return {name: text[:LONGEST] for name, text in told.items() if text}


def _read(folder: Path | None) -> dict[str, Any]:
    try:
        if folder is None or (folder / RECORD).stat().st_size > LARGEST:
            return {}
        found = json.loads((folder / RECORD).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def _log(before: Mapping[str, Any]) -> list[dict[str, str]]:
    rows = before.get("edits")
    if not isinstance(rows, list):
        return []
    return [_whole(row) for row in rows[-MOST:] if isinstance(row, Mapping) and isinstance(row.get("what"), str)]


def _whole(row: Mapping[str, Any]) -> dict[str, str]:
    return {name: str(row[name])[:LONGEST] for name in TEXTS if row.get(name)}
