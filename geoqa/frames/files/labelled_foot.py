"""Design files that say one foot and fit the shots in the other: told from a few shots, and nothing is changed."""

from collections.abc import Iterable, Sequence

import numpy as np

from geoqa.frames.files.better import declared_words
from geoqa.frames.files.drawn_unit import TELLING, Array, away_by_unit
from geoqa.frames.files.places import positions, sample
from geoqa.frames.files.reading import FileReading, FrameDoubt
from geoqa.model import words
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT, US_SURVEY_FOOT, LengthUnit

FEWEST = 3
"""Shots that must fit."""
HELD_FROM, HELD_LINES = 5, 2
"""Shots, and lines they lie on, from which a run lets the verdicts against such a file wait."""
ON_IT = 0.1
"""Metres within which a shot lies on the design. Common practice, no source."""
BESIDE = 2.0
"""Metres within which a shot is of the design at all; the feet differ by about as much. Common practice, no source."""
MOST, HALF = 0.9, 0.5
"""Shares of the shots that lie on it in one foot alone, and of those beside it, that must fit in the other foot."""


def foot_doubts(files: Sequence[FileReading], frame: Frame, doubted: set[str]) -> Iterable[FrameDoubt]:
    """Design files taken to be in one foot, on which the shots lie in the other foot only.

    Parameters
    ----------
    files : sequence of FileReading
        In the job's frame.
    frame : Frame
    doubted : set of str
        Names of files that are in doubt already: nothing is held against them, and theirs are added.
    """
    shots = [
        positions({"shots": each.layers["shots"]})[:, :2]
        for each in files
        if "shots" in each.layers and each.name not in doubted
    ]
    places = sample(np.concatenate([np.empty((0, 2)), *shots]))
    for reading in files:
        taken = None if reading.meaning is None else reading.meaning.unit
        if reading.role != "design" or reading.name in doubted or taken not in (FOOT, US_SURVEY_FOOT):
            continue
        other = FOOT if taken == US_SURVEY_FOOT else US_SURVEY_FOOT
        away = away_by_unit(reading, places, frame.unit, (taken, other))
        fits = _fitting(away[taken], away[other]) if away else np.empty(0, dtype=bool)
        if not fits.any():
            continue
        doubted.add(reading.name)
        yield FrameDoubt(
            file=reading.name,
            declared=declared_words(reading, frame),
            better=other.full_name,
            declared_misfit=float(np.median(away[taken][fits])),
            better_misfit=float(np.median(away[other][fits])),
            words=_words(reading, taken, other, away, fits),
            short=f"Is the unit of {reading.name} right? Shots lie on it in {other.name}, not in {taken.name}. "
            f'What to do: ask whose it is; unit = "{other.name}" in {reading.table} if it is the file\'s.',
        )


def _fitting(as_taken: Array, as_other: Array) -> "np.ndarray":
    """The shots that lie on the design in the other foot alone, where nearly all that tell of it do; else none."""
    fits = (as_other <= ON_IT) & (as_taken > TELLING * as_other) & (as_taken > ON_IT)
    against = (as_taken <= ON_IT) & (as_other > TELLING * as_taken) & (as_other > ON_IT)
    beside = (as_taken <= BESIDE) | (as_other <= BESIDE)
    count = int(fits.sum())
    enough = count >= FEWEST and count >= MOST * (count + int(against.sum())) and count >= HALF * int(beside.sum())
    return fits if enough else np.zeros(len(fits), dtype=bool)


def _words(
    reading: FileReading, taken: LengthUnit, other: LengthUnit, away: dict[LengthUnit, Array], fits: "np.ndarray"
) -> str:
    count = int(fits.sum())
    lies = {unit: words.length(float(np.median(away[unit][fits])) / unit.metres_float, unit.name) for unit in away}
    few = (
        f" {words.many(count, 'shot')} may agree by chance: a run lets the verdicts wait for it from {HELD_FROM} on "
        f"{HELD_LINES} lines on."
        if count < HELD_FROM
        else ""
    )
    return (
        f"Is the unit of {reading.name} right? It is taken to be in {taken.full_name}; {words.many(count, 'shot')} lie "
        f"{lies[other]} off it if it is in {other.full_name}, {lies[taken]} as it is taken (median).{few} What to do: "
        f'ask whose unit it is; if it is that of the file, set unit = "{other.name}" in {reading.table}, with '
        f"accept = true where the file says {taken.name}; if it is the shots, set theirs. Nothing was changed."
    )
