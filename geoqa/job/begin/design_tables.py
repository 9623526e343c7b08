"""Which table of a folder holds design and not shots: told by its name, or by kinds written out in words."""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from geoqa import plugins
from geoqa.errors import GeoqaError
from geoqa.job.begin.comment import one_line
from geoqa.job.begin.listing import Found
from geoqa.model.kind_guess import guessed_kind
from geoqa.model.source import Source

if TYPE_CHECKING:
    import pandas as pd

MEASURED = (
    "time", "session", "initialization", "solution", "satellites", "epochs", "pdop", "hdop", "vdop", "correction_age",
    "reported_h", "reported_v", "rod_height", "tilt", "tilt_azimuth",
)  # fmt: skip
"""Columns that only what was measured has."""
_DESIGN = re.compile(r"(?<![a-z])(design|proposed)(?![a-z])", re.IGNORECASE)
_SURVEYED = re.compile(r"survey|topo|shot|as.?built|crew|rover|check|stak", re.IGNORECASE)
_COLUMNS = dict(shot="point", line_id="line", code="kind", sequence="sequence")  # noqa: C408 - no note of that kind
_OF_DESIGN = _COLUMNS | dict(note="")  # noqa: C408 - no note of the declared kind


def design_by_content(found: list[Found], sources: dict[str, Source]) -> list[Found]:
    """Files that read as shots, and are design: one of shots is left in any case.

    A table says so by its name, or, without names of shots, by lines whose kinds are written out in words of the trade.
    What only what was measured has, such as times, speaks against it.
    """
    made = []
    left = sum(file.role == "shots" for file in found)
    for file in found:
        design = _as_design(file, sources) if file.role == "shots" and left > 1 else None
        left -= design is not None
        made.append(file if design is None else design)
    return made


def _as_design(file: Found, sources: dict[str, Source]) -> Found | None:
    source = sources.get(file.shown)
    if source is None or file.path.suffix.lower() == ".xml" or set(MEASURED) & set(file.peek.holds):
        return None
    shots = source.layers["shots"]
    stem = Path(file.shown).stem.replace("_", " ")
    if _DESIGN.search(stem) and not _SURVEYED.search(stem):
        because = "its name"
    elif "line_id" in file.peek.holds and "shot" not in file.peek.holds and _in_words(shots):
        because = "its kinds in words, by lines, without a name of a shot"
    else:
        return None
    why = f"taken as design because of {because}; if these are shots, make it a [[shots]] table"
    own = f"design.{file.path.suffix.lower().removeprefix('.')}" in plugins.declared("readers")
    for options in _readings(file):
        design = replace(file, role="design", use="" if own else "design.csv", options=options, why=why)
        try:
            read = design.reader().read(file.path, source=file.path.stem)
            design = replace(design, peek=design.reader().peek(file.path))
        except GeoqaError:
            continue
        sources[file.shown] = read
        return design
    return None


def _in_words(shots: "pd.DataFrame") -> bool:
    """Every code is a kind written out, in more than one word."""
    codes = [str(each) for each in shots["code"].dropna().unique()]
    known = [" " in code.strip() and guessed_kind(code)[1].startswith(("its words", "says ")) for code in codes]
    return bool(known) and bool(shots["code"].notna().all()) and all(known)


def _readings(file: Found) -> Iterator[dict[str, tuple[object, str]]]:
    """Options with which the table may read as design: as it is, or with the column of codes as that of kinds."""
    options = dict(file.options)
    options.pop("description", None)
    if "columns" in options:
        order, because = options["columns"]
        yield options | {"columns": (tuple(_OF_DESIGN.get(each, each) for each in order), because)}  # type: ignore[attr-defined]
        return
    heads = {ours: file.peek.columns[at] for ours, at in zip(file.peek.holds, file.peek.places, strict=True)}
    because = "columns of design, by the words of the header"
    if "code" in heads:
        because = f"{one_line(heads['code'])} says what each line and point is"
        yield options | {"columns": ({"kind": heads["code"]}, because)}
    whole = {ours: heads[theirs] for theirs, ours in _COLUMNS.items() if theirs in heads}
    yield options | {"columns": (whole, because)}
    yield options
