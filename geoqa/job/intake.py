"""From the files a job names to layers in one frame, and an account of what was read."""

import hashlib
import json
from dataclasses import dataclass, field
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from geoqa import plugins
from geoqa.errors import SourceError
from geoqa.frames.files.place import place_files
from geoqa.frames.files.reading import FileAsRead, FrameDoubt, Placement, evidence_lines
from geoqa.frames.moving.geoid import GeoidGrid, open_geoid
from geoqa.frames.systems.resolve import frame_evidence, resolve
from geoqa.job.background import background_inputs, beside, take_background
from geoqa.job.execute import Progress, silent
from geoqa.job.inputs import Input, as_read, inputs, read_one
from geoqa.job.limits import limits_table, precision_table, tilt_table
from geoqa.job.load import LoadedJob
from geoqa.model.background import Background
from geoqa.model.columns import PLACED, conform, empty
from geoqa.model.frame import Frame
from geoqa.model.layer import Layers, placed, shaped
from geoqa.model.source import Source

LISTED_TROUBLES = 20
"""Rows of one file whose trouble is spelled out; the count is always complete."""


@dataclass(frozen=True)
class Intake:
    """Layers ready for the steps, and what a person should know about how they came to be."""

    layers: Layers
    placement: Placement
    """Every file with what it is in."""
    evidence: tuple[str, ...] = ()
    troubles: tuple[str, ...] = field(default_factory=tuple)
    left_out: tuple[str, ...] = field(default_factory=tuple)
    """Rows that could not be read at all: they are in no table, so nothing else can tell of them."""
    background: Background | None = None

    @property
    def doubts(self) -> tuple[FrameDoubt, ...]:
        """Where what a file is declared in disagrees with where it lies."""
        return self.placement.doubts


def originals(loaded: LoadedJob) -> tuple[Path, ...]:
    """Every file a job reads, itself among them: none of them is ever written to."""
    geoid = loaded.job.frame.geoid
    grid = (loaded.resolve(geoid.file),) if geoid else ()
    every = (*inputs(loaded), *background_inputs(loaded))
    return (loaded.path, *(each.path for each in every), *grid)


def read_frame(loaded: LoadedJob) -> Frame:
    """Resolve the job's frame."""
    table = loaded.job.frame
    return resolve(
        table.horizontal,
        table.vertical,
        realization=table.realization,
        epoch=table.epoch,
        combined_factor=table.combined_factor,
        ground_origin=table.ground_origin,
        ground_shift=table.ground_shift,
        ground_reference=table.ground_reference,
        geoid_name=table.geoid.name if table.geoid else None,
    )


def take_in(loaded: LoadedJob, *, progress: Progress = silent) -> Intake:
    """Read every file of a job and bring it into the job's frame.

    Raises
    ------
    SourceError, FrameError
        A file is missing, is not what it should be, or does not fit the frame.
    """
    import pandas as pd

    frame = read_frame(loaded)
    geoid = _geoid(loaded)
    listed = list(inputs(loaded))
    read = []
    for done, each in enumerate(listed):
        progress(f"reading {each.shown}", done, len(listed))
        read.append(as_read(each, read_one(each)))
    placement = place_files(read, frame, geoid=geoid)
    layers = _layers(loaded, placement, frame)
    evidence = [f"frame: {item}" for item in frame_evidence(frame)]
    evidence += [line for reading in placement.files for line in evidence_lines(reading)]
    rows = [_source_row(each, file.source) for each, file in zip(listed, read, strict=True)]
    background = None
    for each in background_inputs(loaded):
        progress(f"reading {each.shown}", len(listed), len(listed))
        source = read_one(each)
        rows += [_source_row(file, source) for file in (each, *beside(each))]
        background = take_background(each, Layers(layers, frame=frame))
        found = background.picture.evidence if background is not None else ()
        evidence += [f"{each.shown}: {item}" for item in (*source.evidence, *found)]
    layers["sources"] = conform("sources", pd.DataFrame(rows))
    evidence += [f"{doubt.file}: {doubt.words}" for doubt in placement.doubts]
    return Intake(
        layers=Layers(layers, frame=frame),
        evidence=tuple(evidence),
        troubles=tuple(line for file in read for line in _trouble_lines(file)),
        left_out=tuple(f"{file.name}, {row}" for file in read for row in file.source.troubles if row.loses_row),
        placement=placement,
        background=background,
    )


def _layers(loaded: LoadedJob, placement: Placement, frame: Frame) -> dict[str, Any]:
    """One table of each kind, in the job's frame, with what the job file itself states."""
    gathered: dict[str, list[Any]] = {}
    for reading in placement.files:
        for name, table in reading.layers.items():
            gathered.setdefault(name, []).append(table)
    for role in ("screening", "check_policy"):
        if role not in gathered:
            gathered[role] = [preset(role)]
    layers = {name: _joined(name, parts, frame) for name, parts in gathered.items()}
    for name in ("control", "codes", "design_lines", "design_elements", "design_points"):
        if name not in layers:
            layers[name] = _joined(name, [empty(name)], frame)
    layers["limits"] = limits_table(loaded.job, frame.unit)
    layers["precision"] = precision_table(loaded.job, frame.unit)
    layers["tilt_declared"] = tilt_table(loaded.job)
    return layers


def _geoid(loaded: LoadedJob) -> GeoidGrid | None:
    table = loaded.job.frame.geoid
    if table is None:
        return None
    return open_geoid(loaded.resolve(table.file), table.name, check=table.check)


def _trouble_lines(file: FileAsRead) -> list[str]:
    lines = [f"{file.name}, {trouble}" for trouble in file.source.troubles[:LISTED_TROUBLES]]
    if (more := len(file.source.troubles) - LISTED_TROUBLES) > 0:
        lines.append(f"{file.name}: and {more} more rows with trouble")
    return lines


def _source_row(each: Input, source: Source) -> dict[str, Any]:
    reader = _reader_name(each)
    return {
        "source": each.source,
        "role": each.role,
        "path": each.shown.replace("\\", "/"),
        "sha256": sha256(each.path),
        "reader": reader,
        "version": plugins.owner("readers", reader) if reader in plugins.declared("readers") else "",
        "encoding": source.facts.get("encoding"),
        "delimiter": source.facts.get("delimiter"),
        "crs": each.table.frame or source.crs,
        "unit": getattr(each.table, "unit", None) or (source.unit.name if source.unit else None),
        "detected": json.dumps(dict(source.facts), sort_keys=True),
        "confidence": getattr(each.table, "confidence", None),
    }


def _reader_name(each: Input) -> str:
    """Name under which the reader is declared: that of the file's suffix where several names share one reader."""
    kind = type(each.table.reader).__name__
    named = [
        name
        for name, entry in plugins.declared("readers").items()
        if entry.value.endswith(f":{kind}") and name.startswith(f"{each.role}.")
    ]
    own = f"{each.role}.{each.path.suffix.lower().removeprefix('.')}"
    return own if own in named else next(iter(named), kind)


def sha256(path: Path) -> str:
    """Hash of a file's bytes."""
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while block := stream.read(1 << 20):
            digest.update(block)
    return digest.hexdigest()


def preset(role: str) -> Any:
    """Rules of common practice, for a job that names none of its own: screening or check_policy."""
    reader = plugins.load("readers", f"{role}.csv")()
    with as_file(files("geoqa") / "presets" / f"{role}.csv") as path:
        return reader.read(path, source="preset").layers[role]


_UNIQUE = {"control": "mark", "codes": "code", "design_lines": "line", "design_points": "point"}


def _joined(name: str, parts: list[Any], frame: Frame) -> Any:
    """One table of the parts of several files, typed, sorted by nothing but its files, with its geometry."""
    import pandas as pd

    whole = pd.concat(parts, ignore_index=True) if len(parts) > 1 else parts[0].reset_index(drop=True)
    key = _UNIQUE.get(name)
    if key is not None and whole[key].duplicated().any():
        twice = whole.loc[whole[key].duplicated(), key].iloc[0]
        owners = sorted(set(whole.loc[whole[key] == twice, "source"])) if "source" in whole else []
        raise SourceError(
            f"{key} '{twice}' stands twice in {name}" + (f" (from {', '.join(owners)})" if owners else "") + "; "
            "each needs a name of its own."
        )
    geometry = whole.get("geometry") if name in PLACED else None  # in codes it is a word, not a shape
    rest = whole.drop(columns="geometry", errors="ignore") if name in PLACED else whole
    typed = conform(name, rest, made_by="" if name == "shots" else None)
    if PLACED.get(name) == "Point":
        return placed(name, typed, frame)
    if name in PLACED:
        return shaped(typed, list(geometry) if geometry is not None else [None] * len(typed), frame)
    return typed
