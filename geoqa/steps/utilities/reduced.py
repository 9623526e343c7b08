"""Shots of inverts that were reduced with a questioned measure-down: their elevations wait as it does."""

import numpy as np
import pandas as pd

from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.linework.observed import observed
from geoqa.steps.utilities.ends import notes_of, pipe_ends
from geoqa.steps.utilities.questions import held, questions

BESIDE = Length.parse("5 ft")
"""A reduced shot lies no farther from the rim in plan."""
ALIKE = Length.parse("0.011 ft")
"""Rim less measure-down and the elevation of the reduced shot differ by no more than both were rounded."""


def waiting(layers: Layers, rows: pd.DataFrame) -> pd.DataFrame:
    """Let elevations wait that are the rim less a questioned measure-down, under another name.

    Parameters
    ----------
    layers : Layers
    rows : DataFrame
        Elevations of shots against their design points, before they are judged; needs `shot`, `measured`,
        `deviation`, `why`.

    Returns
    -------
    DataFrame
        The same rows; those that wait have both numbers in words.
    """
    if not len(rows) or not len(notes_of(layers)):
        return rows
    asked = questions(layers)
    end = rows_of(rows["shot"], _reduced(layers, asked)["shot"])
    if not (end >= 0).any():
        return rows
    of = _reduced(layers, asked)["end"].to_numpy()[np.where(end >= 0, end, 0)]
    given = {"without": np.nan, "u_without": 0.0, "cause": None, "cause_both": None}
    blank = {
        name: pd.Series([value] * len(rows), index=rows.index, dtype="str" if value is None else "float64")
        for name, value in given.items()
    }
    rows = rows.assign(**{name: values for name, values in blank.items() if name not in rows})
    effect = np.where(end >= 0, asked["slip"].to_numpy(float)[of], 0.0)
    unit = layers.frame.unit.name
    ends = [[int(one)] if there else [] for one, there in zip(of, end >= 0, strict=True)]
    before = rows["remedy"] if "remedy" in rows else blank["cause"]
    made = held(rows, ends, effect, asked, show=lambda value: words.quantity(value, "length", unit, digits=2))
    return made.assign(remedy=made["remedy"].where(made["remedy"].notna(), before)) if "remedy" in made else made


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
