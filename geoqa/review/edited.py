"""What of the job, its settings and the versions changed between two rounds, with the reasons the new one states."""

from collections.abc import Iterator, Mapping
from typing import Any

from geoqa.job.edited.changes import changes
from geoqa.review.delivered import Delivered

MOST = 40
"""Changes that are told one by one."""
NONE = "no reason is stated"


def edited(before: Delivered, now: Delivered) -> Iterator[str]:
    """A sentence a change; files are told of by themselves.

    Parameters
    ----------
    before, now : Delivered
    """
    known = {row.get("path") for each in (before, now) for row in _rows(each.facts.get("inputs"))}
    known |= {_file(each.facts.get("decisions")) for each in (before, now)}
    why = _reasons(now.facts)
    rows = [row for row in changes(before.facts, now.facts) if row["what"] not in known]
    for row in rows[:MOST]:
        was, after = (f"'{row[name]}'" if row[name] else "nothing" for name in ("was", "is"))
        yield f"{row['what']}: {was} was, {after} is ({why.get((row['what'], row['is']), NONE)})."
    if len(rows) > MOST:
        yield f"{len(rows) - MOST} more changes of the job; the record of either round holds its text."


def _rows(rows: Any) -> list[Mapping[str, Any]]:
    return [row for row in rows if isinstance(row, Mapping)] if isinstance(rows, list) else []


def _file(decided: Any) -> Any:
    return decided.get("file") if isinstance(decided, Mapping) else None


def _reasons(facts: Mapping[str, Any]) -> dict[tuple[str, str], str]:
    """Reason of each change in the log of edits, by what it is of and what it is now."""
    return {
        (str(row.get("what")), str(row.get("is", ""))): str(row["why"])
        for row in _rows(facts.get("edits"))
        if row.get("why")
    }
