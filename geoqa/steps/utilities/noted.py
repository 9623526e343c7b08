"""Under which name a pipe that was shot along its top is noted: what the crew calls a line is not always that."""

from collections.abc import Hashable

import numpy as np
import pandas as pd

from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers
from geoqa.steps.linework.observed import observed
from geoqa.steps.utilities.ends import notes_of, pipe_ends
from geoqa.steps.utilities.pipes import network

ASIDE = Length.parse("3 ft")
"""Shots on top of a pipe lie no farther beside the straight line between its two structures."""


def noted_names(layers: Layers, tops: pd.DataFrame) -> dict[Hashable, str]:
    """Name in the notes of each pipe of `pipe_shots`, by its number; empty text where none is.

    It is the line ID, where that is noted; else the design line that all its shots lie on; else the one noted pipe of
    that kind between whose structures they lie.
    """
    noted = set(map(str, notes_of(layers)["pipe"].dropna()))
    made: dict[Hashable, str] = {}
    for number, mine in tops.groupby("number", sort=True):
        name, on = str(mine["pipe"].iloc[0]), mine["on"].dropna().unique()
        if name in noted:
            made[number] = name
        elif len(on) == 1 and str(on[0]) in noted and mine["on"].notna().all():
            made[number] = str(on[0])
        else:
            made[number] = _between_structures(layers, mine)
    return made


def _between_structures(layers: Layers, mine: pd.DataFrame) -> str:
    """The one noted pipe on whose straight line all shots lie."""
    shots, ends = observed(layers), pipe_ends(layers)
    places = shots[["easting", "northing"]].to_numpy(float)[mine["row"].to_numpy()]
    aside, found = ASIDE.to(layers.frame.unit), []
    for pipe in network(layers):
        if pipe.lower < 0 or pipe.kind != str(mine["kind"].iloc[0]):
            continue
        first, last = ends[["easting", "northing"]].to_numpy(float)[[pipe.upper, pipe.lower]]
        way = last - first
        length = float(np.hypot(*way))
        if not length > 0:
            continue
        along = (places - first) @ way / length
        across = (places - first) @ np.array([way[1], -way[0]]) / length
        if (np.abs(across) <= aside).all() and (along >= -aside).all() and (along <= length + aside).all():
            found.append(pipe.name)
    return found[0] if len(found) == 1 else ""
