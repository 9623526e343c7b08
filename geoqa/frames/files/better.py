"""What a file would better be read as than as it is declared: the reading, and what to write into the job."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import FrameError
from geoqa.frames.files.reading import FileReading
from geoqa.frames.readings.doubt import Known, Reading, doubt
from geoqa.frames.systems.zone_list import zone_of
from geoqa.model.frame import Frame
from geoqa.model.quantity import UNITS, LengthUnit


@dataclass(frozen=True, kw_only=True)
class Better:
    """A reading whose settled answers are not the declared ones.

    Attributes
    ----------
    words, remedy : str
        What it is, and what would be written into the job if it is so.
    misfit : float
        Root mean square distance from the known points it was measured on, metres; NaN without any.
    """

    words: str
    remedy: str
    misfit: float


def better_reading(
    reading: FileReading,
    places: NDArray[np.float64],
    references: Sequence[Known],
    frame: Frame,
    *,
    epoch: float | None = None,
) -> Better | None:
    """Weigh what a file may be by what is known of its places; None where nothing speaks against the declared.

    Parameters
    ----------
    reading : FileReading
        The file, as declared.
    places : (n, 3) array
        Of its rows, in its own numbers.
    references : sequence of Known
    frame : Frame
        The job's.
    epoch : float, optional
        Decimal year of the survey.
    """
    declared = reading.own or frame
    zone = zone_of(declared)
    taken_for = {"unit": unit_of_file(reading, frame).name, "order": "easting first"}
    taken_for |= {} if zone is None else {"zone": zone.name, "datum": zone.datum}
    try:
        doubted = doubt(
            places[:, 0], places[:, 1], elevation=places[:, 2], references=references, declared=declared, epoch=epoch
        )
    except FrameError:
        return None
    better = {key: answer for key, answer in doubted.settled.items() if key in taken_for and taken_for[key] != answer}
    if not better:
        return None
    best = doubted.readings[0]
    order = "" if best.order == "easting first" else ", northing in the easting column"
    words = f"{best.datum} / {best.zone} in {UNITS[best.unit].full_name}{order}"
    return Better(words=words, remedy=_remedy(better, best, reading), misfit=best.misfit)


def _remedy(better: Mapping[str, str], best: Reading, reading: FileReading) -> str:
    changes = []
    if "zone" in better or better.get("datum") == "NAD27":
        changes.append(f'set frame = "{best.code}" in {reading.table}')
    if "unit" in better or (changes and not best.own_unit):
        changes.append(f'set unit = "{best.unit}" in {reading.table}')
    if "order" in better:
        changes.append(f"exchange easting and northing with columns = … in {reading.table}")
    if best.datum == "NAD83, global":
        changes.append("get it in the job's frame: positions of a global frame at the day of survey were never moved")
    return " and ".join(changes)


def declared_words(reading: FileReading, frame: Frame) -> str:
    """What a file is taken for in a job of this frame."""
    return f"{(reading.own or frame).horizontal_name} in {unit_of_file(reading, frame).full_name}"


def unit_of_file(reading: FileReading, frame: Frame) -> LengthUnit:
    """Unit its numbers are taken to be in."""
    return frame.unit if reading.meaning is None else reading.meaning.unit
