"""Files that lie far from all others of the job."""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from geoqa.frames.files.better import better_reading, declared_words
from geoqa.frames.files.places import around, positions, sample
from geoqa.frames.files.reading import FileReading, FrameDoubt
from geoqa.frames.readings.doubt import Known
from geoqa.model.frame import Frame

FAR = 5_000.0
"""Metres between a file and all others beyond which they are not of one site. Common practice, no source."""


def far_away(files: Sequence[FileReading], frame: Frame, doubted: set[str]) -> Iterable[FrameDoubt]:
    """Files that lie elsewhere; those already doubted of count neither as lost nor as the place of the others."""
    places = {reading.name: _present(positions(reading.layers)) for reading in files}
    for reading in sorted(files, key=lambda reading: reading.stated):  # those that say nothing of themselves first
        others = [places[other.name] for other in files if other.name not in {reading.name, *doubted}]
        rest = around("other files", np.concatenate([np.empty((0, 3)), *others]), frame)
        mine = places[reading.name]
        if rest is None or not len(mine) or reading.name in doubted:
            continue
        away = _nearest(np.median(mine[:, :2], axis=0), rest) * frame.unit.metres_float
        if away <= FAR:
            continue
        doubted.add(reading.name)
        better = better_reading(reading, sample(reading.places), [rest], frame)
        said = "No reading of its numbers brings it there: ground or local coordinates, or another site."
        if better is not None:
            said = (
                f"Read as {better.words}, its middle lies among them. What to do: ask how the file was made; "
                f"if it is so, {better.remedy}."
            )
        declared = declared_words(reading, frame)
        yield FrameDoubt(
            file=reading.name,
            declared=declared,
            better="" if better is None else better.words,
            declared_misfit=away,
            better_misfit=np.nan if better is None else 0.0,
            words=f"Is the frame of {reading.name} right? Declared as {declared}, it lies "
            f"{away / 1000:,.0f} km from the other files of the job. {said} Nothing was changed.",
        )


def _present(places: NDArray[np.float64]) -> NDArray[np.float64]:
    return places[np.isfinite(places[:, :2]).all(axis=1)]


def _nearest(place: NDArray[np.float64], rest: Known) -> float:
    return float(np.min(np.hypot(rest.easting - place[0], rest.northing - place[1])))
