"""The first screen: what is out, open, not judged and within, by the question it answers; and the control table."""

from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.tables.finding import VERDICTS

if TYPE_CHECKING:
    from geoqa.model.results import Results
    from geoqa.model.tables.layer import Layers

QUESTIONS = {
    "water": "Does water run?",
    "use": "Walks and ramps?",
    "clearance": "Cover, clearance?",
    "position": "In its place?",
    "evidence": "All measured?",
    "survey": "Survey sound?",
}
"""What a reader asks, by what a defect spoils or by what is asked of the measurement."""
MOST = 20
"""Numbers of items that are written out."""


def question_of(check: str) -> str:
    """Which question a check answers.

    Examples
    --------
    >>> [question_of(name) for name in ("ponding", "coverage", "control-position")]
    ['water', 'evidence', 'survey']
    """
    declared = check_named(check)
    return (declared.consequence or "position") if declared.subject == "work" else declared.subject


def overview(results: "Results") -> list[dict[str, Any]]:
    """Counts of each question: places that are out by items, all else by reported findings.

    Parameters
    ----------
    results : Results

    Returns
    -------
    list of dict
        `name`, `text`, the checks it is made of, and a count by verdict; questions nobody asked are left out.
    """
    counts = results.reported[["check", "verdict"]].value_counts()
    asked = {str(check): question_of(str(check)) for check in counts.index.unique("check")}
    rows = []
    for name, text in QUESTIONS.items():
        checks = sorted(check for check, question in asked.items() if question == name)
        if not checks:
            continue
        row = {each: sum(int(counts.get((check, each), 0)) for check in checks) for each in VERDICTS}
        rows.append({"name": name, "text": text, "checks": checks, **row, "OUT": _places(results.layers, row, name)})
    return rows


def _places(layers: "Layers", counts: dict[str, int], name: str) -> int:
    """Items that are out and are led by one of these checks; without items, findings."""
    if "items" not in layers:
        return counts["OUT"]
    items = layers["items"]
    out = items[(items["verdict"] == "OUT") & (items["state"] == "open")]
    return sum(question_of(check) == name for check in out["check"])


def control_table(layers: "Layers") -> dict[str, Any] | None:
    """Residuals at control by mark and session as texts, with their limits; None where there are no check shots."""
    if "control_residuals" not in layers or not len(layers["control_residuals"]):
        return None
    unit = layers.frame.unit.name
    digits = words.decimals("length", unit)

    def text(value: float) -> str:
        return words.number(value, digits, signed=True) if np.isfinite(value) else "–"

    held = set(layers["control"].loc[layers["control"]["held"].astype(bool), "mark"]) if "control" in layers else set()
    rows = []
    for row in layers["control_residuals"].to_dict("records"):
        means = [text(row[f"mean_{axis}"]) for axis in ("easting", "northing", "elevation")]
        mark = f"{row['mark']} (held)" if row["mark"] in held else row["mark"]
        session = row["session"] if isinstance(row["session"], str) else "–"
        rows.append([mark, session, str(row["shots"]), *means, str(row["left_out"]) if row["left_out"] else ""])
    return {"rows": rows, "limits": _limits(layers, unit), "sessions": _sessions(layers, unit)}


def _limits(layers: "Layers", unit: str) -> str:
    if "control_table" not in layers or not len(layers["control_table"]):
        return ""
    table = layers["control_table"]
    parts = []
    for name, said in (("limit_h", "in plan"), ("limit_v", "in elevation")):
        known = sorted({float(each) for each in table[name] if np.isfinite(each)})
        if known:
            parts.append(f"{' or '.join(words.number(each, 2) for each in known)} {unit} {said}")
    return f"Limits of one check shot: {', '.join(parts)}" if parts else ""


def _sessions(layers: "Layers", unit: str) -> list[str]:
    """RMSE of each session in a line."""
    if "control_sessions" not in layers:
        return []
    lines = []
    for row in layers["control_sessions"].to_dict("records"):
        session = row["session"] if isinstance(row["session"], str) else "–"
        sizes = [(row["rmse_horizontal"], "in plan"), (row["rmse_elevation"], "in elevation")]
        known = [f"{words.quantity(value, 'length', unit)} {said}" for value, said in sizes if np.isfinite(value)]
        if known:
            name = "All sessions" if session == "all" else f"Session {session}"
            on = f"{words.many(int(row['shots']), 'check shot')} on {words.many(int(row['marks']), 'mark')}"
            lines.append(f"{name}: RMSE {', '.join(known)}; {on}")
    return lines


def changes(results: "Results") -> str:
    """What changed since the round before, or which items of earlier runs are gone; empty where none are numbered."""
    layers, since = results.layers, results.summary.get("since")
    if "items" not in layers:
        return ""
    if since is not None:
        return _since(since)
    gone = layers["items"].loc[layers["items"]["state"] == "gone", "item"].tolist()
    first = "First round: this job names none before it."
    if not gone:
        return f"{first} No item of an earlier run is gone; items keep their numbers from run to run."
    said = f"{words.many(len(gone), 'item of earlier runs is', 'items of earlier runs are')} gone"
    return f"{first} {said}: {_numbers(gone)}."


def states(results: "Results") -> dict[str, str]:
    """What became of each listed item since the round before, in words; empty where the job names no such round."""
    since = results.summary.get("since") or {"states": {}}
    return {item: said for said, items in since["states"].items() for item in items}


def _since(since: dict[str, Any]) -> str:
    parts = [f"{len(items)} {said} ({_numbers(items)})" for said, items in since["states"].items()]
    return (
        f"Since {since['previous']}: {'; '.join(parts) or 'no item then or now'}. The same in both rounds: "
        f"{since['same']:,} of {words.many(since['numbers'], 'number')}; new: {since['new_shots']:,} of "
        f"{words.many(since['shots'], 'shot')}."
    )


def _numbers(items: list[str]) -> str:
    more = [f"{len(items) - MOST} more"] if len(items) > MOST else []
    return words.listed([*items[:MOST], *more])
