"""Shots of inverts that were reduced with a questioned measure-down: their elevations wait as it does."""

import numpy as np
import pandas as pd

from geoqa.model.quantity import Length
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.steps.linework.observed import observed
from geoqa.steps.utilities.ends import pipe_ends

BESIDE = Length.parse("5 ft")
"""A reduced shot lies no farther from the rim in plan."""
ALIKE = Length.parse("0.011 ft")
"""Rim less measure-down and the elevation of the reduced shot differ by no more than both were rounded."""


def reduced_shots(layers: Layers, asked: pd.DataFrame) -> pd.DataFrame:
    """Rows of `reduced_shots`: shots that are the rim less a questioned measure-down, under another name.

    Parameters
    ----------
    layers : Layers
    asked : DataFrame
        Of `questions`.

    Returns
    -------
    DataFrame
        One row a shot: what its elevation changes by once the slip is taken off, and what the slip is, in words.
    """
    found = _reduced(layers, asked)
    of = asked.iloc[found["end"]]
    made = {"shot_key": found["shot"].to_numpy(), "slip": of["slip"].to_numpy(), "title": of["title"].to_numpy()}
    return conform("reduced_shots", pd.DataFrame(made).drop_duplicates("shot_key"))


def _reduced(layers: Layers, asked: pd.DataFrame) -> pd.DataFrame:
    """Key of each reduced shot, and the row of `pipe_ends` that it is."""
    ends, shots, unit = pipe_ends(layers), observed(layers), layers.frame.unit
    place = shots[["easting", "northing", "elevation"]].to_numpy(float)
    found = []
    for at in np.flatnonzero((asked["question"] != "").to_numpy()).tolist():
        off = place - ends.loc[at, ["easting", "northing", "invert"]].to_numpy(float)
        near = np.hypot(off[:, 0], off[:, 1]) <= BESIDE.to(unit)
        alike = np.abs(off[:, 2]) <= ALIKE.to(unit)
        found += [(shots["shot"].iloc[one], at) for one in np.flatnonzero(near & alike).tolist()]
    return pd.DataFrame(found, columns=["shot", "end"]).astype({"shot": "str", "end": "int64"})
