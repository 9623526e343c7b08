"""What of the job and its files changed from run to run, and why: the log of edits as the record keeps it."""

from collections.abc import Iterator, Mapping
from typing import Any

from geoqa.model import words
from geoqa.model.results import Results
from geoqa.present.report.markup import Column, Html, Row, joined, table, tag

MOST = 150
"""Edits that are written out, the newest."""


def edits(results: Results) -> Iterator[Html]:
    """Give the log, newest run first; nothing where no run was made in this folder before and no reason is stated."""
    log = results.record.get("edits", [])
    if not log:
        return
    changed = [each for each in log if "was" in each or "is" in each]
    silent = sum("why" not in each for each in changed)
    lead = (
        f"{words.many(len(changed), 'change')} of the job file, its inputs or the versions since the first run in this "
        "folder, each by the record of that run. No file was written to by geoqa."
    )
    if silent:
        lead += f" {silent} without a reason: [[edits]] in the job file states one, by the name in the column Changed."
    yield tag("p", lead)
    newest = sorted(log, key=_nth(log), reverse=True)
    heads = (Column("Run", "k"), Column("Changed", "w"), Column("Was"), Column("Is"), Column("Why", "w"))
    yield table("edits", heads, [_row(each, results) for each in newest[:MOST]])
    if len(log) > MOST:
        yield tag("p", f"The newest {MOST} of {len(log)}; record.json holds all.", kind="quiet")


def _nth(log: list[Mapping[str, Any]]) -> Any:
    order = {run: nth for nth, run in enumerate(dict.fromkeys(each.get("run", "") for each in log))}
    return lambda each: order[each.get("run", "")]


def _row(edit: Mapping[str, Any], results: Results) -> Row:
    run = edit.get("run", "")
    runs = results.record.get("runs", [])
    name = str(runs.index(run) + 1) if run in runs else run[:8]
    when = joined(edit.get("on", ""), edit.get("by", ""), by=", ")
    if "was" in edit or "is" in edit:
        was, now = edit.get("was", ""), edit.get("is", "")
    else:
        was, now = "", tag("i", "no change by the record")
    why = joined(edit.get("why", ""), tag("p", when, kind="quiet")) if "why" in edit else _none()
    return Row((name, edit.get("what", ""), was, now, why), key=f"{run} {edit.get('what', '')}")


def _none() -> Html:
    return Html('<b class="lacking">no reason is stated</b>')
