"""Draft a job file from the files in a folder; every guess is a comment with its evidence."""

import os
import re
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from geoqa import plugins
from geoqa.errors import FrameError, GeoqaError, JobError, OutputError
from geoqa.frames.files.place import place_files
from geoqa.frames.files.reading import ROLES, FileAsRead, FileReading, Placement, frame_lines
from geoqa.frames.systems.resolve import resolve
from geoqa.job.document.quoted import quoted
from geoqa.job.listed_again import asks_what_precisions_mean, listed_again
from geoqa.model.check import CONTROL
from geoqa.model.source import Peek

FILE = "job.toml"
DEEPEST = 3
LONGEST = 400
_ORDER = ("control", "codes", "screening", "check_policy", "shots")
_NEEDED = {"control": {"mark"}, "codes": {"code", "kind"}, "screening": {"field", "worst"}}
_NEEDED["check_policy"] = {"rule", "limit"}


@dataclass(frozen=True)
class Found:
    """A file, the role it seems to have, and what its head says."""

    path: Path
    role: str
    peek: Peek


def begin(folder: Path, *, frame: str | None = None, name: str | None = None, force: bool = False) -> Path:
    """Write a commented job file into `folder`.

    Raises
    ------
    JobError
        One is there already, or nothing in the folder can be read as shots.
    OutputError
        The folder cannot be written to.
    """
    path = folder / FILE
    if path.exists() and not force:
        raise JobError(f"{FILE} is already in {folder.name or 'this folder'}; use --force to replace it.")
    found = look(folder)
    if not any(each.role == "shots" for each in found):
        raise JobError(
            f"No file in {folder.name or 'this folder'} reads as collected points; put a delimited text file "
            "(.csv or .txt) with point, easting, northing, elevation and code there."
        )
    _replace(path, draft(found, folder, frame=frame, name=name).encode("utf-8", errors="replace"))
    return path


def _replace(path: Path, text: bytes) -> None:
    """Write beside, and put in place when it is whole: a full disk must not cost the job file that was there."""
    beside = path.with_name(f".{path.name}.unfinished")
    try:
        beside.write_bytes(text)
        os.replace(beside, path)
    except OSError as error:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
        still = f" The {path.name} that was there is still whole." if path.exists() else ""
        raise OutputError(f"{path.name} cannot be written: {error.strerror or error}.{still}") from error


def look(folder: Path) -> list[Found]:
    """Find the files of a folder that some reader can read, and their likely role."""
    found = []
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder).parts
        if not path.is_file() or len(inside) > DEEPEST or any(part.startswith(".") or part == "out" for part in inside):
            continue
        if _writable(path.name) and (each := _role(path)) is not None:
            found.append(each)
    return found


def _writable(name: str) -> bool:
    """Whether a file's name is text at all; some old disks hold names that are not."""
    return name.isprintable()


def _role(path: Path) -> Found | None:
    suffix = path.suffix.lower().removeprefix(".")
    declared = plugins.declared("readers")
    for role in (*_ORDER, "design"):
        reader = f"{role}.{suffix}"
        if reader not in declared:
            continue
        try:
            peek = plugins.load("readers", reader)().peek(path)
        except GeoqaError:
            continue
        if _NEEDED.get(role, set()) <= set(peek.columns) or _named(role, path, peek):
            return Found(path, role, peek)
    return None


def _named(role: str, path: Path, peek: Peek) -> bool:
    """A list of marks looks like one of shots, so there the file's name decides; the draft says so."""
    return role == "control" and role in path.stem.lower() and set(peek.holds) >= {"mark", "easting", "northing"}


def draft(listing: list[Found], folder: Path, *, frame: str | None, name: str | None) -> str:
    """The text of the job file."""
    files = _read(listing, folder, frame)
    placement, again = _placed(files, frame), listed_again(files)
    title = name or folder.resolve().name.replace("_", " ").title()
    parts = [
        "# A geoqa job. Lines that start with # are comments; REQUIRED marks what only you can know.",
        f'[job]\nname = {quoted(title)}\nrevision = ""          # design revision and date, as the drawing says it',
        "# [review]            # recorded by the licensee in responsible charge; until then pages say PRELIMINARY\n"
        '# by = "…"\n# on = 2026-01-31',
        _frame(listing, frame, placement),
    ]
    taken: set[str] = set()
    readings = {reading.name: reading for reading in placement.files}
    shots_first = sorted(listing, key=lambda each: each.role != "shots")
    for each in shots_first:
        text, shown = _table(each, folder, readings.get(_shown(each, folder)), taken), _shown(each, folder)
        parts.append(_left_out(text, again[shown]) if shown in again else text)
    foot = "ftUS" if placement.frame is not None and placement.frame.unit.name == "ftUS" else "ft"
    parts += [_tolerances(listing, foot), _UNCERTAINTY.replace(' ft"', f' {foot}"'), _OUTPUTS]
    return "\n\n".join(parts) + "\n"


def _placed(files: list[FileAsRead], frame: str | None) -> Placement:
    """What the files are in, as the commands that read the job will say; a frame in which they cannot be says nothing.

    The check shots are asked of each file's own unit, also where the frame is given.
    """
    if frame is None:
        return place_files(files, None)
    try:
        return place_files(files, resolve(frame), ranked=True)
    except FrameError:
        return replace(place_files(files, None), candidates=())


def _read(listing: list[Found], folder: Path, frame: str | None) -> list[FileAsRead]:
    """Every file that says something of the frame, read whole; one that cannot be read says nothing.

    Where a person gives the frame, the control is in it.
    """
    files = []
    for file in listing:
        if file.role not in (*ROLES, "codes"):
            continue
        reader = plugins.load("readers", f"{file.role}.{file.path.suffix.lower().removeprefix('.')}")()
        with suppress(GeoqaError):
            source = reader.read(file.path, source=file.path.stem)
            declared = frame if file.role == "control" and source.crs is None else None
            name = _shown(file, folder)
            files.append(FileAsRead(role=file.role, name=name, source=source, key=file.path.stem, declared=declared))
    return files


def _shown(file: Found, folder: Path) -> str:
    return file.path.relative_to(folder).as_posix()


def _frame(listing: list[Found], frame: str | None, placement: Placement) -> str:
    """What is declared, where nothing is, what it may be, and what is in doubt: comments only, never a choice."""
    declared = sorted({f"{each.path.name} says {each.peek.crs[:80]}" for each in listing if each.peek.crs})
    lines = [*(_one_line(line) for line in declared), *(_printable(line) for line in frame_lines(placement))]
    evidence = "".join(f"# {line}\n" for line in lines)
    horizontal = (
        f"horizontal = {quoted(frame)}"
        if frame
        else 'horizontal = "REQUIRED"   # e.g. "EPSG:6547"; it says its own foot. An unlabelled foot is a question.'
    )
    return f'[frame]\n{evidence}{horizontal}\n# vertical = "EPSG:8228"   # e.g. NAVD88 height (ft)\n{_EPOCH}'


_EPOCH = """# realization = "NAD83(2011)"   # and epoch = 2010.0, as the correction service or the control sheet says"""


def _table(file: Found, folder: Path, reading: FileReading | None, taken: set[str]) -> str:
    shown = _shown(file, folder)
    several = file.role in ("shots", "design")
    lines = [f"[[{file.role}]]" if several else f"[{file.role}]"]
    lines.append(f"file = {quoted(shown)}")
    if several:
        lines += _own_id(file, folder, taken)
    lines += [f"# {_one_line(item)}" for item in file.peek.evidence]
    if reading is not None and reading.candidate:
        lines.append(f"# frame: {_one_line(reading.candidate)}")
        lines.append('# unit = "…"                # ft, ftUS or m, where it is not that of [frame]')
    if _named(file.role, file.path, file.peek) and "mark" not in file.peek.columns:
        lines.append("# taken as control because of its name; if these are shots, make it a [[shots]] table")
    if file.role == "shots":
        if asked := asks_what_precisions_mean(file.peek.columns):
            lines.append(f"# QUESTION: {asked}")
        lines.append('# confidence = "1 sigma"     # of the reported precisions: "1 sigma" or "95 %"')
    if not several and file.role in taken:
        lines = [f"# a second file that reads as {file.role}; a job takes one:", *(f"# {line}" for line in lines)]
    taken.add(file.role)
    return "\n".join(lines)


def _left_out(text: str, why: str) -> str:
    """A table that repeats another one: a comment, for one listing is enough."""
    return "\n".join(
        [f"# {_printable(why)}", *(line if line.startswith("#") else f"# {line}" for line in text.split("\n"))]
    )


def _own_id(file: Found, folder: Path, taken: set[str]) -> list[str]:
    """An id, where another file of the role has the same name in another folder."""
    short, count = file.path.stem, 1
    while f"{file.role} {short}" in taken:
        count += 1
        short = f"{file.path.stem}-{count}"
    taken.add(f"{file.role} {short}")
    if count == 1:
        return []
    safe = "".join(mark if mark.isalnum() or mark in "_.-" else "-" for mark in short)
    return [f"id = {quoted(safe)}   # another {file.role} file is called {_one_line(file.path.stem)} too"]


def _one_line(item: object) -> str:
    """Evidence on one line of a comment; what comments may not hold is left out."""
    words = _printable(str(item))
    return words if len(words) <= LONGEST else words[: LONGEST - 1] + "…"


def _printable(text: str) -> str:
    return " ".join("".join(mark if mark.isprintable() else " " for mark in text).split())


def _tolerances(listing: Iterable[Found], foot: str) -> str:
    kinds = _kinds(listing)
    lines = ["# Tolerances: one table a kind; each needs the place it is written in. Nothing is judged without one."]
    for kind, geometry in kinds.items() or [("curb-top", "line")]:
        head = kind if re.fullmatch(r"[A-Za-z0-9_-]+", kind) else quoted(_one_line(kind))
        lines += [f"# [tolerance.{head}]", f'# horizontal = "… {foot}"', f'# vertical   = "… {foot}"']
        if geometry == "line":
            lines.append(f'# spacing    = "… {foot}"   # longest reach without a shot')
        lines.append('# reference  = "drawing and note, or clause"')
    return "\n".join(lines)


def _kinds(listing: Iterable[Found]) -> dict[str, str]:
    """Every kind of the code list that a tolerance may be given for, with its geometry."""
    kinds: dict[str, str] = {}
    for each in listing:
        if each.role != "codes" or kinds:
            continue
        reader = plugins.load("readers", f"codes.{each.path.suffix.lower().removeprefix('.')}")()
        with suppress(GeoqaError):
            rows = reader.read(each.path, source="codes").layers["codes"]
            for kind, geometry, role in rows[["kind", "geometry", "role"]].itertuples(index=False):
                if role == "feature":
                    kinds.setdefault(str(kind), str(geometry))
                elif role == "check":
                    kinds.setdefault(CONTROL, "mark")
    return kinds


_UNCERTAINTY = """# What one shot of your crew is worth, 1 sigma, if you know it better than the receiver's own report.
# [uncertainty.default]
# horizontal_random = "0.02 ft"
# vertical_random   = "0.02 ft"
# vertical_common   = "0.02 ft"
# reference = "repeats of …" """

_OUTPUTS = """[outputs]
folder = "out"
layers = ["gpkg", "geojson", "csv", "summary"]
pages  = ["map"]"""
