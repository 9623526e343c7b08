"""Where every table came from: the file, its hash, what read it, what that found out, and what it could not read."""

import datetime
import hashlib
import json
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa import plugins
from geoqa.frames.files.reading import FileAsRead
from geoqa.job.document.file import Job
from geoqa.job.document.rule_sets import RuleSet
from geoqa.job.inputs.named_files import Input
from geoqa.model.source import Source, Trouble
from geoqa.model.tables.columns import conform
from geoqa.model.tables.register import in_force
from geoqa.model.words import many
from geoqa.version import VERSION

if TYPE_CHECKING:
    import pandas as pd


LISTED_TROUBLES = 20
"""Troubles of one file that are spelled out; the count is always complete."""
ALIKE = 3
"""Rows of one file with the same trouble from which they are told once."""
LISTED_LINES = 12
"""Lines of one file that are named where rows were not read; the count is always complete."""


def trouble_lines(read: Iterable[FileAsRead]) -> tuple[str, ...]:
    """Rows that were not read whole, a line each; what many rows share is told of the first, with the lines of all."""
    lines: list[str] = []
    for file in read:
        rows: dict[int, list[Trouble]] = {}
        for nth, trouble in enumerate(each for each in file.source.troubles if not each.asks):
            rows.setdefault(trouble.line if trouble.line > 0 else -nth, []).append(trouble)
        told = list(_alike(rows))
        unnamed = {line: sum(each.more for each in troubles) for line, troubles in rows.items()}
        for first, others in told[:LISTED_TROUBLES]:
            more = sum(each.more for each in first) + sum(unnamed[line] for line in others)
            lines.append(f"{file.name}, {_of_row(first)}{_of_others(others, more)}")
        if more := sum(1 + len(others) for _, others in told[LISTED_TROUBLES:]):
            lines.append(f"{file.name}: and {many(more, 'more row')} with trouble")
    return tuple(lines)


def _alike(rows: dict[int, list[Trouble]]) -> list[tuple[list[Trouble], list[int]]]:
    """Troubles of the first row of each sort, and the lines of all others that lack the same for the same reason."""
    sorts: dict[object, list[int]] = {}
    for line, troubles in rows.items():
        why = tuple((each.column, each.reason, each.header, each.kept) for each in troubles)
        sorts.setdefault(why if line > 0 else line, []).append(line)
    others = {line: more for line, *more in sorts.values() if 1 + len(more) >= ALIKE}
    told = {line for more in others.values() for line in more}
    return [(troubles, others.get(line, [])) for line, troubles in rows.items() if line not in told]


def _of_others(lines: list[int], unnamed: int) -> str:
    if not lines:
        return f"; and {many(unnamed, 'more row')} like it" if unnamed else ""
    count = len(lines) + unnamed
    more = f" and {count - LISTED_LINES} more" * (count > LISTED_LINES)
    named = f"{', '.join(map(str, lines[:LISTED_LINES]))}{more}"
    return f"; the same in lines {named}, {many(count + 1, 'row')} in all"


def questions(read: Iterable[FileAsRead]) -> tuple[str, ...]:
    """What whole files ask, a line each."""
    return tuple(f"{file.name}, {each.what}" for file in read for each in file.source.troubles if each.asks)


def unread_lines(read: Iterable[FileAsRead]) -> tuple[str, ...]:
    """Where rows lie that could not be read at all, a file each, such as "lines 7, 8 of pts.txt"."""
    places = []
    for file in read:
        lines = sorted({trouble.line for trouble in file.source.troubles if trouble.loses_row})
        if lines:
            more = f" and {len(lines) - LISTED_LINES} more" * (len(lines) > LISTED_LINES)
            word = "line" if len(lines) == 1 else "lines"
            places.append(f"{word} {', '.join(map(str, lines[:LISTED_LINES]))}{more} of {file.name}")
    return tuple(places)


def _of_row(troubles: list[Trouble]) -> str:
    """Everything that was not read of one row, what loses it first."""
    first, *rest = sorted(troubles, key=lambda trouble: not trouble.loses_row)
    return "; ".join([str(first), *(trouble.what for trouble in rest)])


def sources_table(read: list[tuple[Input, Source]], rules: Iterable[RuleSet] = ()) -> "pd.DataFrame":
    """The layer `sources`: a row for each file that was read, those of rule sets last."""
    import pandas as pd

    rows = [_source_row(each, source) for each, source in read]
    return conform("sources", pd.DataFrame([*rows, *(_rules_row(each) for each in rules)]))


def register_tables(job: Job, sources: "pd.DataFrame") -> "dict[str, pd.DataFrame]":
    """What the register says of design files, older or in force; no table where it says nothing."""
    import pandas as pd

    changes = [each.source for each in job.design if each.field_change]
    known = in_force(sources, stated=job.job.revision, changes=changes)
    return {"design_register": conform("design_register", pd.DataFrame(known))} if known else {}


def _rules_row(rules: RuleSet) -> dict[str, Any]:
    return {
        "source": rules.name,
        "role": "rules",
        "path": rules.file.replace("\\", "/"),
        "sha256": rules.sha256,
        "reader": "rules",
        "version": f"geoqa {VERSION}",
        "detected": json.dumps({"title": rules.title, "verified": rules.verified}, sort_keys=True),
        "revision": rules.edition,
        "dated": str(rules.date),
    }


def _source_row(file: Input, source: Source) -> dict[str, Any]:
    reader = _reader_name(file)
    return {
        "source": file.source,
        "role": file.role,
        "path": file.shown.replace("\\", "/"),
        "sha256": file.table.reader.fingerprint() if file.in_memory else sha256(file.path),
        "reader": reader,
        "version": plugins.owner("readers", reader) if reader in plugins.declared("readers") else "",
        "encoding": source.facts.get("encoding"),
        "delimiter": source.facts.get("delimiter"),
        "crs": file.table.frame or source.crs,
        "unit": getattr(file.table, "unit", None) or (source.unit.name if source.unit else None),
        "detected": json.dumps({**source.facts, **_stated_of(file)}, sort_keys=True),
        "confidence": getattr(file.table, "confidence", None),
        "sheet": getattr(file.table, "sheet", "") or None,
        "revision": getattr(file.table, "revision", "") or getattr(file.table, "field_change", "") or None,
        "dated": _iso(getattr(file.table, "dated", None)),
    }


def _stated_of(file: Input) -> dict[str, str]:
    """What the job states of a file beside what was found in it: which receiver measured."""
    receiver = getattr(file.table, "receiver", "")
    return {"receiver": receiver} if receiver else {}


def _iso(date: "datetime.date | None") -> str | None:
    return None if date is None else date.isoformat()


def _reader_name(file: Input) -> str:
    """Name under which the reader is declared: that of the file's suffix where several names share one reader."""
    kind = type(file.table.reader).__name__
    named = [
        name
        for name, entry in plugins.declared("readers").items()
        if entry.value.endswith(f":{kind}") and name.startswith((f"{file.role}.", "table.", "points."))
    ]
    own = f"{file.role}.{file.path.suffix.lower().removeprefix('.')}"
    return own if own in named else next(iter(named), kind)


def sha256(path: Path) -> str:
    """Hash of a file's bytes."""
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while block := stream.read(1 << 20):
            digest.update(block)
    return digest.hexdigest()
