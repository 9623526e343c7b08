"""What no job file needs: keys a hundred deep, numbers of a thousand digits, paths no disk takes.

Asked of the text before it is taken apart: taking such a text apart costs gigabytes or ends in the middle.
"""

import re
from collections.abc import Iterator
from typing import Any

from pydantic_core import PydanticCustomError

DEEPEST = 30
"""Tables and lists within each other, and parts of a dotted key; a job file has five."""
LARGEST = 2**63
"""Whole numbers of a TOML file lie between this and its negative."""
LONGEST_PART, LONGEST_PATH = 255, 4000
"""Bytes of a name, and of a whole path, that disks take."""

_APART = re.compile(r'"""(?:\\.|[^\\])*?"""' r"|'''.*?'''" r'|"(?:\\.|[^"\\\n])*"' r"|'[^'\n]*'" r"|#[^\n]*", re.DOTALL)
_DIGITS = re.compile(r"\d[\d_]{4000,}")


def too_much(text: str) -> str:
    r"""What in the text of a job file no job needs, with its line; "" for a usual one.

    Examples
    --------
    >>> too_much('[job]\nname = "a.b.c.d"  # [[[['), too_much("a = " + "[" * 100 + "]" * 100)
    ('', 'line 1: tables and lists lie more than 30 deep in each other')
    """
    bare = _APART.sub(lambda found: "s" + "\n" * found[0].count("\n"), text)
    depth = 0
    for number, line in enumerate(bare.split("\n"), start=1):
        for mark in line:
            depth += (mark in "[{") - (mark in "]}")
            if depth > DEEPEST:
                return f"line {number}: tables and lists lie more than {DEEPEST} deep in each other"
        # with blanks gone, what stands between brackets, commas and = is one key or one value
        parts = re.split(r"[=\[\]{},]", re.sub(r"\s+", "", line))
        if max(part.count(".") for part in parts) >= DEEPEST:
            return f"line {number}: a key has more than {DEEPEST} parts"
        if _DIGITS.search(line):
            return f"line {number}: a number has more than 4,000 digits"
    return ""


def too_large(table: Any, at: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Addresses of whole numbers that TOML has no room for.

    Examples
    --------
    >>> list(too_large({"steps": [{"use": "runs", "shortest": 10**40}]}))
    [('steps', 0, 'shortest')]
    """
    if isinstance(table, int) and not -LARGEST <= table < LARGEST:
        yield at
    items = table.items() if isinstance(table, dict) else enumerate(table) if isinstance(table, list) else ()
    for key, value in items:
        yield from too_large(value, (*at, key))


def usable_path(path: str) -> str:
    """A path as it is, if a disk can have it.

    Raises
    ------
    PydanticCustomError
        A control character, or more bytes than a disk takes.
    """
    if hidden := next((mark for mark in path if ord(mark) < 32 or ord(mark) == 127), None):
        raise PydanticCustomError("path", "is no path: it holds the control character {mark}", {"mark": ascii(hidden)})
    parts = re.split(r"[/\\]", path)
    if max(len(part.encode("utf-8", "replace")) for part in parts) > LONGEST_PART or len(path) > LONGEST_PATH:
        raise PydanticCustomError(
            "path",
            "is no path: a name may have {part} bytes, and a whole path {whole}",
            {"part": LONGEST_PART, "whole": LONGEST_PATH},
        )
    return path
