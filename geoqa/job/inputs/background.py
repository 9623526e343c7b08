"""The picture under the map: which file, and how much of it the job needs."""

from collections.abc import Iterator
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

import numpy as np

from geoqa.job.inputs.named_files import Input
from geoqa.model.background import Background, Box
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT
from geoqa.model.tables.layer import Layers

if TYPE_CHECKING:
    import pandas as pd


MARGIN = 0.1
"""Share of the job's longer side that is shown around it."""
LEAST_MARGIN = 60.0
"""Feet around the job, at least: the width of a street."""
MOST = (1.0, 99.0)
"""Percentiles of the shots that count where there is neither design nor control: one blunder sets no extent."""


def beside(file: Input) -> Iterator[Input]:
    """Files that are read together with it, such as a world file: they decide where it lies."""
    for path in file.table.reader.beside(file.path):
        shown = str(PurePosixPath(file.shown.replace("\\", "/")).with_name(Path(path).name))
        yield Input(file.role, Path(path).name, Path(path), shown, file.table)


def take_background(source: Input, layers: Layers) -> Background | None:
    """Read and warp the picture a job names; None where the job has no place.

    Raises
    ------
    SourceError, FrameError
        See `geoqa.model.background.BackgroundReader.picture`.
    """
    frame: Frame = layers.frame
    box = extent(layers)
    if box is None:
        return None
    table = source.table
    picture = table.reader.picture(
        source.path, frame=frame, box=box, declared=table.frame, accept=table.accept, what=source.shown
    )
    file = PurePosixPath(source.shown.replace("\\", "/")).name
    return Background(file=file, caption=table.caption, opacity=table.opacity, picture=picture)


def extent(layers: Layers) -> Box | None:
    """What the map first shows, with a margin: design and control, or most of the shots where there is neither.

    Returns
    -------
    (west, south, east, north) or None
        In the frame's unit; None where nothing has a place.
    """
    elements = layers["design_elements"]
    tables = [elements[[f"{end}_easting", f"{end}_northing"]].to_numpy(float) for end in ("start", "end")]
    tables += [_places(layers[name]) for name in ("design_points", "control")]
    places = _there(np.concatenate(tables))
    if len(places):
        low, high = places.min(axis=0), places.max(axis=0)
    else:
        places = _there(_places(layers["shots"]))
        if not len(places):
            return None
        low, high = np.percentile(places, MOST, axis=0)
    least = LEAST_MARGIN * FOOT.metres_float / layers.frame.unit.metres_float
    margin = max(least, MARGIN * float((high - low).max()))
    west, south, east, north = (float(each) for each in (*(low - margin), *(high + margin)))
    return west, south, east, north


def _places(table: "pd.DataFrame") -> np.ndarray:
    return np.asarray(table[["easting", "northing"]].to_numpy(float))


def _there(places: np.ndarray) -> np.ndarray:
    return places[np.isfinite(places).all(axis=1)]
