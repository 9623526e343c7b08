"""Where what is declared of a file disagrees with where it lies: both readings told as numbers, nothing changed."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import FrameError
from geoqa.frames.doubt import PAIR_U, TOO_BAD, Doubt, Known, Reading, doubt
from geoqa.frames.resolve import resolve
from geoqa.frames.zone_list import zone_of
from geoqa.job.scaled_doubt import control_pairs, scaled_words
from geoqa.job.seen import Seen, around, control_known, enough, on_marks, positions, sample, survey_epoch
from geoqa.model import words
from geoqa.model.frame import Frame
from geoqa.model.quantity import METRE, UNITS, LengthUnit

FIT = TOO_BAD * PAIR_U
"""Metres, median, from which check shots are not on their marks, whatever their scatter."""
FAR = 5_000.0
"""Metres between a file and all others beyond which they are not of one site. Common practice, no source."""

NAMES = ["easting", "northing", "elevation", "line_id", "shot", "note", "code"]
"""Columns of shots that say where a check shot lies and on which mark it was taken."""


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
    """

    file: str
    declared: str
    better: str
    declared_misfit: float
    better_misfit: float
    words: str


def frame_doubts(seen: Iterable[Seen], layers: Mapping[str, Any], frame: Frame) -> tuple[FrameDoubt, ...]:
    """Look at every file of a job: whether its check shots lie on their marks, and it lies where the others lie.

    Parameters
    ----------
    seen : iterable of Seen
        The files as read.
    layers : mapping
        The same in the job's frame, as declared.
    frame : Frame

    Returns
    -------
    tuple of FrameDoubt
        Empty where everything is in order, or where nothing can be told.
    """
    files = [each for each in seen if len(positions(each.source.layers))]
    checked = {
        each.key: found
        for each in files
        if each.role == "shots" and (found := _checked(each, layers, frame)) is not None
    }
    off = tuple(_off_their_marks(files, checked, layers["control"], frame))
    told = {each.file for each in off}
    return (*off, *_scaled(files, checked, layers["control"], frame, told), *_far_away(files, layers, frame, told))


@dataclass(frozen=True, eq=False)
class _Checked:
    """Check shots of one file: their rows in it, in the job's frame, the mark of each, and how far off it they lie."""

    at: NDArray[np.int64]
    shots: Any
    rows: NDArray[np.int64]
    misfit: float


def _checked(each: Seen, layers: Mapping[str, Any], frame: Frame) -> _Checked | None:
    """None where fewer marks were shot than can tell."""
    shots, control = layers["shots"], layers["control"]
    mine = shots.loc[(shots["source"] == each.key).to_numpy(), NAMES]
    rows = on_marks(mine, control, layers["codes"])
    if not enough(rows):
        return None
    at = np.flatnonzero(rows >= 0)
    checks, rows = mine.iloc[at].reset_index(drop=True), rows[at]
    return _Checked(at, checks, rows, _off(checks, control, rows) * frame.unit.metres_float)


def _off_their_marks(
    files: list[Seen], checked: Mapping[str, _Checked], control: Any, frame: Frame
) -> Iterable[FrameDoubt]:
    good = sorted(key for key, found in checked.items() if found.misfit <= FIT)
    for each in files:
        if each.role != "shots" or each.ground or each.key not in checked or each.key in good:
            continue
        mine, table = checked[each.key], each.source.layers["shots"]
        known = control_known(control, mine.rows, frame)
        found = _ranked(positions({"shots": table.iloc[mine.at]}), [known], _own(each, frame), survey_epoch([table]))
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
    files: list[Seen], checked: Mapping[str, _Checked], control: Any, frame: Frame, told: set[str]
) -> Iterable[FrameDoubt]:
    """Marks, or shots on them, at ground distances although nobody says so."""
    marks = next((each for each in files if each.role == "control"), None)
    asked = [each for each in files if each.role == "shots" and each.name not in told]
    if marks is None:
        return
    for each in asked:
        if each.key not in checked:
            continue
        mine = checked[each.key]
        both = control_pairs(mine.shots, control, mine.rows, each.name, marks.name)
        for file, pairs in zip((marks, each), both, strict=True):
            said = "" if file.name in told or file.ground else scaled_words(pairs, frame, file.table)
            if not said:
                continue
            told.add(file.name)
            yield FrameDoubt(
                file=file.name,
                declared=_declared(file, frame),
                better="ground coordinates",
                declared_misfit=mine.misfit,
                better_misfit=np.nan,
                words=said,
            )


def _far_away(files: list[Seen], layers: Mapping[str, Any], frame: Frame, told: set[str]) -> Iterable[FrameDoubt]:
    """Files that lie elsewhere; those already told of count neither as lost nor as the place of the others."""
    places = {each.name: _places(each, layers) for each in files}
    for each in sorted(files, key=lambda each: each.system is not None):  # those that say nothing of themselves first
        others = [places[other.name] for other in files if other.name not in {each.name, *told}]
        rest = around("other files", np.concatenate([np.empty((0, 3)), *others]), frame)
        mine = places[each.name]
        if rest is None or not len(mine) or each.name in told:
            continue
        away = _nearest(np.median(mine[:, :2], axis=0), rest) * frame.unit.metres_float
        if away <= FAR:
            continue
        told.add(each.name)
        found = _ranked(sample(positions(each.source.layers)), [rest], _own(each, frame), None)
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


def _differs(found: Doubt, each: Seen, frame: Frame) -> dict[str, str]:
    """Settled questions whose answer is not the declared one."""
    zone = zone_of(_own(each, frame))
    said = {"unit": each.meaning(frame).unit.name, "order": "easting first"}
    said |= {} if zone is None else {"zone": zone.name, "datum": zone.datum}
    return {key: answer for key, answer in found.settled.items() if key in said and said[key] != answer}


def _remedy(better: Mapping[str, str], best: Reading, each: Seen) -> str:
    changes = []
    if "zone" in better or better.get("datum") == "NAD27":
        changes.append(f'set frame = "{best.code}" in {each.table}')
    if "unit" in better:
        changes.append(f'set unit = "{best.unit}" in {each.table}')
    if "order" in better:
        changes.append(f"exchange easting and northing with columns = … in {each.table}")
    if best.datum == "NAD83, global":
        changes.append("get it in the job's frame: positions of a global frame at the day of survey were never moved")
    return " and ".join(changes)


def _declared(each: Seen, frame: Frame) -> str:
    unit: LengthUnit = each.meaning(frame).unit
    return f"{_own(each, frame).horizontal_name} in {unit.full_name}"


def _own(each: Seen, frame: Frame) -> Frame:
    """The frame whose system a file is declared in: its own, or the job's."""
    try:
        return frame if each.system is None else resolve(each.system)
    except FrameError:
        return frame


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


def _places(each: Seen, layers: Mapping[str, Any]) -> NDArray[np.float64]:
    """Positions of one file in the job's frame."""
    import pandas as pd

    mine: dict[str, pd.DataFrame] = {}
    for name in each.source.layers:
        table = layers.get(name)
        if table is None or name not in ("shots", "control", "design_elements", "design_points"):
            continue
        if name == "design_elements":
            lines = layers["design_lines"]
            mine[name] = table[table["line"].isin(lines.loc[lines["source"] == each.key, "line"])]
        else:
            mine[name] = table[table["source"] == each.key] if "source" in table else table
    found = positions(mine)
    return found[np.isfinite(found[:, :2]).all(axis=1)]


def _nearest(place: NDArray[np.float64], rest: Known) -> float:
    return float(np.min(np.hypot(rest.easting - place[0], rest.northing - place[1])))
