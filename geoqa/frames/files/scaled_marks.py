"""Whether marks lie on the ground while the shots on them lie on the grid, or the reverse: both distances told."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import FrameError
from geoqa.frames.files.better import declared_words
from geoqa.frames.files.off_marks import CheckShots
from geoqa.frames.files.places import enough, on_marks
from geoqa.frames.files.reading import FileReading, FrameDoubt, Labelled
from geoqa.frames.readings.scaled_plan import ScaledPlan, scaled_plan
from geoqa.frames.readings.signatures import SEPARATION
from geoqa.frames.systems.factors import distances
from geoqa.model import words
from geoqa.model.frame import Frame

if TYPE_CHECKING:
    import pandas as pd


Array = NDArray[np.float64]

FEWEST = 4
"""Marks from which a scale shows in more than one way."""
SURE = 5.0
"""Standard errors by which the scale must differ from 1, for it to be talked about."""
LEAST_U = 0.01
"""Metres, 1 sigma per axis: no mean of check shots is taken for better. Common practice, no source."""
TURNED = 0.05
"""Degrees from which a plan is turned, and not only scaled and shifted."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Pairs:
    """The same marks twice, one row each, in the frame's unit.

    Attributes
    ----------
    names : tuple of str
    grid : (n, 3) float64
        Where they are on the grid, with their elevation.
    plan : (n, 2) float64
        Where a file puts them, which is asked about.
    on_grid, on_plan : str
        What the two are, in words.
    """

    names: tuple[str, ...]
    grid: Array
    plan: Array
    on_grid: str
    on_plan: str


def mark_means(shots: Array, rows: NDArray[np.int64]) -> tuple[NDArray[np.int64], Array]:
    """Marks that were shot, and the mean position of the shots on each."""
    marks, group = np.unique(rows[rows >= 0], return_inverse=True)
    sums = np.zeros((len(marks), 3))
    np.add.at(sums, group, shots[rows >= 0])
    return marks, sums / np.bincount(group, minlength=len(marks))[:, None]


def scaled_words(pairs: Pairs, frame: Frame, table: str) -> str:
    """What to know where a file's marks are in ground coordinates; "" where they are not, or it cannot be told.

    Parameters
    ----------
    pairs : Pairs
    frame : Frame
    table : str
        The job file's table of the file that is asked about.
    """
    height = _height(pairs, frame)
    scaling = _found(pairs, frame, height)
    if scaling is None or scaling.answer != "ground" or abs(scaling.turn) > TURNED:
        return ""
    a, b = _farthest(pairs.grid)
    two = np.column_stack([pairs.grid[[a, b], :2], np.full(2, height)])
    apart = distances(frame, two[:1], two[1:])
    stated = float(np.hypot(*(pairs.plan[b] - pairs.plan[a])))
    unit = frame.unit.name

    def length(value: float) -> str:
        return words.length(float(value), unit)

    return (
        f"{pairs.on_plan} looks like ground coordinates: its marks lie {scaling.ppm:+.1f} ± {scaling.se_ppm:.1f} ppm "
        f"(1 sigma) farther apart than {pairs.on_grid}; on the ground it would be {scaling.expected_ppm:+.1f} ppm here "
        f"(combined factor {scaling.factor:.6f}), on the grid 0. {pairs.names[a]} to {pairs.names[b]}: "
        f"{length(apart.grid[0])} on the grid, {length(apart.ground[0])} on the ground, {length(stated)} as the file "
        f"has it. {_shift(scaling, unit)} What to do: take factor, origin and shift from the plan's notes and write "
        f"them into [frame] as combined_factor, ground_origin, ground_shift and ground_reference, with ground = true "
        f"in {table}. Nothing was changed."
    )


def _found(pairs: Pairs, frame: Frame, height: float) -> ScaledPlan | None:
    there = np.isfinite(pairs.grid[:, :2]).all(axis=1) & np.isfinite(pairs.plan).all(axis=1)
    if there.sum() < FEWEST:
        return None
    per_metre = 1.0 / frame.unit.metres_float
    spread = SEPARATION[1] * per_metre
    if not np.isfinite(height):
        return None
    try:
        # the scatter itself, and no better than a mean of check shots can be: both must show it
        both = [
            scaled_plan(frame, pairs.grid[:, :2], pairs.plan, ellipsoid_height=height, u=u, u_height=spread)
            for u in (None, LEAST_U * per_metre)
        ]
    except FrameError:
        return None
    sure = all(each.answer == "ground" and abs(each.ppm) > SURE * each.se_ppm for each in both)
    return max(both, key=lambda each: each.se_ppm) if sure else None


def _height(pairs: Pairs, frame: Frame) -> float:
    """Height above the ellipsoid of the marks' middle; the geoid lies where it does on average in the States."""
    level = pairs.grid[:, 2]
    level = level[np.isfinite(level)]
    return float(np.mean(level)) + SEPARATION[0] / frame.unit.metres_float if len(level) else np.nan


def _farthest(grid: Array) -> tuple[int, int]:
    apart = np.hypot(*(grid[:, None, :2] - grid[None, :, :2]).transpose(2, 0, 1))
    a, b = np.unravel_index(np.nanargmax(apart), apart.shape)
    return int(min(a, b)), int(max(a, b))


def _shift(scaling: ScaledPlan, unit: str) -> str:
    east, north = (words.length(each, unit, signed=True) for each in scaling.shift)
    said = f"Its middle lies easting {east}, northing {north} off the grid."
    if scaling.shortened is not None:
        one, two = (f"{each:+,.0f} {unit}" for each in scaling.shortened)
        said += f" Scaled about 0, 0 that would leave exactly easting {one}, northing {two}: shortened coordinates?"
    elif scaling.held is not None:
        place = "E {:,.0f} N {:,.0f}".format(*scaling.held)
        said += f" The place that is the same on both would be {place}, ± {scaling.held_se:,.0f} {unit} (1 sigma)."
    return said


def control_pairs(
    shots: "pd.DataFrame", control: "pd.DataFrame", rows: NDArray[np.int64], name: str, control_name: str
) -> tuple[Pairs, Pairs]:
    """Check shots and their marks, asked both ways: of the control first, of the shots second."""
    axes = ["easting", "northing", "elevation"]
    marks, means = mark_means(shots[axes].to_numpy(float), rows)
    listed = control.iloc[marks]
    names, known = tuple(listed["mark"].astype(str)), listed[axes].to_numpy(float)
    level = np.where(np.isfinite(means[:, 2]), means[:, 2], known[:, 2])
    return (
        Pairs(
            names=names,
            grid=np.column_stack([means[:, :2], level]),
            plan=known[:, :2],
            on_grid=f"the shots of {name} on them",
            on_plan=control_name,
        ),
        Pairs(
            names=names,
            grid=np.column_stack([known[:, :2], level]),
            plan=means[:, :2],
            on_grid=f"those of {control_name}",
            on_plan=name,
        ),
    )


def scaled_doubts(
    files: Sequence[FileReading],
    checked: Mapping[str, CheckShots],
    control: "pd.DataFrame | None",
    frame: Frame,
    doubted: set[str],
) -> Iterable[FrameDoubt]:
    """Marks, or shots on them, at ground distances although nobody says so."""
    marks = next((each for each in files if each.role == "control"), None)
    asked = [each for each in files if each.role == "shots" and each.name not in doubted]
    if marks is None or control is None:
        return
    for each in asked:
        if each.key not in checked:
            continue
        mine = checked[each.key]
        both = control_pairs(mine.shots, control, mine.rows, each.name, marks.name)
        for reading, pairs in zip((marks, each), both, strict=True):
            silent = reading.name in doubted or reading.file.ground
            said = "" if silent else scaled_words(pairs, frame, reading.table)
            if not said:
                continue
            doubted.add(reading.name)
            yield FrameDoubt(
                file=reading.name,
                declared=declared_words(reading, frame),
                better="ground coordinates",
                declared_misfit=mine.misfit,
                better_misfit=np.nan,
                words=said,
            )


def scaled_instead(
    reading: FileReading, labelled: Sequence[Labelled], frame: Frame, codes: "pd.DataFrame | None"
) -> str:
    """Whether a file that lies outside is in ground coordinates, shortened or not."""
    unit = reading.file.unit or reading.file.source.unit or frame.unit
    name = {"shots": "shots", "control": "control"}.get(reading.role)
    for other, own in labelled:
        if name is None or own is not frame or {reading.role, other.role} != {"shots", "control"}:
            continue
        table = reading.tables[name]
        axes = ["easting", "northing"]
        here = table.assign(**{axis: table[axis] * float(unit.metres / frame.unit.metres) for axis in axes})
        there = other.tables["control" if name == "shots" else "shots"]
        shots, control = (here, there) if name == "shots" else (there, here)
        rows = on_marks(shots, control, codes)
        if enough(rows):
            names = (reading.name, other.name) if name == "shots" else (other.name, reading.name)
            by_control, by_shots = control_pairs(shots, control, rows, *names)
            return scaled_words(by_control if name == "control" else by_shots, frame, reading.table)
    return ""
