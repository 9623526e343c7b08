"""Where what is declared of a file disagrees with where it lies: both readings told as numbers, nothing changed."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import FrameError
from geoqa.frames.doubt import PAIR_U, TOO_BAD, Doubt, Known, Reading, doubt
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
    off = tuple(_off_their_marks(files, layers, frame))
    told = {each.file for each in off}
    return (*off, *_scaled(files, layers, frame, told), *_far_away(files, layers, frame, set(told)))


def _off_their_marks(files: list[Seen], layers: Mapping[str, Any], frame: Frame) -> Iterable[FrameDoubt]:
    shots, control, codes = layers["shots"], layers["control"], layers["codes"]
    pairs, misfit = {}, {}
    for each in (each for each in files if each.role == "shots"):
        mine = shots[shots["source"] == each.key].reset_index(drop=True)
        rows = on_marks(mine, control, codes)
        if not enough(rows):
            continue
        pairs[each.key], misfit[each.key] = rows, _off(mine, control, rows) * frame.unit.metres_float
    good = sorted(key for key, off in misfit.items() if off <= FIT)
    for each in files:
        if misfit.get(each.key, 0.0) <= FIT or each.role != "shots" or each.ground:
            continue
        rows, table = pairs[each.key], each.source.layers["shots"]
        known = control_known(control, rows, frame)
        found = _ranked(positions({"shots": table[rows >= 0]}), [known], frame, survey_epoch([table]))
        if found is None or not (better := _differs(found, each, frame)):
            continue
        best = found.readings[0]
        marks = len(np.unique(rows[rows >= 0]))
        yield FrameDoubt(
            file=each.name,
            declared=_declared(each, frame),
            better=_reading(best),
            declared_misfit=misfit[each.key],
            better_misfit=best.misfit,
            words=f"Is the frame of {each.name} right? Declared as {_declared(each, frame)}, its check shots lie "
            f"{_length(misfit[each.key], frame)} off {marks} marks (median). Read as {_reading(best)}, "
            f"{_length(best.misfit, frame)} (root mean square). {_vouched(good)} "
            f"What to do: ask how the file was made; if it is so, {_remedy(better, best, each)}. Nothing was changed.",
        )


def _scaled(files: list[Seen], layers: Mapping[str, Any], frame: Frame, told: set[str]) -> Iterable[FrameDoubt]:
    """Marks, or shots on them, at ground distances although nobody says so."""
    shots, control = layers["shots"], layers["control"]
    marks = next((each for each in files if each.role == "control"), None)
    asked = [each for each in files if each.role == "shots" and each.name not in told]
    if marks is None:
        return
    for each in asked:
        mine = shots[shots["source"] == each.key].reset_index(drop=True)
        rows = on_marks(mine, control, layers["codes"])
        if not enough(rows):
            continue
        both = control_pairs(mine, control, rows, each.name, marks.name)
        for file, pairs in zip((marks, each), both, strict=True):
            said = "" if file.name in told or file.ground else scaled_words(pairs, frame, file.table)
            if not said:
                continue
            told.add(file.name)
            yield FrameDoubt(
                file=file.name,
                declared=_declared(file, frame),
                better="ground coordinates",
                declared_misfit=_off(mine, control, rows) * frame.unit.metres_float,
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
        found = _ranked(sample(positions(each.source.layers)), [rest], frame, None)
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


def _ranked(places: NDArray[np.float64], known: list[Known], frame: Frame, epoch: float | None) -> Doubt | None:
    try:
        return doubt(places[:, 0], places[:, 1], elevation=places[:, 2], known=known, declared=frame, epoch=epoch)
    except FrameError:
        return None


def _differs(found: Doubt, each: Seen, frame: Frame) -> dict[str, str]:
    """Settled questions whose answer is not the declared one."""
    meaning = each.meaning(frame)
    zone = zone_of(frame if meaning.system == frame.horizontal_wkt else each.labelled() or frame)
    said = {"unit": meaning.unit.name, "order": "easting first"}
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
    named = frame if each.system is None else each.labelled() or frame
    unit: LengthUnit = each.meaning(frame).unit
    return f"{named.horizontal_name} in {unit.full_name}"


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
    shot = np.flatnonzero(rows >= 0)
    marks = control.iloc[rows[shot]]
    east, north = (shots[axis].to_numpy(float)[shot] - marks[axis].to_numpy(float) for axis in ("easting", "northing"))
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
