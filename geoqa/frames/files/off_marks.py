"""Check shots that do not lie on their marks, where another reading of the whole file would bring them there."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoqa.frames.files.better import better_reading, declared_words
from geoqa.frames.files.places import control_known, enough, on_marks, positions, survey_epoch
from geoqa.frames.files.reading import FileReading, FrameDoubt
from geoqa.frames.readings.doubt import PAIR_U, TOO_BAD
from geoqa.model import words
from geoqa.model.frame import Frame
from geoqa.model.quantity import METRE

if TYPE_CHECKING:
    import pandas as pd


FIT = TOO_BAD * PAIR_U
"""Metres, median, from which check shots are not on their marks, whatever their scatter."""
IN_KILOMETRES = 5_000.0
"""Metres from which a distance is printed in kilometres."""


@dataclass(frozen=True, eq=False)
class CheckShots:
    """Check shots of one file: their rows in it, in the job's frame, the mark of each, and how far off it they lie."""

    at: NDArray[np.int64]
    shots: "pd.DataFrame"
    rows: NDArray[np.int64]
    misfit: float


def check_shots(
    reading: FileReading, control: "pd.DataFrame | None", codes: "pd.DataFrame | None", frame: Frame
) -> CheckShots | None:
    """None where fewer marks were shot than can tell."""
    mine = reading.layers["shots"]
    rows = on_marks(mine, control, codes)
    if control is None or not enough(rows):
        return None
    at = np.flatnonzero(rows >= 0)
    checks, rows = mine.iloc[at].reset_index(drop=True), rows[at]
    return CheckShots(at, checks, rows, _off(checks, control, rows) * frame.unit.metres_float)


def off_their_marks(
    files: Sequence[FileReading], checked: Mapping[str, CheckShots], control: "pd.DataFrame | None", frame: Frame
) -> Iterable[FrameDoubt]:
    """Files of shots of which another reading fits their marks."""
    if control is None:
        return
    good = sorted(key for key, found in checked.items() if found.misfit <= FIT)
    for reading in files:
        if reading.role != "shots" or reading.file.ground or reading.key not in checked or reading.key in good:
            continue
        checks, table = checked[reading.key], reading.tables["shots"]
        known = control_known(control, checks.rows, frame)
        places = positions({"shots": table.iloc[checks.at]})
        better = better_reading(reading, places, [known], frame, epoch=survey_epoch([table]))
        if better is None:
            continue
        marks = len(np.unique(checks.rows))
        declared = declared_words(reading, frame)
        yield FrameDoubt(
            file=reading.name,
            declared=declared,
            better=better.words,
            declared_misfit=checks.misfit,
            better_misfit=better.misfit,
            words=f"Is the frame of {reading.name} right? Declared as {declared}, its check shots lie "
            f"{_length(checks.misfit, frame)} off {words.many(marks, 'mark')} (median). Read as {better.words}, "
            f"{_length(better.misfit, frame)} (root mean square). {_vouched(good)} "
            f"What to do: ask how the file was made; if it is so, {better.remedy}. Nothing was changed.",
            short=f"Frame of {reading.name}? {_length(checks.misfit, frame)} off its marks as declared, "
            f"{_length(better.misfit, frame)} if it is otherwise: {better.remedy}.",
        )


def _vouched(good: list[str]) -> str:
    if good:
        return f"The check shots of {', '.join(good)} lie on the same marks, so the control is not the odd one."
    return "Which of the two is the odd one, this file or the control, the numbers cannot tell."


def _length(metres: float, frame: Frame) -> str:
    if metres >= IN_KILOMETRES:
        return f"{metres / 1000:,.0f} km"
    return words.quantity(metres * float(METRE.metres / frame.unit.metres), "length", frame.unit.name)


def _off(shots: "pd.DataFrame", control: "pd.DataFrame", rows: NDArray[np.int64]) -> float:
    """Median distance of check shots from their marks, in the job's unit."""
    marks = control.iloc[rows]
    east, north = (shots[axis].to_numpy(float) - marks[axis].to_numpy(float) for axis in ("easting", "northing"))
    return float(np.median(np.hypot(east, north)))
