"""What a folder holds that its job file does not name yet."""

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geoqa.errors import JobError
from geoqa.frames.files.reading import FileAsRead
from geoqa.job.begin.comment import one_line
from geoqa.job.begin.design_kinds import kind_guess
from geoqa.job.begin.draft import ROLE_WORDS, tables
from geoqa.job.begin.listing import LeftOut
from geoqa.job.begin.reading import Folder
from geoqa.job.begin.where import placed
from geoqa.job.inputs.descriptions import CHECK_WORDS, with_descriptions
from geoqa.job.listed_again import listed_again
from geoqa.model.source import Source
from geoqa.model.words import many

HEAD = "# Added by init: what was new in the folder. Take the # away from what the job is to have."


@dataclass(frozen=True)
class Additions:
    """Lines for the end of a job file, all comments, the same told in short, and what neither reads nor names."""

    lines: tuple[str, ...]
    told: tuple[str, ...]
    left: tuple[LeftOut, ...] = ()


def additions(job: Path, read: Folder, folder: Path, *, frame: str | None) -> Additions:
    """Compare a job file with its folder: files it does not name, and codes its code list does not hold.

    Raises
    ------
    JobError
        The job file is no TOML.
    """
    try:
        text = job.read_text(encoding="utf-8-sig")
        table = tomllib.loads(text)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise JobError(
            f"{job.name} is already in {folder.name or 'this folder'} and cannot be read: {error}. Mend it, or use "
            "--force to replace it."
        ) from None
    named = {_plain(each) for each in _named(table)}
    told_before = text.splitlines()
    new = [each for each in read.listing.found if each.shown not in named and not _mentioned(each.shown, told_before)]
    told = [f"new: {one_line(each.shown)}: {ROLE_WORDS.get(each.role, each.role)}" for each in new]
    horizontal = frame or _frame_of(table)
    guesses = {
        each.shown: kind_guess(each, read.sources[each.shown])
        for each in new
        if each.role == "design" and each.shown in read.sources
    }
    lines: list[str] = []
    if new:
        files = read.files(horizontal)
        fresh = {each.shown for each in new}
        placement = placed(files, horizontal)
        again = listed_again(sorted(placement.files, key=lambda file: file.name in fresh), placement.frame)
        for part in tables(tuple(new), placement, guesses, {}, again):
            lines += _of_points(part, table)
            lines += ["#", *(line if line.startswith("#") else f"# {line}" for line in part.splitlines())]
    codes = _new_codes(table, read)
    unwritten = {
        code: count for code, count in codes.items() if not any(f"#   {code}: " in line for line in told_before)
    }
    if unwritten:
        told += [f"new: code {one_line(code)}: {many(count, 'shot')}" for code, count in unwritten.items()]
        lines += ["#", "# codes of shots that the code list does not hold; add a row for each there:"]
        lines += [f"#   {one_line(code)}: {many(count, 'shot')}" for code, count in unwritten.items()]
    left = tuple(out for out in read.listing.left if out.shown not in named)
    for out in left:
        if out.settles and not _mentioned(out.shown, told_before):
            told.append(f"left out: {one_line(out.shown)}: {one_line(out.why)}")
            lines += ["#", f"# {one_line(out.shown)}: left out: {one_line(out.why)}"]
    return Additions((HEAD, *lines) if lines else (), tuple(told), left)


def _of_points(part: str, table: Mapping[str, Any]) -> list[str]:
    """What to do with a table of a file where the job holds the points of that table itself."""
    role = part.partition("]")[0].removeprefix("[")
    held = table.get(role)
    if not isinstance(held, Mapping) or "points" not in held:
        return []
    return ["#", f"# The job has [{role}] with points of its own, and takes one: file = in place of points = there."]


def _named(table: Mapping[str, Any]) -> Iterator[str]:
    for value in table.values():
        for entry in value if isinstance(value, list) else [value]:
            if isinstance(entry, Mapping) and isinstance(entry.get("file"), str):
                yield entry["file"]


def _plain(file: str) -> str:
    return file.replace("\\", "/").removeprefix("./")


def _mentioned(shown: str, lines: list[str]) -> bool:
    """Whether the job file speaks of a file already, in a table or in a comment that an earlier draft wrote."""
    said = one_line(shown)
    return any(line.startswith((f"#   {said}: ", f"# {said}: ")) or f'file = "{said}"' in line for line in lines)


def _frame_of(table: Mapping[str, Any]) -> str | None:
    frame = table.get("frame")
    said = frame.get("horizontal") if isinstance(frame, Mapping) else None
    return said if isinstance(said, str) and said not in ("", "REQUIRED") else None


def _new_codes(table: Mapping[str, Any], read: Folder) -> dict[str, int]:
    """Codes of shots that the job's own code list does not hold, most frequent first; none where it has no list."""
    entry = table.get("codes")
    file = _plain(str(entry.get("file", ""))) if isinstance(entry, Mapping) else ""
    source = read.sources.get(file)
    if source is None or "codes" not in source.layers:
        return {}
    known = set(source.layers["codes"]["code"].astype("str").str.strip())
    counts: dict[str, int] = {}
    for one in _as_the_run_reads(table, read, source):
        for code in one.source.layers["shots"]["code"].dropna().astype("str").str.strip():
            if code and code not in known and code.upper() not in CHECK_WORDS:
                counts[code] = counts.get(code, 0) + 1
    return dict(sorted(counts.items(), key=lambda each: (-each[1], each[0])))


def _as_the_run_reads(table: Mapping[str, Any], read: Folder, codes: Source) -> list[FileAsRead]:
    """Files of shots that the job names, their descriptions taken apart as the job states."""
    files = [FileAsRead(role="codes", name="codes", source=codes)]
    control = table.get("control")
    marks = read.sources.get(_plain(str(control.get("file", "")))) if isinstance(control, Mapping) else None
    if marks is not None and "control" in marks.layers:
        files.append(FileAsRead(role="control", name="control", source=marks))
    patterns: dict[str, tuple[Sequence[str], Sequence[str]]] = {}
    shots = table.get("shots", [])
    for entry in shots if isinstance(shots, list) else [shots]:
        if not isinstance(entry, Mapping) or not isinstance(entry.get("file"), str):
            continue
        name = _plain(entry["file"])
        source = read.sources.get(name)
        if source is None or "code" not in source.layers.get("shots", ()):
            continue
        files.append(FileAsRead(role="shots", name=name, source=source, key=name))
        parts, words = entry.get("description"), entry.get("line_words", ())
        if parts and isinstance(parts, str):
            patterns[name] = (parts.split(), words if isinstance(words, list) else ())
    return [file for file in with_descriptions(files, patterns) if file.role == "shots"]
