"""The text of a drafted job: a proposal stands with its evidence, REQUIRED marks what only a person knows."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from geoqa.frames.files.reading import FileReading, Placement
from geoqa.frames.systems.resolve import resolve
from geoqa.job.begin.baselines import baseline_of
from geoqa.job.begin.comment import one_line
from geoqa.job.begin.descriptions import described, numbered_points, taken_apart
from geoqa.job.begin.design_kinds import KindGuess, kind_guess
from geoqa.job.begin.drafted_codes import codes_of_shots
from geoqa.job.begin.drafted_limits import drafted_limits
from geoqa.job.begin.kinds_aside import kinds_aside
from geoqa.job.begin.listing import Found, Listing, named_as_control
from geoqa.job.begin.offered import offered
from geoqa.job.begin.own_origins import on_their_grid, origin_lines, own_origins
from geoqa.job.begin.reading import Folder
from geoqa.job.begin.seen_codes import FILE as CODES_FILE
from geoqa.job.begin.seen_codes import SeenCode
from geoqa.job.begin.times import TimeZone, time_zone
from geoqa.job.begin.where import OpenUnit, frame_table, open_units, placed, told_frame
from geoqa.job.document.format_version import CURRENT
from geoqa.job.document.quoted import quoted
from geoqa.job.inputs.descriptions import USUAL
from geoqa.job.listed_again import asks_what_precisions_mean, listed_again
from geoqa.model.check import CONTROL
from geoqa.model.source import Source
from geoqa.model.tables.read_facts import ANGLE_DOUBT
from geoqa.model.words import LIMITS_OF_WORK, many

if TYPE_CHECKING:
    import pandas as pd

ROLE_WORDS = {
    "shots": "collected points",
    "control": "control marks",
    "codes": "a code list",
    "screening": "rules for screening shots",
    "check_policy": "rules for check shots",
    "design": "design",
    "levels": "levelled elevations",
    "readings": "slopes or widths read beside the shots",
    "structures": "structures, pipes and measure-downs",
    "section": "a typical section of the baseline",
    "baseline": "an alignment: the baseline of stations",
    "profile": "a profile along the baseline",
}


@dataclass(frozen=True)
class Draft:
    """A job's text, the code list drafted beside it, and what both rest on."""

    text: str
    codes: tuple[SeenCode, ...]
    guesses: Mapping[str, KindGuess]
    kinds: Mapping[str, str]


def draft(folder: Folder, path: Path, *, frame: str | None, name: str | None) -> Draft:
    """Draft the job of a folder that was read."""
    found = folder.listing.found
    as_written = folder.files(frame)
    apart = described(as_written)
    files = taken_apart(as_written, apart)
    found = tuple(_with_description(file, apart) for file in found)
    placement = placed(files, frame)
    written = placed(as_written, frame) if apart else placement
    guesses = {
        file.shown: kind_guess(file, folder.sources[file.shown])
        for file in found
        if file.role == "design" and file.shown in folder.sources
    }
    origins = own_origins(files, guesses)
    guesses = on_their_grid(guesses, origins, files)
    has_codes = any(file.role == "codes" for file in found)
    units = open_units(files, placement, frame)
    codes = () if has_codes else codes_of_shots(files, guesses, placement, units)
    numbered = numbered_points(files, apart, (*codes, *_listed_codes(folder)))
    found = tuple(_with_why(file, numbered.get(file.shown, "")) for file in found)
    kinds = _kinds_of_list(folder) if has_codes else _kinds_of_guess(codes, folder, guesses)
    foot = "ftUS" if _is_us(placement, frame) else "ft"
    aside = {} if has_codes else kinds_aside(kinds, codes, _design_tables(folder, guesses))
    zone = time_zone(found, folder.sources)
    found = tuple(_asked_angles(_asked_pattern(file, zone), folder.sources) for file in found)
    title = name or path.resolve().name.replace("_", " ").title()
    parts = [
        "# A geoqa job. Lines that start with # are comments; REQUIRED marks what only you can know.",
        listed_files(folder.listing),
        f"[job]\nversion = {CURRENT}            # of this file's format\n"
        f'name = {quoted(title)}\nrevision = ""          # design revision and date, as the drawing says it'
        + zone.line(),
        "# [review]            # recorded by the licensee in responsible charge; until then pages say PRELIMINARY\n"
        '# by = "…"\n# on = 2026-01-31',
        frame_table(found, frame, placement),
    ]
    control = next((file.shown for file in found if file.role == "control"), "")
    more = {
        file.shown: [*offered(file, folder.sources, control=control), *origin_lines(origins.get(file.shown))]
        for file in found
        if file.role == "design"
    }
    parts += tables(found, placement, guesses, units, listed_again(written.files, written.frame), more)
    if not any(file.role == "baseline" for file in found):
        parts += baseline_of(found)
    if codes:
        parts.append(codes_table(codes))
    parts += [
        drafted_limits(kinds, foot, roles={file.role for file in found}, surface=_has_surface(found), aside=aside),
        _UNCERTAINTY.replace(' ft"', f' {foot}"'),
        _OUTPUTS,
    ]
    return Draft("\n\n".join(parts) + "\n", codes, guesses, kinds)


def _with_description(file: Found, apart: Mapping[str, str]) -> Found:
    if file.shown not in apart:
        return file
    return replace(file, options={**file.options, "description": (" ".join(USUAL), apart[file.shown])})


def _with_why(file: Found, why: str) -> Found:
    return replace(file, why="; ".join(filter(None, (file.why, why)))) if why else file


def _listed_codes(folder: Folder) -> Iterator[SeenCode]:
    """Codes of the folder's own list."""
    for source in folder.sources.values():
        if "codes" in source.layers:
            rows = source.layers["codes"][["code", "kind", "geometry", "role"]].itertuples(index=False)
            yield from (SeenCode(str(code), 0, str(kind), str(form), str(role)) for code, kind, form, role in rows)


def _has_surface(found: Iterable[Found]) -> bool:
    return any(file.role == "design" and file.peek.layers and "layer" not in file.peek.columns for file in found)


def _is_us(placement: Placement, frame: str | None) -> bool:
    if placement.frame is not None:
        return placement.frame.unit.name == "ftUS"
    told = told_frame(placement) if frame is None else (resolve(frame), "")
    if told is None:
        return {file.file.source.unit.name for file in placement.files if file.file.source.unit} == {"ftUS"}
    return told[0].unit.name == "ftUS"


def _design_tables(folder: Folder, guesses: Mapping[str, KindGuess]) -> "list[Mapping[str, pd.DataFrame]]":
    """Tables of each design file under the kinds that are drafted for it."""
    return [(guess.source or folder.sources[shown]).layers for shown, guess in guesses.items()]


def _asked_pattern(file: Found, zone: TimeZone) -> Found:
    """A file of shots whose times can be read in two ways, with the question which."""
    if file.shown not in zone.patterns:
        return file
    either = " or ".join(quoted(each) for each in zone.patterns[file.shown])
    return replace(file, asks={**file.asks, "time_format": f"{either}: which is first, month or day"})


def _asked_angles(file: Found, sources: Mapping[str, Source]) -> Found:
    """A file of shots whose angles are hardly degrees, with the question of their unit."""
    source = sources.get(file.shown)
    if source is None or file.role != "shots" or ANGLE_DOUBT not in source.facts:
        return file
    why = next((f"{each.column}: {each.text} {each.reason}" for each in source.troubles if each.asks), "")
    return replace(file, asks={**file.asks, "angle_unit": f'"{source.facts[ANGLE_DOUBT]}"? {why}'})


def listed_files(listing: Listing) -> str:
    """Every file of the folder: what it is taken for, and why not where it is left out."""
    lines = ["# The files of this folder:"]
    for file in listing.found:
        parts = listing.parts.get(file.shown)
        beside = f" (with {one_line(', '.join(parts))})" if parts else ""
        lines.append(f"#   {one_line(file.shown)}: {ROLE_WORDS.get(file.role, file.role)}{beside}")
    for out in listing.left:
        lines.append(f"#   {one_line(out.shown)}: left out: {one_line(out.why)}")
        if out.settles:
            lines.append(f"#     to take it in: {'   '.join(one_line(line) for line in out.settles)}")
    return "\n".join(lines)


def tables(
    found: Iterable[Found],
    placement: Placement,
    guesses: Mapping[str, KindGuess],
    units: Mapping[str, OpenUnit],
    again: Mapping[str, str],
    more: Mapping[str, list[str]] = MappingProxyType({}),
) -> list[str]:
    """One table a file, shots first.

    `units` are the lines of units that only a person can settle; `again` says which files repeat another: their tables
    are comments, for one listing is enough; `more` are lines of what else a file holds.
    """
    taken: set[str] = set()
    readings = {reading.name: reading for reading in placement.files}
    ordered = sorted(found, key=lambda file: file.role != "shots")
    written = [
        _table(
            file,
            readings.get(file.shown),
            guesses.get(file.shown),
            units.get(file.shown),
            taken,
            more.get(file.shown, ()),
        )
        for file in ordered
    ]
    return [
        "\n".join([f"# {one_line(again[file.shown])}", *_commented(text.split("\n"))]) if file.shown in again else text
        for file, text in zip(ordered, written, strict=True)
    ]


def _table(
    file: Found,
    reading: FileReading | None,
    guess: KindGuess | None,
    unit: OpenUnit | None,
    taken: set[str],
    more: Sequence[str] = (),
) -> str:
    several = file.role in ("shots", "design", "levels", "readings", "structures")
    lines = [f"[[{file.role}]]" if several else f"[{file.role}]", f"file = {quoted(file.shown)}"]
    if file.use:
        lines.append(f"use = {quoted(file.use)}   # its ending does not say how it is read")
    if several:
        lines += _own_id(file, taken)
    if unit is not None:
        lines.append(unit.line())
    for key, (value, because) in file.options.items():
        lines.append(f"{key} = {_written(value)}   # {one_line(because)}")
    for key, because in file.asks.items():
        lines.append(f'{key} = "REQUIRED"   # {one_line(because)}')
    evidence = file.peek.evidence if reading is None else reading.file.source.evidence or file.peek.evidence
    lines += [f"# {one_line(item)}" for item in evidence]
    if reading is not None and reading.candidate:
        lines.append(f"# frame: {one_line(reading.candidate)}")
        lines.append('# unit = "…"                # ft, ftUS or m, where it is not that of [frame]')
    if file.why:
        lines.append(f"# {one_line(file.why)}")
    elif named_as_control(file.role, file.shown, file.peek) and "mark" not in file.peek.columns:
        lines.append("# taken as control because of its name; if these are shots, make it a [[shots]] table")
    if file.role == "shots":
        lines += _session(reading)
        if asked := asks_what_precisions_mean({*file.peek.columns, *file.peek.holds}):
            lines.append(f"# QUESTION: {asked}")
        lines.append('# confidence = "1 sigma"     # of the reported precisions: "1 sigma" or "95 %"')
    if guess is not None:
        lines += _kinds_lines(guess)
    lines += more
    if file.trouble:
        lines = ["# This file cannot be read as it is:", f"#   {file.trouble}", *_commented(lines)]
    elif not several and file.role in taken:
        lines = [f"# a second file that reads as {file.role}; a job takes one:", *_commented(lines)]
    taken.add(file.role)
    return "\n".join(lines)


def _session(reading: FileReading | None) -> list[str]:
    """The session of a file that names none, with when it was shot: files of one session say the same."""
    shots = None if reading is None else reading.tables.get("shots")
    if shots is None or shots["session"].notna().any():
        return []
    times = shots["time"].dropna()
    when = f"shot {times.min():%Y-%m-%d %H:%M} to {times.max():%Y-%m-%d %H:%M} UTC; " if len(times) else ""
    said = "files that state the same one are one session"
    if shots["initialization"].notna().any():
        return [f'# session = "A"            # {when}{said}']
    return [f'# session = "A"            # {when}{said}; setup = "A1" likewise, for one base or instrument setup of it']


def _commented(lines: Iterable[str]) -> list[str]:
    return [f"# {line}" for line in lines]


def _kinds_lines(guess: KindGuess) -> list[str]:
    """What is drawn, with counts, and the tables of kinds as they would be written."""
    lines = [f"#   {line}" for line in guess.listed]
    if not guess.options:
        return [*(["# kinds as the file has them:"] if lines else []), *lines]
    lines.insert(
        0, '# What is drawn, and the kind each is taken for; "" leaves it out. Mend the line below where that is wrong:'
    )
    return [*lines, *(f"{key} = {_written(table)}" for key, table in guess.options.items())]


def _written(value: object) -> str:
    """A value as a job file writes it, on one line."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{quoted(str(key))} = {_written(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_written(each) for each in value) + "]"
    return quoted(value) if isinstance(value, str) else str(value).lower()


def _own_id(file: Found, taken: set[str]) -> list[str]:
    """An id, where another file of the role has the same name in another folder."""
    short, count = file.path.stem, 1
    while f"{file.role} {short}" in taken:
        count += 1
        short = f"{file.path.stem}-{count}"
    taken.add(f"{file.role} {short}")
    if count == 1:
        return []
    safe = "".join(mark if mark.isalnum() or mark in "_.-" else "-" for mark in short)
    return [f"id = {quoted(safe)}   # another {file.role} file is called {one_line(file.path.stem)} too"]


def codes_table(codes: tuple[SeenCode, ...]) -> str:
    """The question of the code list, with what was seen."""
    told = sum(bool(each.kind) for each in codes)
    seen = f"{many(len(codes), 'code')} of these shots, {told} with a kind told by where they lie"
    asked = f'file = "REQUIRED"   # "{CODES_FILE}"? Read and mend it first: {seen}.'
    lines = ["[codes]", f'file = "{CODES_FILE}"   # read and mend it: {seen}' if told else asked]
    for each in codes[:40]:
        kind = each.kind or (f"{each.proposed}?" if each.proposed else "")
        said = f"{kind}, " if kind else ""
        lines.append(f"#   {one_line(each.code)}: {many(each.shots, 'shot')}; {one_line(said + each.because)}")
    if len(codes) > 40:
        lines.append(f"#   and {len(codes) - 40} more in {CODES_FILE}")
    return "\n".join(lines)


def _kinds_of_list(folder: Folder) -> dict[str, str]:
    """Every kind of the code list that a tolerance may be given for, with its geometry."""
    kinds: dict[str, str] = {}
    source = next(
        (folder.sources[f.shown] for f in folder.listing.found if f.role == "codes" and f.shown in folder.sources), None
    )
    if source is None:
        return kinds
    for kind, geometry, role in source.layers["codes"][["kind", "geometry", "role"]].itertuples(index=False):
        if role == "feature":
            kinds.setdefault(str(kind), str(geometry))
        elif role == "check":
            kinds.setdefault(CONTROL, "mark")
    return kinds


def _kinds_of_guess(codes: Iterable[SeenCode], folder: Folder, guesses: Mapping[str, KindGuess]) -> dict[str, str]:
    """Every kind that codes were told for, then those of the design that no shot lies on."""
    kinds = {each.kind: each.geometry for each in codes if each.kind and each.role == "feature"}
    for shown, guess in guesses.items():
        source = guess.source or folder.sources[shown]
        renamed = {value: kind for table in guess.options.values() for value, kind in table.items()}
        for name, geometry in (("design_lines", "line"), ("design_points", "point")):
            table = source.layers.get(name)
            for raw in [] if table is None else table["kind"].dropna().unique():
                kind = str(raw) if guess.source is not None else renamed.get(str(raw), str(raw))
                if kind and kind != LIMITS_OF_WORK:
                    kinds.setdefault(kind, geometry)
    if any(each.role == "check" for each in codes):
        kinds[CONTROL] = "mark"
    return kinds


_UNCERTAINTY = """# What one shot of your crew is worth, 1 sigma, if you know it better than the receiver's own report.
# [uncertainty.default]
# horizontal_random = "0.02 ft"
# vertical_random   = "0.02 ft"
# vertical_common   = "0.02 ft"
# reference = "repeats of …" """

_OUTPUTS = """[outputs]
folder = "out"
layers = ["gpkg", "geojson", "csv", "summary", "sheets", "field", "dxf"]
pages  = ["map", "report"]"""
