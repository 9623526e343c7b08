"""One table of each kind out of all files of a job, in the job's frame."""

from collections.abc import Mapping
from importlib.resources import as_file, files
from types import MappingProxyType
from typing import TYPE_CHECKING

from geoqa import plugins
from geoqa.errors import SourceError
from geoqa.frames.files.reading import FileReading
from geoqa.job.document.file import Job
from geoqa.job.document.limits import level_rules_table, limits_table, precision_table, reading_rules_table, tilt_table
from geoqa.job.inputs.field_changes import gathered_tables
from geoqa.model.frame import Frame
from geoqa.model.quantity import Length, Slope
from geoqa.model.tables.columns import PLACED, conform, empty
from geoqa.model.tables.layer import placed, shaped
from geoqa.model.tables.register import in_words

if TYPE_CHECKING:
    import pandas as pd


def job_tables(job: Job, readings: tuple[FileReading, ...], frame: Frame) -> "dict[str, pd.DataFrame]":
    """One table of each kind, in the job's frame, with what the job file itself states."""
    import pandas as pd

    gathered = gathered_tables(job, readings)
    for role in ("screening", "check_policy"):
        if role not in gathered:
            gathered[role] = [preset(role)]
    for name in ("control", "codes", "levels", "readings", "design_lines", "design_elements", "design_points"):
        gathered.setdefault(name, [empty(name)])
    if len(gathered.get("baseline_profile", ())) > 1:
        raise SourceError("The baseline's file has a profile of its own; leave [profile] out, or give another file.")
    revisions = {
        each.source: f": {words}" for each in job.design if (words := in_words(each.sheet, each.revision, each.dated))
    }
    layers = {name: _joined(name, parts, frame, revisions) for name, parts in gathered.items()}
    if drawn := [{"source": each.source, "at": each.pipes_drawn_at} for each in job.design if each.pipes_drawn_at]:
        layers["drawn_at"] = conform("drawn_at", pd.DataFrame(drawn))
    if job.structures:
        layers["minimum_slopes"] = minimum_slopes()
    if job.right_of_way is not None:
        said = {"source": job.right_of_way.source, "reference": job.right_of_way.reference}
        layers["right_of_way"] = conform("right_of_way", pd.DataFrame([said]))
    layers["limits"] = limits_table(job, frame.unit)
    layers["precision"] = precision_table(job, frame.unit)
    layers["tilt_declared"] = tilt_table(job)
    layers["reading_rules"] = reading_rules_table(job)
    layers["level_rules"] = level_rules_table(job, frame.unit)
    return layers


def preset(role: str) -> "pd.DataFrame":
    """Rules of common practice, for a job that names none of its own: screening or check_policy."""
    reader = plugins.load("readers", f"{role}.csv")()
    with as_file(files("geoqa") / "presets" / f"{role}.csv") as path:
        return reader.read(path, source="preset").layers[role]


def minimum_slopes() -> "pd.DataFrame":
    """Least slopes of sewers by diameter, as the presets list them; they hold where a job asks for them."""
    import tomllib

    import pandas as pd

    text = (files("geoqa") / "presets" / "rules" / "sewer-minimum.toml").read_text(encoding="utf-8")
    said = tomllib.loads(text)
    rows = [
        {"diameter": float(Length.parse(size).metres), "slope": float(Slope.parse(fall))}
        | {name: said[name] for name in ("ruleset", "reference", "edition", "verified")}
        for size, fall in said["slopes"].items()
    ]
    return conform("minimum_slopes", pd.DataFrame(rows))


_UNIQUE = {"control": "mark", "codes": "code", "design_lines": "line", "design_points": "point"}


def _joined(
    name: str, parts: "list[pd.DataFrame]", frame: Frame, known: Mapping[str, str] = MappingProxyType({})
) -> "pd.DataFrame":
    """One table of the parts of several files, typed, sorted by nothing but its files, with its geometry.

    `known` says which revision each file is.
    """
    import pandas as pd

    whole = pd.concat(parts, ignore_index=True) if len(parts) > 1 else parts[0].reset_index(drop=True)
    key = _UNIQUE.get(name)
    if key is not None and whole[key].duplicated().any():
        twice = whole.loc[whole[key].duplicated(), key].iloc[0]
        owners = sorted(set(whole.loc[whole[key] == twice, "source"])) if "source" in whole else []
        named = ", ".join(each + known.get(each, "") for each in owners)
        said = f" (from {named})" if owners else ""
        mend = "each needs a name of its own"
        if name.startswith("design_") and len(owners) > 1:
            mend += "; if one file is the older revision of the other, take its [[design]] out of the job"
        raise SourceError(f"{key} '{twice}' stands twice in {name}{said}; {mend}.")
    geometry = whole.get("geometry") if name in PLACED else None  # in codes it is a word, not a shape
    rest = whole.drop(columns="geometry", errors="ignore") if name in PLACED else whole
    typed = conform(name, rest, made_by="" if name == "shots" else None)
    if PLACED.get(name) == "Point":
        return placed(name, typed, frame)
    if name in PLACED:
        return shaped(typed, list(geometry) if geometry is not None else [None] * len(typed), frame)
    return typed
