"""What is out or open, in a terminal: the work first, then what was not measured, then the survey."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geoqa.cli.plain import plain
from geoqa.cli.written import first_written
from geoqa.contract.chapters import in_chapters, tally
from geoqa.contract.checks import check_named
from geoqa.contract.decisions import decided_lines
from geoqa.contract.items import MAY_BE_CHANCE, also_there, by_chance
from geoqa.contract.odds_sentences import odds_of
from geoqa.contract.rule_set_words import rule_set_words
from geoqa.contract.shown_by import cause_of_checks, folded_under_causes
from geoqa.contract.spoken import grade, spoken
from geoqa.contract.survey import subject_in_words
from geoqa.contract.what_next import next_lines
from geoqa.model.signs import SIGNS
from geoqa.model.tables.direction import ways
from geoqa.model.tables.in_rows import in_rows

if TYPE_CHECKING:
    import pandas as pd

    from geoqa.model.results import Results

COLOURS = {"OUT": "red", "UNDECIDED": "yellow", "NO_DATA": "white", "IN": "blue"}


def worst(results: "Results", folder: Path) -> str:
    """The work first, by what a defect spoils, then what was not measured, then the survey; each worst first."""
    reported = results.reported
    rows = reported[reported["verdict"] != "IN"]
    if not len(rows):
        return ""
    listed, shown, unit = [], 0, results.layers.frame.unit.name
    for chapter, mine in in_chapters(rows):
        some, folded = folded_under_causes(results.layers, _leads(results, mine), _MOST[chapter.subject], unit)
        some = some.assign(also=_also(mine, some, unit))
        shown += int(mine["item"].isin(some["item"]).sum()) if "item" in mine else len(some) + folded
        listed.append("\n".join([f"{chapter.head}: {tally(mine, chapter)}", *_lines(results, some)]))
    if left := len(rows) - shown:
        files = {name: f" in {name}" for name in ("findings.csv", "checked.gpkg")} | {"map.html": " on the map"}
        listed.append(f"and {left} more{first_written(folder, files)}")
    return "\n\n".join(listed)


def _leads(results: "Results", rows: "pd.DataFrame") -> "pd.DataFrame":
    """One row an item, and every row that belongs to none; control checks go on standing under their cause."""
    if "item" not in rows:
        return rows
    again = rows["item"].notna() & rows["item"].duplicated() & cause_of_checks(results.layers, rows).isna()
    return rows[~again]


def _also(rows: "pd.DataFrame", leads: "pd.DataFrame", unit: str) -> "list[str]":
    if "item" not in rows:
        return [""] * len(leads)
    of_item = dict(list(rows[rows["item"].isin(leads["item"])].groupby("item")))
    return [also_there(of_item[item], finding, unit) if item in of_item and not isinstance(below, str) else ""
            for item, finding, below in zip(leads["item"], leads["finding"], leads["below"], strict=True)]  # fmt: skip


_BELOW = ("decided", "also", "sets_differ", "chance", "odds", "next", "below")
_MOST = {"work": 10, "evidence": 3, "survey": 4}
"""How many findings of a chapter are listed."""


def _lines(results: "Results", rows: "pd.DataFrame") -> list[str]:
    layers, unit = results.layers, results.layers.frame.unit.name
    rows = rows.assign(toward=ways(layers, rows), odds=odds_of(layers, rows["finding"]))
    rows = rows.assign(next=next_lines(layers, rows, unit), decided=decided_lines(rows))
    chance = by_chance(layers)
    loose = (rows["verdict"] == "OUT") & rows["item"].isin(chance) if chance else rows["verdict"].isna()
    rows = rows.assign(chance=[MAY_BE_CHANCE if each else "" for each in loose])
    rows = rows.join(rule_set_words(results.findings, unit), on="finding")
    lines = []
    for row in in_rows(rows):
        mark = click.style(SIGNS[row["verdict"]].mark, fg=COLOURS[row["verdict"]])
        number = f"{row['item']:>3}  " if isinstance(row.get("item"), str) else ""
        lines.append(f"  {mark} {number}{plain(head := spoken(row, unit, toward=row['toward']))}")
        if more := _more(row, head.partition(":")[0], unit):
            lines.append("      " + "; ".join(map(plain, more)))
        lines += [f"      {plain(row[name])}" for name in _BELOW if isinstance(row[name], str) and row[name]]
    return lines


def _more(row: "Mapping[Any, Any]", head: str, unit: str) -> list[str]:
    """Which lines and shots, what they tell beside the number, and why it is not proven."""
    check = check_named(row["check"])
    subject, label = subject_in_words(row), row["label"]
    # the line above names the subject where no stations do
    above = subject != "-" and f" {subject}, " in f" {head}, "
    named = label if label.startswith(subject) or above else f"{subject}, {label}"
    named = named if not above else named.removeprefix(subject).removeprefix(", ")
    # what a cause of the survey is found to be is told before, with the notes
    told = row["cause"] if isinstance(row["cause"], str) and check.subject == "work" else ""
    why = "" if row["why"] == "proven" else check.reason(row["why"]).text
    return [part for part in (named.removeprefix("-, "), grade(row, unit), told, why) if part]
