"""Where what is declared of a file disagrees with where it lies: both readings told as numbers, nothing changed."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import FrameError
from geoqa.frames.files.places import around, control_known, enough, on_marks, positions, sample, survey_epoch
from geoqa.frames.files.reading import FileReading, FrameDoubt, codes_of
from geoqa.frames.files.scaled_marks import control_pairs, scaled_words
from geoqa.frames.readings.doubt import PAIR_U, TOO_BAD, Doubt, Known, Reading, doubt
from geoqa.frames.systems.zone_list import zone_of
from geoqa.model import words
from geoqa.model.columns import conform
from geoqa.model.frame import Frame
from geoqa.model.quantity import METRE, UNITS, LengthUnit

FIT = TOO_BAD * PAIR_U
"""Metres, median, from which check shots are not on their marks, whatever their scatter."""
FAR = 5_000.0
"""Metres between a file and all others beyond which they are not of one site. Common practice, no source."""


def frame_doubts(files: Sequence[FileReading], frame: Frame) -> tuple[FrameDoubt, ...]:
    """Look at every file of a job: whether its check shots lie on their marks, and it lies where the others lie.

    Parameters
    ----------
    files : sequence of FileReading
        With their tables in the job's frame, as declared.
    frame : Frame
        The job's.

    Returns
    -------
    tuple of FrameDoubt
        Empty where everything is in order, or where nothing can be told.
    """
    control, codes = _control(files), codes_of(files)
    lying = [each for each in files if len(each.places)]
    checked = {
        each.key: found
        for each in lying
        if each.role == "shots" and (found := _checked(each, control, codes, frame)) is not None
    }
    off = tuple(_off_their_marks(lying, checked, control, frame))
    doubted = {each.file for each in off}
    scaled = tuple(_scaled(lying, checked, control, frame, doubted))
    return (*off, *scaled, *_far_away(lying, frame, doubted))


def _control(files: Sequence[FileReading]) -> Any:
    """Every mark of the job, in its frame; None without."""
    import pandas as pd

    tables = [each.layers["control"] for each in files if "control" in each.layers]
    return conform("control", pd.concat(tables, ignore_index=True)) if tables else None


@dataclass(frozen=True, eq=False)
class _Checked:
    """Check shots of one file: their rows in it, in the job's frame, the mark of each, and how far off it they lie."""

    at: NDArray[np.int64]
    shots: Any
    rows: NDArray[np.int64]
    misfit: float


def _checked(reading: FileReading, control: Any, codes: Any, frame: Frame) -> _Checked | None:
    """None where fewer marks were shot than can tell."""
    mine = reading.layers["shots"]
    rows = on_marks(mine, control, codes)
    if not enough(rows):
        return None
    at = np.flatnonzero(rows >= 0)
    checks, rows = mine.iloc[at].reset_index(drop=True), rows[at]
    return _Checked(at, checks, rows, _off(checks, control, rows) * frame.unit.metres_float)


def _off_their_marks(
    files: Sequence[FileReading], checked: Mapping[str, _Checked], control: Any, frame: Frame
) -> Iterable[FrameDoubt]:
    good = sorted(key for key, found in checked.items() if found.misfit <= FIT)
    for each in files:
        if each.role != "shots" or each.file.ground or each.key not in checked or each.key in good:
            continue
        mine, table = checked[each.key], each.tables["shots"]
        known = control_known(control, mine.rows, frame)
        found = _ranked(positions({"shots": table.iloc[mine.at]}), [known], each.own or frame, survey_epoch([table]))
        if found is None or not (better := _differs(found, each, frame)):
            continue
        best = found.readings[0]
        marks = len(np.unique(mine.rows))
        yield FrameDoubt(
            file=each.name,
            declared=_declared(each, frame),
            better=_reading(best),
            declared_misfit=mine.misfit,
            better_misfit=best.misfit,
            words=f"Is the frame of {each.name} right? Declared as {_declared(each, frame)}, its check shots lie "
            f"{_length(mine.misfit, frame)} off {marks} marks (median). Read as {_reading(best)}, "
            f"{_length(best.misfit, frame)} (root mean square). {_vouched(good)} "
            f"What to do: ask how the file was made; if it is so, {_remedy(better, best, each)}. Nothing was changed.",
        )


def _scaled(
    files: Sequence[FileReading], checked: Mapping[str, _Checked], control: Any, frame: Frame, doubted: set[str]
) -> Iterable[FrameDoubt]:
    """Marks, or shots on them, at ground distances although nobody says so."""
    marks = next((each for each in files if each.role == "control"), None)
    asked = [each for each in files if each.role == "shots" and each.name not in doubted]
    if marks is None:
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
                declared=_declared(reading, frame),
                better="ground coordinates",
                declared_misfit=mine.misfit,
                better_misfit=np.nan,
                words=said,
            )


def _far_away(files: Sequence[FileReading], frame: Frame, doubted: set[str]) -> Iterable[FrameDoubt]:
    """Files that lie elsewhere; those already doubted of count neither as lost nor as the place of the others."""
    places = {each.name: _present(positions(each.layers)) for each in files}
    for each in sorted(files, key=lambda each: each.stated):  # those that say nothing of themselves first
        others = [places[other.name] for other in files if other.name not in {each.name, *doubted}]
        rest = around("other files", np.concatenate([np.empty((0, 3)), *others]), frame)
        mine = places[each.name]
        if rest is None or not len(mine) or each.name in doubted:
            continue
        away = _nearest(np.median(mine[:, :2], axis=0), rest) * frame.unit.metres_float
        if away <= FAR:
            continue
        doubted.add(each.name)
        found = _ranked(sample(each.places), [rest], each.own or frame, None)
        better = {} if found is None else _differs(found, each, frame)
        near = found is not None and bool(better)
        reading, said = "", "No reading of its numbers brings it there: ground or local coordinates, or another site."
        if near and found is not None:
            best = found.readings[0]
            reading = _reading(best)
            said = (
                f"Read as {reading}, its middle lies among them. What to do: ask how the file was made; if it is so, "
                f"{_remedy(better, best, each)}."
            )
        yield FrameDoubt(
            file=each.name,
            declared=_declared(each, frame),
            better=reading,
            declared_misfit=away,
            better_misfit=0.0 if near else np.nan,
            words=f"Is the frame of {each.name} right? Declared as {_declared(each, frame)}, it lies "
            f"{away / 1000:,.0f} km from the other files of the job. {said} Nothing was changed.",
        )


def _ranked(places: NDArray[np.float64], known: list[Known], declared: Frame, epoch: float | None) -> Doubt | None:
    try:
        return doubt(places[:, 0], places[:, 1], elevation=places[:, 2], known=known, declared=declared, epoch=epoch)
    except FrameError:
        return None


def _differs(found: Doubt, reading: FileReading, frame: Frame) -> dict[str, str]:
    """Settled questions whose answer is not the declared one."""
    zone = zone_of(reading.own or frame)
    said = {"unit": _unit(reading, frame).name, "order": "easting first"}
    said |= {} if zone is None else {"zone": zone.name, "datum": zone.datum}
    return {key: answer for key, answer in found.settled.items() if key in said and said[key] != answer}


def _remedy(better: Mapping[str, str], best: Reading, reading: FileReading) -> str:
    changes = []
    if "zone" in better or better.get("datum") == "NAD27":
        changes.append(f'set frame = "{best.code}" in {reading.table}')
    if "unit" in better:
        changes.append(f'set unit = "{best.unit}" in {reading.table}')
    if "order" in better:
        changes.append(f"exchange easting and northing with columns = … in {reading.table}")
    if best.datum == "NAD83, global":
        changes.append("get it in the job's frame: positions of a global frame at the day of survey were never moved")
    return " and ".join(changes)


def _declared(reading: FileReading, frame: Frame) -> str:
    return f"{(reading.own or frame).horizontal_name} in {_unit(reading, frame).full_name}"


def _unit(reading: FileReading, frame: Frame) -> LengthUnit:
    return frame.unit if reading.meaning is None else reading.meaning.unit


def _reading(best: Reading) -> str:
    order = "" if best.order == "easting first" else ", northing in the easting column"
    return f"{best.datum} / {best.zone} in {UNITS[best.unit].full_name}{order}"


def _vouched(good: list[str]) -> str:
    if good:
        return f"The check shots of {', '.join(good)} lie on the same marks, so the control is not the odd one."
    return "Which of the two is the odd one, this file or the control, the numbers cannot tell."


def _length(metres: float, frame: Frame) -> str:
    if metres >= FAR:
        return f"{metres / 1000:,.0f} km"
    return words.quantity(metres * float(METRE.metres / frame.unit.metres), "length", frame.unit.name)


def _off(shots: Any, control: Any, rows: NDArray[np.int64]) -> float:
    """Median distance of check shots from their marks, in the job's unit."""
    marks = control.iloc[rows]
    east, north = (shots[axis].to_numpy(float) - marks[axis].to_numpy(float) for axis in ("easting", "northing"))
    return float(np.median(np.hypot(east, north)))


def _present(places: NDArray[np.float64]) -> NDArray[np.float64]:
    return places[np.isfinite(places[:, :2]).all(axis=1)]


def _nearest(place: NDArray[np.float64], rest: Known) -> float:
    return float(np.min(np.hypot(rest.easting - place[0], rest.northing - place[1])))
