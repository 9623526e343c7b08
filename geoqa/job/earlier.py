"""Which files of an output folder are of the newest run, and which an earlier one left there.

A file that a run no longer makes stays where it is: nothing is deleted that somebody may have opened, copied or signed.
So that nobody takes it for a result of today, a text beside it names it, and so does the terminal.
"""

import json
from collections.abc import Iterable
from pathlib import Path, PurePosixPath

RECORD = "record.json"
LEFT = "earlier_run.txt"
"""Text that names what an earlier run left; it is there only while such a file is."""
_HEAD = "Of an earlier run, and not made by the newest one (record.json lists what is). Delete what nobody needs:"


def made(folder: Path) -> frozenset[str]:
    """Files that the newest run wrote, by the record in `folder`; the record itself too. Empty without a record."""
    try:
        outputs = json.loads((folder / RECORD).read_text(encoding="utf-8"))["outputs"]
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return frozenset()
    return frozenset(outputs) | {RECORD} if isinstance(outputs, dict) else frozenset()


def left(folder: Path) -> tuple[str, ...]:
    """Files that the text in `folder` names as left by an earlier run, and that are still there."""
    head, *lines = _text(folder).split("\n")
    return _there(folder, lines) if head == _HEAD else ()


def may_be_replaced(folder: Path) -> bool:
    """Whether no file of somebody else bears the name of that text."""
    return not (folder / LEFT).exists() or _text(folder).startswith(_HEAD)


def _text(folder: Path) -> str:
    try:
        return (folder / LEFT).read_text(encoding="utf-8")
    except (OSError, ValueError):
        return ""


def will_be_left(folder: Path, names: Iterable[str]) -> tuple[str, ...]:
    """Files of earlier runs that a run which makes `names` does not replace; asked before it does."""
    return _there(folder, {*made(folder), *left(folder)} - {*names, RECORD, LEFT})


def left_text(names: Iterable[str]) -> str:
    """Content of `LEFT`."""
    return "\n".join([_HEAD, *names]) + "\n"


def _there(folder: Path, names: Iterable[str]) -> tuple[str, ...]:
    """Those that are files inside `folder`: names come from files that anybody may have changed."""
    return tuple(sorted({name for name in names if inside(name) and (folder / name).is_file()}))


def inside(name: str) -> bool:
    """Whether a name from a file stays within the folder it is said of."""
    path = PurePosixPath(name)
    return bool(name) and name.isprintable() and not path.is_absolute() and ".." not in path.parts and len(name) < 200
