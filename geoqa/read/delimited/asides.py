"""Lines of a table that hold no row: comments, and the units under a header."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from geoqa.model.source import Evidence
from geoqa.read.delimited.headings import UNITS, plain, readings
from geoqa.read.delimited.layout import DELIMITERS, cut

_COMMENT = re.compile(rb"(?m)^[ \t]*(#+|//)([^\n]*)")
_DECIMAL = re.compile(r"[+-]?\d+[.,]\d+")
_MARKS = re.compile(r"[,;|\t]")
_NOTHING = ("", "-", "--", "n/a", "none")
_LISTED = 5


def without_comments(data: bytes, *, is_column: Callable[[str], bool]) -> tuple[bytes, tuple[Evidence, ...]]:
    r"""Blank the comment lines of a text; every other line keeps its number.

    A comment starts with # or //. A line that starts so and holds two numbers with decimals is a row, and one whose
    fields name columns is the header: neither is a comment. Nor is one inside a quoted field.

    Parameters
    ----------
    data : bytes
        UTF-8, lines ended by a line feed.
    is_column : callable
        Whether a text is a column name that the reader knows.

    Returns
    -------
    bytes
        The text, its comment lines empty, a header without its mark.
    tuple of Evidence
        How many lines were left out, and which.

    Examples
    --------
    >>> data, found = without_comments(b"# day 2\n1,2.5,3.5\n", is_column=bool)
    >>> data, found[0].answer
    (b'\n1,2.5,3.5\n', '1 line left out')
    """
    if b"#" not in data and b"//" not in data:
        return data, ()
    lines: list[int] = []
    seen, line, quotes = 0, 1, 0

    def replaced(match: re.Match[bytes]) -> bytes:
        nonlocal seen, line, quotes
        line += data.count(b"\n", seen, match.start())
        quotes += data.count(b'"', seen, match.start())
        seen = match.start()
        text = match[2].decode("utf-8", errors="replace")
        if quotes % 2 or len(_DECIMAL.findall(text)) >= 2:
            return match[0]
        if _is_header(text, is_column):
            return match[2]
        lines.append(line)
        return b""

    without = _COMMENT.sub(replaced, data)
    if not lines:
        return without, ()
    shown = ", ".join(map(str, lines[:_LISTED])) + (" …" if len(lines) > _LISTED else "")
    many = f"{len(lines)} line{'s' if len(lines) > 1 else ''} left out"
    because = f"no coordinates, and # or // first: {'lines' if len(lines) > 1 else 'line'} {shown}"
    return without, (Evidence(what="comments", answer=many, because=because),)


def units_below(sample: Sequence[str]) -> bool:
    """Whether the second of the first lines states units and nothing else.

    Examples
    --------
    >>> units_below(["Point;East;North", ";(ft);(ft)", "1;2.5;3.5"])
    True
    """
    return len(sample) > 2 and any(_only_units(cut(sample[1], mark)) for mark in DELIMITERS)


def with_units(columns: Sequence[str], units: Sequence[str]) -> tuple[str, ...]:
    """Headings with the units that stand below them.

    Examples
    --------
    >>> with_units(["Point", "East"], ["-", "US survey feet"])
    ('Point', 'East (US survey feet)')
    """
    return tuple(
        f"{heading} ({unit.strip('()[] ')})"
        if plain(unit) in UNITS and not any(readings(heading).values())
        else heading
        for heading, unit in zip(columns, units, strict=True)
    )


def _only_units(fields: Sequence[str]) -> bool:
    words = [each for each in fields if each.casefold() not in _NOTHING]
    return len(fields) >= 3 and len(words) >= 2 and all(plain(each) in UNITS or not plain(each) for each in words)


def _is_header(text: str, is_column: Callable[[str], bool]) -> bool:
    fields = [each for each in (_MARKS.split(text) if _MARKS.search(text) else text.split()) if each.strip()]
    known = sum(map(is_column, fields))
    return known >= 3 and 2 * known > len(fields)
