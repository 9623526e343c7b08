"""The summary a person reads in a terminal, worst first."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoqa.cli.plain import plain
from geoqa.cli.worst import COLOURS, worst
from geoqa.cli.written import first_written, where
from geoqa.contract.chapters import in_chapters
from geoqa.model import words
from geoqa.model.note_line import short_of
from geoqa.model.signs import SIGNS
from geoqa.model.tables.reported import TEXTS

if TYPE_CHECKING:
    from geoqa.model.results import Results


def summary(results: "Results", folder: Path) -> str:
    """Title, counts, notes, the worst items, and where the files are."""
    headline = click.style(plain(results.summary.get("headline", "")), bold=True)
    parts = [
        _title(results),
        headline,
        worst(results, folder),
        _notes(results, folder),
        _counts(results),
        where(folder),
    ]
    return "\n\n".join(part for part in parts if part)


def _title(results: "Results") -> str:
    title = results.title
    head = " · ".join(part for part in (title.name, title.revision, title.date) if part)
    lines = [click.style(plain(head), bold=True), plain(results.layers.frame.describe())]
    if between := results.summary.get("grid_ground"):
        lines.append(plain(between))
    if title.preliminary:
        lines.append(click.style(words.PRELIMINARY, bold=True))
    return "\n".join(lines)


def _counts(results: "Results") -> str:
    counts, signs = results.summary["reported"], results.summary.get("shots_by_sign", {})
    lines = []
    texts = {**TEXTS, "OUT": _out_of(results)}
    for sign, text in texts.items():
        mark = click.style(SIGNS[sign].mark, fg=COLOURS[sign]) if sign in SIGNS else "+"
        found = f"{counts[sign]:>6} {'finding' if counts[sign] == 1 else 'findings'}" if sign in SIGNS else ""
        shots = f"{signs[sign]:>6} {'shot' if signs[sign] == 1 else 'shots'}" if sign in signs else ""
        if sign in SIGNS or signs.get(sign):
            lines.append(f"  {mark} {found:<15} {shots:<12}  {text}")
    head = words.many(results.summary["shots"], "shot")
    if again := results.summary.get("listed_twice"):
        head += f" ({words.many(again, 'row')} more listed twice)"
    return "\n".join([f"{head}; what is reported, and shots by the worst of it:", *lines])


def _out_of(results: "Results") -> str:
    """What is out, in the words of every output, and of what that is: no evidence is nothing out of tolerance."""
    out = results.reported[["check", "verdict"]]
    parts = [(chapter, len(rows)) for chapter, rows in in_chapters(out[out["verdict"] == "OUT"])]
    if all(chapter.subject == "work" for chapter, _ in parts):
        return TEXTS["OUT"]
    said = {chapter.subject: "of the work" if chapter.subject == "work" else chapter.out for chapter, _ in parts}
    return f"{TEXTS['OUT']}: {', '.join(f'{count} {said[chapter.subject]}' for chapter, count in parts)}"


def _notes(results: "Results", folder: Path) -> str:
    shown = [f"  ! {plain(short_of(note))}" for note in results.notes[:6]]
    if len(results.notes) > 6:
        left = len(results.notes) - 6
        listed = first_written(
            folder, {"map.html": ", on the map under Read first", "summary.json": " in summary.json"}
        )
        shown.append(f"  ! and {left} more {'note' if left == 1 else 'notes'}{listed}")
    return "\n".join(["Know first:", *shown]) if shown else ""
