"""Draft a job file from the files in a folder, or tell what is new in a folder that has one."""

import os
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from geoqa.errors import JobError, OutputError
from geoqa.job.begin.additions import additions
from geoqa.job.begin.draft import Draft, draft
from geoqa.job.begin.listing import JOB_FILE as FILE
from geoqa.job.begin.listing import LeftOut, look
from geoqa.job.begin.reading import Folder, read_folder
from geoqa.job.begin.seen_codes import FILE as CODES_FILE
from geoqa.job.begin.seen_codes import code_list

Asking = Callable[[str, Callable[[str], str]], str]
"""The text of a draft, and what drafts it anew in a frame, to a text with its questions answered."""


@dataclass(frozen=True)
class Begun:
    """What was written, and what is left out of it.

    Attributes
    ----------
    path : Path
        The job file.
    codes : Path or None
        The code list that was drafted beside it.
    left : tuple of LeftOut
        Files that are in no table, each with why.
    added : int
        Lines that were added to a job file that was there.
    """

    path: Path
    codes: Path | None = None
    left: tuple[LeftOut, ...] = ()
    added: int = 0


def begin(
    folder: Path, *, frame: str | None = None, name: str | None = None, force: bool = False, add: bool = False,
    ask: Asking | None = None,
) -> Begun:  # fmt: skip
    """Write a commented job file into `folder`.

    Parameters
    ----------
    folder : Path
    frame, name : str, optional
        Coordinate system and name of the job.
    force : bool
        Replace a job file that is there.
    add : bool
        Add what is new in the folder to the job file that is there, as comments at its end.
    ask : callable, optional
        Answers the questions of the draft before it is written.

    Raises
    ------
    JobError
        One is there already; the message says what is new in the folder. Or nothing can be read as shots; it says
        of every file why not.
    OutputError
        The folder cannot be written to.
    """
    path = folder / FILE
    if path.exists() and not force:
        return _again(folder, path, frame=frame, add=add)
    read = read_folder(look(folder), frame)
    if not any(each.role == "shots" for each in read.listing.found):
        raise JobError(_no_shots(folder, read))
    made = draft(read, folder, frame=frame, name=name)

    def anew(horizontal: str) -> str:
        nonlocal read, made
        read = read_folder(look(folder), horizontal)
        made = draft(read, folder, frame=horizontal, name=name)
        return made.text

    text = made.text if ask is None else ask(made.text, anew)
    codes = _code_list(folder, made)
    _replace(path, text.encode("utf-8", errors="replace"))
    return Begun(path, codes, read.listing.left)


def _no_shots(folder: Path, read: Folder) -> str:
    lines = [
        f"No file in {folder.name or 'this folder'} reads as collected points; put a delimited text file "
        "(.csv or .txt) with point, easting, northing, elevation and code there. Where only the headings of one are "
        "others, write easting, northing and elevation over its columns, or begin a job file by hand that states them "
        "([[shots]] with path and columns)."
    ]
    lines += [f"{each.shown}: {each.role}" for each in read.listing.found]
    lines += [f"{each.shown}: {each.why}" for each in read.listing.left]
    return "\n  ".join(lines)


def _again(folder: Path, path: Path, *, frame: str | None, add: bool) -> Begun:
    """Add to a job what it does not name yet, or refuse with a list of that."""
    read = read_folder(look(folder), frame)
    new = additions(path, read, folder, frame=frame)
    if not add:
        told = "\n  ".join(new.told) if new.told else "Nothing in the folder is new to it."
        raise JobError(
            f"{FILE} is already in {folder.name or 'this folder'}; use --add to add what is new to its end, as "
            f"comments, or --force to replace it.\n  {told}"
        )
    if not new.lines:
        return Begun(path, None, new.left)
    old = path.read_bytes()
    ending = b"" if old.endswith(b"\n") else b"\n"
    block = "\n".join(new.lines) + "\n"
    _replace(path, old + ending + b"\n" + block.encode("utf-8", errors="replace"))
    return Begun(path, None, new.left, len(new.lines))


def _code_list(folder: Path, made: Draft) -> Path | None:
    """Write the drafted code list; one that is there, and may have been mended, is never replaced."""
    beside = folder / CODES_FILE
    if not made.codes or beside.exists():
        return None
    _replace(beside, code_list(made.codes).encode("utf-8", errors="replace"))
    return beside


def _replace(path: Path, text: bytes) -> None:
    """Write beside, and put in place when it is whole: a full disk must not cost the file that was there."""
    beside = path.with_name(f".{path.name}.unfinished")
    try:
        beside.write_bytes(text)
        os.replace(beside, path)
    except OSError as error:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
        still = f" The {path.name} that was there is still whole." if path.exists() else ""
        raise OutputError(f"{path.name} cannot be written: {error.strerror or error}.{still}") from error
