"""A design file whose own word on its unit is not certain: the foot in which the shots lie on its lines."""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from geoqa.frames.files.better import declared_words
from geoqa.frames.files.places import positions, sample
from geoqa.frames.files.reading import FileReading, FrameDoubt
from geoqa.model import words
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT, LengthUnit

ASKED = (FOOT, US_SURVEY_FOOT, METRE)
TELLING = 3.0
"""How many times nearer the shots must lie in one unit than in another. Common practice, no source."""
ON_IT = 0.5
"""Metres, median, within which shots are of a design at all. Common practice, no source."""

Array = NDArray[np.float64]


def distances_by_unit(reading: FileReading, shots: Array, shots_in: LengthUnit) -> dict[LengthUnit, float]:
    """Median distance of shots from what a design file draws, for each unit its numbers may be in.

    Parameters
    ----------
    reading : FileReading
        As read: its numbers on the grid of the shots, in a unit that is asked.
    shots : (n, 2) float64
    shots_in : LengthUnit
        Their unit.

    Returns
    -------
    dict
        Metres; empty where either side has no places, or the file is in a system of its own.
    """
    return {unit: float(np.median(away)) for unit, away in away_by_unit(reading, shots, shots_in, ASKED).items()}


def away_by_unit(
    reading: FileReading, shots: Array, shots_in: LengthUnit, units: Iterable[LengthUnit]
) -> dict[LengthUnit, Array]:
    """Distance of each shot that has a place from what a design file draws, for each of these units; metres."""
    import shapely

    shapes = _drawn(reading)
    shots = shots[np.isfinite(shots).all(axis=1)]
    if reading.stated or reading.file.ground or not len(shapes) or not len(shots):
        return {}
    tree = shapely.STRtree(shapes)
    found = {}
    for unit in units:
        own = shots * float(shots_in.metres / unit.metres)
        _, away = tree.query_nearest(shapely.points(own), return_distance=True, all_matches=False)
        found[unit] = away * unit.metres_float
    return found


def told_unit(found: dict[LengthUnit, float]) -> LengthUnit | None:
    """The unit in which the shots lie on the design, and in no other; None where that cannot be told.

    Examples
    --------
    >>> told_unit({FOOT: 1.2, US_SURVEY_FOOT: 0.01, METRE: 5e5}).name, told_unit({FOOT: 0.02, US_SURVEY_FOOT: 0.03})
    ('ftUS', None)
    """
    if not found:
        return None
    best, *rest = sorted(found, key=lambda unit: found[unit])
    if found[best] > ON_IT or any(found[other] < TELLING * found[best] for other in rest):
        return None
    return best


def by_unit_words(found: dict[LengthUnit, float]) -> str:
    """The distances in words, nearest first; what lies far off is not told."""
    near = sorted((unit for unit in found if found[unit] < 1_000.0), key=lambda unit: found[unit])
    said = [f"{_length(found[unit], unit)} off if it is in {unit.full_name}" for unit in near]
    return f"the shots lie {', '.join(said)} (median)" if said else "the shots lie far off in every unit"


def unit_doubts(files: Sequence[FileReading], frame: Frame, doubted: set[str]) -> Iterable[FrameDoubt]:
    """Design files that are taken to be in another unit than the one in which the shots lie on them."""
    shots = [positions({"shots": each.layers["shots"]})[:, :2] for each in files if "shots" in each.layers]
    places = sample(np.concatenate([np.empty((0, 2)), *shots]))
    for reading in files:
        doubt = str(getattr(reading.file.source, "unit_doubt", ""))
        if reading.role != "design" or not doubt or reading.name in doubted or reading.meaning is None:
            continue
        found = distances_by_unit(reading, places, frame.unit)
        best, taken = told_unit(found), reading.meaning.unit
        if best is None or best == taken:
            continue
        doubted.add(reading.name)
        yield FrameDoubt(
            file=reading.name,
            declared=declared_words(reading, frame),
            better=best.full_name,
            declared_misfit=found.get(taken, np.nan),
            better_misfit=found[best],
            words=f"Is the unit of {reading.name} right? It is taken to be in {taken.full_name} ({doubt}); "
            f'{by_unit_words(found)}. What to do: if it is so, set unit = "{best.name}" in {reading.table}. '
            "Nothing was changed.",
        )


def _drawn(reading: FileReading) -> list[object]:
    """Straight pieces and points of a design, in its own numbers; an arc is its chord."""
    import shapely

    shapes: list[object] = []
    elements, points = (reading.tables.get(name) for name in ("design_elements", "design_points"))
    if elements is not None and len(elements):
        ends = elements[["start_easting", "start_northing", "end_easting", "end_northing"]].to_numpy(float)
        shapes += list(shapely.linestrings(ends[np.isfinite(ends).all(axis=1)].reshape(-1, 2, 2)))
    if points is not None and len(points):
        places = points[["easting", "northing"]].to_numpy(float)
        shapes += list(shapely.points(places[np.isfinite(places).all(axis=1)]))
    return shapes


def _length(metres: float, unit: LengthUnit) -> str:
    return words.quantity(metres / unit.metres_float, "length", unit.name)
