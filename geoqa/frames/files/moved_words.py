"""What is said of a design whose origin may have been moved."""

import numpy as np
from numpy.typing import NDArray

from geoqa.frames.files.reading import FileReading
from geoqa.frames.files.scaled_marks import Pairs, scaled_words
from geoqa.kernels.control.moved_marks import MovedMarks
from geoqa.kernels.design.moved_origin import MovedOrigin
from geoqa.model import words
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT, UNITS, US_SURVEY_FOOT
from geoqa.model.words import many

Array = NDArray[np.float64]

FEWEST_ON = 0.5
SETTLES = (
    "What would settle it: the drawing's note on its coordinates, or three control marks and more as points in the "
    "design, named as in the control"
)


def marks_words(
    reading: FileReading,
    frame: Frame,
    found: MovedMarks,
    names: tuple[str, ...],
    grid: Array,
    *,
    plan: Array,
    on: int,
    of: int,
    level: float,
) -> str:
    """Of a design that names control marks.

    Parameters
    ----------
    reading, frame, found, names, grid, plan
        The file, the job's frame, what the marks tell, their names, and where they are in control and design.
    on, of : int
        Shots near the design once it is shifted back, of those asked; -1 where it was not asked.
    level : float
        Elevation of the site.
    """
    asked = f"Was the origin of {reading.name} moved? "
    shown = words.listed([each for place, each in enumerate(names) if place != found.odd])
    scaled = scaled_words(
        Pairs(
            names=names,
            grid=np.column_stack([grid, np.full(len(grid), level)]),
            plan=plan,
            on_grid="in the control",
            on_plan=reading.name,
        ),
        frame,
        reading.table,
    )
    if scaled:
        return scaled
    if found.answer == "disagree":
        return (
            f"{asked}The control marks it names ({shown}) lie elsewhere in it, and by no one shift or turn: nothing is "
            f"proposed. {SETTLES}. Nothing was changed."
        )
    unit = frame.unit.name
    east, north = (words.length(each, unit, signed=True) for each in found.shift)
    left = f"within {words.length(found.worst, unit)}"
    if found.answer in ("turned", "scaled"):
        return f"{asked}{_turned_words(reading, frame, found, shown, grid, plan, on=on, of=of)}"
    said = (
        f"{asked}The control marks it names ({shown}) all lie easting {east}, northing {north} off the control, {left}."
    )
    if found.odd >= 0:
        said += f" {names[found.odd]} does not: is it another mark, or was it moved alone?"
    if on >= 0 and on < FEWEST_ON * of:
        return (
            f"{said} Shifted back by that, only {on} of {words.many(of, 'shot')} would lie near design of their kind: "
            f"marks and lines of the design contradict each other, and nothing is proposed. {SETTLES}, and whether its "
            "lines and its marks were drawn together. Nothing was changed."
        )
    if on >= 0:
        said += f" Shifted back by that, {on} of {words.many(of, 'shot')} lie near design of their kind."
    source = f"found on {words.many(len(names) - (found.odd >= 0), 'named mark')}; state the sheet and note here"
    return f"{said} {_lines(reading, frame, found.shift, grid.mean(axis=0), source)}"


def _turned_words(
    reading: FileReading, frame: Frame, found: MovedMarks, shown: str, grid: Array, plan: Array, *, on: int, of: int
) -> str:
    """Of a design that is turned, by the marks it names."""
    said = (
        f"The control marks it names ({shown}) fit, within {words.length(found.worst, frame.unit.name)}, where it is "
        f"turned by {found.turn:+.4f}° ± {found.turn_se:.4f}° (1 sigma, counter-clockwise) and shifted"
    )
    if found.answer == "scaled":
        return (
            f"{said}, and is {found.scale:.5f} times as large as the grid: ground coordinates, which no line of the "
            "job turns back too. Get the design in the job's frame, or turn it back where it was drawn. Nothing was "
            "changed."
        )
    if 0 <= on < FEWEST_ON * of:
        return (
            f"{said}. Turned back by that, only {on} of {words.many(of, 'shot')} would lie near design of their kind: "
            f"marks and lines of the design contradict each other, and nothing is proposed. {SETTLES}, and whether its "
            "lines and its marks were drawn together. Nothing was changed."
        )
    if on >= 0:
        said += f". Turned back by that, {on} of {words.many(of, 'shot')} lie near design of their kind"
    if reading.own is not None and reading.own.horizontal_wkt != frame.horizontal_wkt:
        return f"{said}. What to do: get the design in the job's own projection. Nothing was changed."
    own = reading.meaning.unit if reading.meaning is not None else reading.file.unit or reading.file.source.unit
    per_file = 1.0 if own is None else frame.unit.metres_float / own.metres_float
    point, at = ([round(float(each) * per_file, 4) for each in marks.mean(axis=0)] for marks in (plan, grid))
    source = f"found on {words.many(len(grid), 'named mark')}; state the sheet and note here"
    return (
        f"{said}. What to do: ask how it was made; if it is so, add to {reading.table} the line: local = {{ point = "
        f'{point}, at = {at}, turn_deg = {round(found.turn, 6)}, reference = "{source}" }}. Nothing was changed.'
    )


def found_words(reading: FileReading, frame: Frame, found: MovedOrigin, at: Array, *, rival: str, vouched: bool) -> str:
    """Of a design that shots lie on once it is shifted back.

    Parameters
    ----------
    reading, frame, found
        The file, the job's frame, what the shots tell.
    at : (n, 2) array
        Shots that were asked.
    rival : str
        Another reading that makes the same shift: ``foot``, ``ground FACTOR``, or empty.
    vouched : bool
        There is control to hold the shots against.
    """
    unit = frame.unit.name
    whole = found.answer == "round"
    east, north = (f"{each:+,.0f} {unit}" if whole else words.length(each, unit, signed=True) for each in found.shift)
    about = "whole thousands: shortened coordinates" if whole else f"± {words.length(found.u, unit)}, 1 sigma"
    others = "no other by whole thousands" if whole else "no other"
    said = (
        f"Was the origin of {reading.name} moved? Hardly a shot has design of its kind within reach; if the design is "
        f"taken to lie easting {east}, northing {north} off the survey ({about}) and shifted back by that, {found.on} "
        f"of {words.many(found.of, 'shot')} lie on design of their kind, and {others} shift does nearly as well."
    )
    if rival == "foot":
        other = US_SURVEY_FOOT if frame.unit == FOOT else FOOT
        return (
            f"{said} That is what the other foot would make of it too, so nothing is proposed. What would settle it: "
            f'the drawing\'s note on its unit; if it is the other foot, set unit = "{other.name}" in {reading.table}. '
            "Nothing was changed."
        )
    if rival:
        return (
            f"{said} That is what ground coordinates about 0, 0 (combined factor {rival.split()[1]}) and shortened "
            "would be too, so nothing is proposed. What would settle it: factor, origin and shift in the drawing's "
            "notes, or four control marks as points in the design, named as in the control. Nothing was changed."
        )
    if not whole:
        said += (
            " What the work as a whole is off by is in that number: the drawing's own shift, or named marks, are "
            "better."
        )
    if not vouched:
        said += " Without control on the shots it may be they that were moved."
    source = f"found on {many(found.of, 'shot')}; state the sheet and note here"
    return f"{said} {_lines(reading, frame, found.shift, at.mean(axis=0), source)}"


def ambiguous_words(reading: FileReading, answer: str) -> str:
    """Of a design that lies apart, where shots do not tell by what."""
    why = (
        "several shifts bring nearly as many shots onto it"
        if answer == "several"
        else "no shift alone brings the shots onto it; it may be turned, scaled or of another site"
    )
    return (
        f"Was the origin of {reading.name} moved? Hardly a shot has design of its kind within reach, and {why}: "
        f"nothing is proposed. {SETTLES}. Nothing was changed."
    )


def _lines(reading: FileReading, frame: Frame, shift: tuple[float, float], middle: Array, source: str) -> str:
    """What to write into the job, if it is so."""
    if frame.combined_factor is not None:
        return (
            "What to do: ask how it was made. [frame] states other ground coordinates already and can state only one: "
            "get the design with its origin put back. Nothing was changed."
        )
    if reading.own is not None and reading.own.horizontal_wkt != frame.horizontal_wkt:
        return "What to do: get the design in the job's own projection. Nothing was changed."
    digits = 4 if frame.unit == UNITS["m"] else 3
    east, north = (round(each, digits) + 0.0 for each in shift)
    at = [float(np.round(each)) for each in middle]
    return (
        "What to do: ask how it was made; if it is so, add to [frame] the four lines: combined_factor = 1.0; "
        f'ground_origin = {at}; ground_shift = [{east}, {north}]; ground_reference = "{source}"; and to '
        f"{reading.table} the line: ground = true. Nothing was changed."
    )
