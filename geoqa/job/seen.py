"""A file as it was read, in its own numbers: what says which frame it is in, and what it was measured on."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import FrameError
from geoqa.frames.declared import FileFrame, settle
from geoqa.frames.doubt import Known
from geoqa.frames.movement import movement
from geoqa.frames.resolve import resolve
from geoqa.model.columns import COORDINATES
from geoqa.model.frame import Frame
from geoqa.model.marks import marks_shot
from geoqa.model.quantity import LengthUnit
from geoqa.model.source import Source

Array = NDArray[np.float64]

FEWEST = 2
"""Different marks from which a shift of all of them is told from a wrong name of one."""

SAMPLED = 500
"""Places of a file that are looked at where only its neighbourhood matters."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Seen:
    """One file.

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
    ground : bool
        The job declares ground coordinates.
    """

    role: str
    name: str
    source: Source
    key: str = ""
    declared: str | None = None
    unit: LengthUnit | None = None
    ground: bool = False

    @property
    def system(self) -> str | None:
        """System that somebody says this file is in: the job for this file, or the file itself."""
        return self.declared or self.source.crs

    @property
    def table(self) -> str:
        """The job file's table it stands in."""
        return f"[[{self.role}]] of {self.key}" if self.role in ("shots", "design") else f"[{self.role}]"

    def meaning(self, frame: Frame) -> FileFrame:
        """What its numbers mean as declared, in a job of this frame."""
        return settle(self.source, frame=frame, what=self.name, declared=self.declared, unit=self.unit, accept=True)

    def labelled(self) -> Frame | None:
        """The frame it is in beyond doubt: the file or the job says so, and the unit is the system's own."""
        if self.system is None or self.ground:
            return None
        try:
            frame = resolve(self.system)
        except FrameError:
            return None
        return frame if (self.unit or self.source.unit or frame.unit) == frame.unit else None


def positions(tables: Mapping[str, Any]) -> Array:
    """Eastings, northings and elevations of every table that has them, one after the other.

    Returns
    -------
    (n, 3) array
    """
    parts = [np.empty((0, 3))]
    for name in ("shots", "control", "design_elements", "design_points"):
        table = tables.get(name)
        if table is not None:
            parts.append(table[list(COORDINATES[name][0])].to_numpy(float))
    return np.concatenate(parts)


def on_marks(shots: Any, control: Any, codes: Any = None) -> NDArray[np.int64]:
    """Row of `control` of each row of `shots`; -1 where it is no check shot, or one of the two has no position."""
    if control is None or not len(control) or not len(shots):
        return np.full(len(shots), -1, dtype=np.int64)
    found = marks_shot(shots, control, codes)
    there = shots[["easting", "northing"]].notna().all(axis=1).to_numpy()
    placed = control[["easting", "northing"]].notna().all(axis=1).to_numpy()
    return np.where((found >= 0) & there & placed[found], found, -1)


def enough(rows: NDArray[np.int64]) -> bool:
    """Whether different marks enough were shot."""
    return len(np.unique(rows[rows >= 0])) >= FEWEST


def control_known(control: Any, rows: NDArray[np.int64], frame: Frame) -> Known:
    """Marks as known points of check shots, taken alone and in order: of those rows that have one."""
    marks = control.iloc[rows[rows >= 0]]
    east, north = (marks[axis].to_numpy(float) for axis in ("easting", "northing"))
    return Known(what="control", frame=frame, easting=east, northing=north, row=np.arange(len(marks)))


def sample(places: Array) -> Array:
    """At most `SAMPLED` of the places, evenly taken: where a file lies does not take more."""
    step = -(-len(places) // SAMPLED)
    return places[:: max(step, 1)]


def around(what: str, places: Array, frame: Frame) -> Known | None:
    """Places as a known neighbourhood; None where there are none."""
    there = places[np.isfinite(places[:, :2]).all(axis=1)]
    return Known(what=what, frame=frame, easting=there[:, 0], northing=there[:, 1]) if len(there) else None


def moved(each: Seen, frame: Frame) -> Array | None:
    """Positions of a file in the job's frame, as declared; None where there is no way."""
    places = positions(each.source.layers)
    try:
        way = movement(
            each.meaning(frame),
            frame,
            what=each.name,
            easting=places[:, 0],
            northing=places[:, 1],
            ground=each.ground,
        )
        east, north = way.positions(places[:, 0], places[:, 1], what=each.name)
    except FrameError:
        return None
    return np.column_stack([east, north, way.elevations(places[:, 2])])


def survey_epoch(tables: Iterable[Any]) -> float | None:
    """Decimal year of the shots, from their times; None without."""
    import pandas as pd

    times = [table["time"].dropna() for table in tables]
    whole = pd.concat(times) if times else pd.Series(dtype="datetime64[us, UTC]")
    if not len(whole):
        return None
    middle = whole.sort_values().iloc[len(whole) // 2]
    return float(middle.year + (middle.day_of_year - 1) / 365.25)
