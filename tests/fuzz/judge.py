"""How a case ended, by what was read and what might be read."""

import traceback
from pathlib import Path
from typing import Any

from fuzz.damage import Damaged
from fuzz.outcome import SECONDS, End, Hang, Outcome, at_most, unclear
from fuzz.reading import Reading, invented, meant, missing, numbers_in, plain, read, rows_of, same
from geoqa.errors import GeoqaError

ALSO = {
    "point": {"shot", "shot_key"},
    "value": {"value", "text", "quantity"},
    "size": {"size", "diameter"},
    "rim_shot": {"shot"},
    "limit": {"count", "seconds"},
    "worst": {"words", "number"},
    "time": {"time"},
}
"""Our columns that are made of a heading that has another name."""


def ended(case: str, damaged: Damaged, sound: Reading, reader: Any, folder: Path, one_to_one: bool) -> Outcome:
    """Read a damaged file, and say how that ended."""
    path = damaged.write(folder)
    try:
        with at_most():
            found = read(reader, path)
    except GeoqaError as error:
        lack = unclear(str(error), f"{path.stem}.", str(folder))
        return Outcome(
            case=case, end=End.SILENT if lack else End.REFUSED, words=f"{lack}: {error}" if lack else str(error)
        )
    except Hang:
        return Outcome(case=case, end=End.HANG, words=f"over {SECONDS:.0f} s")
    except Exception:
        return Outcome(case=case, end=End.CRASH, words=traceback.format_exc(limit=-6))
    if same(found, sound):
        return Outcome(case=case, end=End.SAME)
    wrong = differs(damaged, sound, found, one_to_one)
    if wrong:
        return Outcome(case=case, end=End.SILENT, words=wrong)
    if found.told_beyond(sound):
        return Outcome(
            case=case,
            end=End.SAID,
            words="; ".join(sorted((found.troubles | found.evidence) - sound.troubles - sound.evidence)[:3]),
        )
    return Outcome(case=case, end=End.AS_WRITTEN)


def differs(damaged: Damaged, sound: Reading, found: Reading, one_to_one: bool) -> str:
    """What was read that is not so, or not read and not told; empty where nothing is amiss."""
    told = found.told_beyond(sound)
    if damaged.rows is not None and one_to_one:
        return "" if told else _as_kept(damaged, sound, found)
    if damaged.row is not None and one_to_one:
        return _other_rows(damaged, sound, found)
    computed = "baseline" in found.tables  # its places are made of those of intersections
    if damaged.text and not computed and (more := invented(found, damaged.text)):
        return f"not in the file: {', '.join(more[:3])}"
    if told:
        return ""
    if not damaged.fewer and found.features() < sound.features():
        return f"{sound.features() - found.features()} things gone without a word"
    if one_to_one and damaged.text and (lost := _unread(damaged, found)):
        return f"lines without a row and without a word: {lost[:5]}"
    if damaged.other:
        return ""
    if damaged.row is None or not damaged.columns:
        return "reads otherwise without a word"
    empty = missing(found) > missing(sound) and not _is_empty(damaged, damaged.columns)
    return "a number is gone without a word" if empty else ""


def _as_kept(damaged: Damaged, sound: Reading, found: Reading) -> str:
    """Whether exactly the rows that the file holds were read."""
    for name, table in sound.tables.items():
        before = rows_of(table)
        names = list(meant(table).columns)
        free = {names.index(each) for each in ("shot_key",) if each in names}
        want = [_without(before[at], free) for at in damaged.rows or ()]
        have = [_without(row, free) for row in rows_of(found.tables[name])]
        if want != have:
            return f"{name}: not the rows that the file holds"
    return ""


def _without(row: tuple[Any, ...], free: set[int]) -> tuple[Any, ...]:
    return tuple(value for at, value in enumerate(row) if at not in free)


def _other_rows(damaged: Damaged, sound: Reading, found: Reading) -> str:
    """Whether all but the damaged row are as they were, and whether what it says is told or stands in it."""
    assert damaged.row is not None
    (name, before), (other, after) = _only(sound), _only(found)
    if name != other:
        return f"{other} in place of {name}"
    names = list(meant(before).columns)
    if list(meant(after).columns) != names:
        return "" if found.told_beyond(sound) else "other columns without a word"
    rows, now = rows_of(before), rows_of(after)
    rest = rows[: damaged.row] + rows[damaged.row + 1 :]
    for at in range(len(now) + 1):
        for used in (1, 0, 2):
            if at + used <= len(now) and now[:at] + now[at + used :] == rest:
                return _its_row(damaged, sound, found, rows[damaged.row], now[at : at + used], names)
    return (
        ""
        if found.told_beyond(sound) and _only_keys(rest, now)
        else "other rows than the damaged one are read otherwise"
    )


def _only_keys(rest: list[tuple[Any, ...]], now: list[tuple[Any, ...]]) -> bool:
    """Whether every other row is there, wherever it stands."""
    return set(rest) <= set(now)


def _only(reading: Reading) -> tuple[str, Any]:
    return next(iter(reading.tables.items()))


def _its_row(
    damaged: Damaged,
    sound: Reading,
    found: Reading,
    before: tuple[Any, ...],
    now: list[tuple[Any, ...]],
    names: list[str],
) -> str:
    told = found.told_beyond(sound)
    if not now:
        return "" if told else "the damaged row is gone without a word"
    if len(now) > 1:
        return "" if told else "one row became two without a word"
    known, text = numbers_in(damaged.text), plain(damaged.text)
    columns = damaged.columns or frozenset()
    allowed = columns.union(*(ALSO.get(each, set()) for each in columns))
    for column, old, new in zip(names, before, now[0], strict=True):
        if plain(old) == plain(new) or told:
            continue
        if column == "shot_key":
            continue
        if column not in allowed:
            return f"{column}: {old!r} became {new!r} without a word"
        if isinstance(new, bool):
            continue
        stands = float(new) in known if isinstance(new, float) else str(new) in text or str(new) == "not stated"
        if new is None:
            stands = _is_empty(damaged, columns)
        if not stands and column not in ("quantity", "diameter", "value", "u", "length", "seconds", "time"):
            return f"{column}: {new!r} does not stand in the file"
    return ""


def _is_empty(damaged: Damaged, columns: frozenset[str]) -> bool:
    """Whether the damaged cell says nothing: an empty cell is no damage that a reader could tell."""
    import csv

    mark = "\t" if "\t" in damaged.text.splitlines()[0] else ","
    rows = list(csv.DictReader(damaged.text.splitlines(), delimiter=mark))
    row = rows[damaged.row or 0] if (damaged.row or 0) < len(rows) else {}
    return all((row.get(each) or "").strip() in ("", "-9999", "NaN", "N/A", "null", "-") for each in columns)


def _unread(damaged: Damaged, found: Reading) -> list[int]:
    """Lines of a text with something on them that are neither read nor told; the first is the header."""
    _, table = _only(found)
    if "line" not in table:
        return []
    lines = damaged.text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    inked = {at for at, each in enumerate(lines, start=1) if each.strip(" \t,;|\ufeff\x00")}
    return sorted(inked - {min(inked, default=0)} - set(table["line"].tolist()) - found.lines)
