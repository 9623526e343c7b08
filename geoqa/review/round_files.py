"""The difference of two rounds as files: a table, the same as JSON, and a page that works offline and on paper."""

import csv
import io
import json
import re
from dataclasses import asdict, replace
from html import escape
from importlib.resources import files
from pathlib import Path
from string import Template

from geoqa.errors import OutputError
from geoqa.job.decided import put_whole
from geoqa.review.round_lines import headline, numbering, proof
from geoqa.review.round_map import drawing
from geoqa.review.rounds import OPEN, STATES, Compared, Thread

TABLE, FACTS, PAGE = "round.csv", "round.json", "round.html"
COLUMNS = (
    "item", "first", "state", "untouched", "chapter", "check", "kind", "subject", "told", "before", "why", "by",
    "decision", "neighbours", "history", "place",
)  # fmt: skip
_LIKE_A_FORMULA = re.compile(r"^\s*[=+\-@\t\r]")


def write(found: Compared, folder: Path) -> tuple[Path, ...]:
    """Write table, facts and page into a folder, which is made where it is missing.

    Raises
    ------
    OutputError
        The folder cannot be written to, or a file of another kind bears its name.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        made = {TABLE: table(found), FACTS: facts(found), PAGE: page(found)}
        for name, text in made.items():
            put_whole(folder / name, text)
    except OSError as error:
        raise OutputError(f"The folder {folder.name} cannot be written to: {error.strerror or error}.") from error
    return tuple(folder / name for name in made)


def table(found: Compared) -> str:
    """The items as delimited text; what a spreadsheet would take for a formula begins with an apostrophe.

    Examples
    --------
    >>> one = Thread(item="1", state="closed", subject="=1+1", history=("OUT", "closed"))
    >>> print(table(Compared(rounds=("a", "b"), unit="ft", threads=(one,), numbers=0, same=0, new_shots=0, shots=0,
    ...     files=(), register_kept=True)).splitlines()[1])
    "1","","closed","false","","","","'=1+1","","","","","","","OUT; closed",""
    """
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n", quoting=csv.QUOTE_ALL)
    out.writerow(COLUMNS)
    out.writerows([_cell(getattr(each, name)) for name in COLUMNS] for each in found.threads)
    return text.getvalue()


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    text = "; ".join(map(str, value)) if isinstance(value, tuple) else str(value)
    text = text.replace("\0", "\N{SYMBOL FOR NULL}")
    return f"'{text}" if _LIKE_A_FORMULA.match(text) else text


def facts(found: Compared) -> str:
    """Everything as JSON."""
    told = asdict(replace(found, ground=None))
    del told["ground"]
    return json.dumps(told, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def page(found: Compared) -> str:
    """The difference alone as one HTML page: no script, no request, light and dark, letter paper."""
    template = Template((files("geoqa.review") / "round.html").read_text(encoding="utf-8"))
    before, now = found.rounds[-2:]
    notes = [proof(found), numbering(found), *found.files, *found.edits]
    return template.substitute(
        title=_safe(f"{before} to {now}"),
        rounds=_safe(" → ".join(found.rounds)),
        headline=_safe(headline(found)),
        notes="".join(f"<li>{_safe(each)}</li>" for each in notes if each),
        map=drawing(found),
        sections="".join(_section(found, state) for state in STATES),
        untouched=_untouched(found),
    )


def _section(found: Compared, state: str) -> str:
    mine = [each for each in found.of(state) if not each.untouched]
    if not mine:
        return ""
    several = len(found.rounds) > 2
    heads = ["Item", "What", "Before", "Rests on", *([" → ".join(found.rounds)] if several else [])]
    head = "".join(f'<th scope="col">{_safe(each)}</th>' for each in heads)
    rows = "".join(_row(each, several) for each in mine)
    kind = "open" if state in OPEN else "closed"
    return (
        f'<section class="{kind}"><h2>{_safe(STATES[state][:1].upper() + STATES[state][1:])} ({len(mine)})</h2>'
        f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></section>"
    )


def _row(each: Thread, several: bool) -> str:
    was = f'<br><span class="quiet">was {_safe(each.first)}</span>' if each.first else ""
    beside = "".join(
        f'<p class="note">Its neighbour was not shot again: {_safe(place)}</p>' for place in each.neighbours
    )
    decided = f'<p class="quiet">Decided: {_safe(each.decision)}</p>' if each.decision else ""
    before = _safe(each.before) if each.before != each.told else "–"
    cells = [f"{_safe(each.told)}{decided}", before, f"{_safe(each.why)}{beside}"]
    cells += [_safe(" → ".join(state or "–" for state in each.history))] if several else []
    return f'<tr><th scope="row">{_safe(each.item)}{was}</th>{"".join(f"<td>{cell}</td>" for cell in cells)}</tr>'


def _untouched(found: Compared) -> str:
    mine = [each for each in found.threads if each.untouched]
    if not mine:
        return ""
    rows = "".join(f"<li><b>{_safe(each.item)}</b> {_safe(each.told)}</li>" for each in mine)
    return f"<section><h2>Untouched, the same by their hashes ({len(mine)})</h2><ul>{rows}</ul></section>"


def _safe(text: str) -> str:
    """Text of anybody as text of the page: no markup, and nothing that cannot be seen."""
    return escape("".join(mark if mark.isprintable() else "\N{REPLACEMENT CHARACTER}" for mark in text))
