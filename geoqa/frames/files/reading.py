"""One file of a job and what its numbers mean: who says what, where it lies, and what is in doubt."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import FrameError
from geoqa.frames.files.places import positions
from geoqa.frames.moving.convert import ACCURACY_LIMIT
from geoqa.frames.moving.declared import FileFrame
from geoqa.frames.systems.resolve import resolve
from geoqa.model.frame import Frame
from geoqa.model.quantity import LengthUnit
from geoqa.model.source import Evidence, Source

if TYPE_CHECKING:
    import pandas as pd

ROLES = ("shots", "control", "design")
"""Files that lie somewhere."""


@dataclass(frozen=True, kw_only=True, eq=False)
class FileAsRead:
    """One file as a reader gave it, with what the job declares for it.

    Attributes
    ----------
    role, name : str
        What it is for, and how messages call it.
    source : Source
        As read: coordinates in the file's own numbers.
    key : str
        Id of its rows.
    declared : str or None
        System the job declares for this file.
    unit : LengthUnit or None
        Unit the job declares for this file.
    vertical, heights, ground, epoch, accuracy_limit, accept, accept_operation, geoid
        The rest of the job's word; see `geoqa.frames.moving.convert.convert`.
    """

    role: str
    name: str
    source: Source
    key: str = ""
    declared: str | None = None
    unit: LengthUnit | None = None
    vertical: str | None = None
    heights: Literal["orthometric", "ellipsoid"] = "orthometric"
    ground: bool = False
    epoch: float | None = None
    accuracy_limit: float = ACCURACY_LIMIT
    accept: bool = False
    accept_operation: bool = False
    geoid: str | None = None


@dataclass(frozen=True, kw_only=True)
class FrameDoubt:
    """One file whose declared frame disagrees with the evidence.

    Attributes
    ----------
    file : str
    declared, better : str
        The two readings, in words; `better` is empty where nothing explains the evidence.
    declared_misfit, better_misfit : float
        Distance from what is known: median of check shots to their marks, or of the file to the other files; metres.
    words : str
        All of it in sentences.
    short : str
        What and what to do, in one line; empty where the sentences are not many.
    """

    file: str
    declared: str
    better: str
    declared_misfit: float
    better_misfit: float
    words: str
    short: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class FileReading:
    """What one file of a job is in: declared, detected, assumed, doubted.

    Attributes
    ----------
    role, name, key : str
        What it is for, how messages call it, and the id of its rows.
    file : FileAsRead
    declared : str or None
        System the job declares for this file.
    detected : tuple of Evidence
        What the reader found out by itself.
    own : Frame or None
        System that somebody says it is in, the job before the file itself; None where nobody does.
    labelled : bool
        It is in `own` beyond doubt: the coordinates are on the grid, and the unit is the system's.
    tables : mapping
        As read.
    places : (n, 3) float64
        Positions as read.
    meaning : FileFrame or None
        System and units its numbers are taken to be in; None where the job has no frame, or it lies nowhere.
    assumed : tuple of Evidence
        What was assumed, accepted, scaled and moved on the way into the job's frame.
    layers : mapping
        Its tables in the job's frame.
    candidate : str
        What its check shots say of its own unit, order and datum; empty unless it was asked.
    doubts : tuple of FrameDoubt
        Where what it is taken for disagrees with where it lies.
    """

    role: str
    name: str
    key: str
    file: FileAsRead
    declared: str | None
    detected: tuple[Evidence, ...]
    own: Frame | None
    labelled: bool
    tables: "Mapping[str, pd.DataFrame]"
    places: NDArray[np.float64]
    meaning: FileFrame | None = None
    assumed: tuple[Evidence, ...] = ()
    layers: "Mapping[str, pd.DataFrame]" = field(default_factory=dict)
    candidate: str = ""
    doubts: tuple[FrameDoubt, ...] = ()

    @property
    def stated(self) -> bool:
        """Somebody says which system it is in."""
        return (self.declared or self.file.source.crs) is not None

    @property
    def table(self) -> str:
        """The job file's table it stands in."""
        return f"[[{self.role}]] of {self.key}" if self.role in ("shots", "design") else f"[{self.role}]"


Labelled = tuple[FileReading, Frame]
"""A file, and the frame it is in."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Placement:
    """All files of a job, each read once.

    Attributes
    ----------
    frame : Frame or None
        The job's.
    files : tuple of FileReading
        In the order they were given.
    doubts : tuple of FrameDoubt
        Of all files, what is surest first.
    candidates : tuple of str
        Without a frame: what the first file that does not say may be in, ranked, and the recommendation.
    """

    frame: Frame | None
    files: tuple[FileReading, ...]
    doubts: tuple[FrameDoubt, ...] = ()
    candidates: tuple[str, ...] = ()


def as_stated(file: FileAsRead) -> FileReading:
    """Look up the system that a file or the job for it states; nothing is moved yet."""
    system = file.declared or file.source.crs
    own = None
    if system is not None:
        try:
            own = resolve(system)
        except FrameError:
            own = None
    return FileReading(
        role=file.role,
        name=file.name,
        key=file.key,
        file=file,
        declared=file.declared,
        detected=file.source.evidence,
        own=own,
        labelled=own is not None and not file.ground and (file.unit or file.source.unit or own.unit) == own.unit,
        tables=file.source.layers,
        places=positions(file.source.layers),
    )


def codes_of(files: Iterable[FileReading]) -> "pd.DataFrame | None":
    """The job's code list; None without one that says which codes are those of check shots."""
    lists = (each.tables["codes"] for each in files if "codes" in each.tables)
    return next((codes for codes in lists if {"code", "role"} <= set(codes)), None)


def evidence_lines(reading: FileReading) -> tuple[str, ...]:
    """What was detected and assumed of a file, a line each, as every command and the record print it."""
    return tuple(f"{reading.name}: {item}" for item in (*reading.detected, *reading.assumed))


def frame_lines(placement: Placement) -> tuple[str, ...]:
    """What a person must know of the files' frames, a line each, as every command prints it."""
    return (*placement.candidates, *(doubt.words for doubt in placement.doubts))
