"""How far along the baseline the shots of a finding reach, where it is made of several."""

import numpy as np
import pandas as pd

from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers
from geoqa.steps.baseline.centre_line import Along, CentreLine, along
from geoqa.steps.judging.text_columns import rows_of

SHORTEST = Length.parse("8 ft")
"""Shots that reach no farther along the line are of one place: those across a walk from each other, or of one ramp."""


SLIGHT = 0.3
"""Share of the largest weight below which a shot does not stretch the reach of its finding."""


def ends_of_members(line: CentreLine, layers: Layers, findings: pd.DataFrame) -> tuple[Along, Along, np.ndarray]:
    """First and last shot along the baseline of findings that several shots make.

    Parameters
    ----------
    line : CentreLine
    layers : Layers
        With `shots` and `evidence`.
    findings : DataFrame

    Returns
    -------
    first, last : Along
        Of every finding; the offset is that of the shots in the middle.
    long : (n,) bool array
        Which findings reach along the line.
    """
    evidence, shots = layers["evidence"], layers["shots"]
    of = evidence[(evidence["layer"] == "shots") & (evidence["role"] == "member")]
    # a shot that another one's section is only drawn on to is not what the finding is about
    most = of.groupby("finding")["weight"].transform("max")
    of = of[~(of["weight"] < SLIGHT * most)]
    row, shot = rows_of(of["finding"], findings["finding"]), rows_of(of["key"], shots["shot_key"])
    mine = np.flatnonzero((row >= 0) & (shot >= 0) & findings["shot"].isna().to_numpy(bool)[row])
    unique, number = np.unique(shot[mine], return_inverse=True)
    at = along(line, *(shots[axis].to_numpy(float)[unique] for axis in ("easting", "northing")), reach=np.inf)
    table = pd.DataFrame({"row": row[mine], "station": at.station[number], "offset": at.offset[number]})
    spans = (
        table.dropna().groupby("row").agg(first=("station", "min"), last=("station", "max"), off=("offset", "median"))
    )
    first, last, off = np.full((3, len(findings)), np.nan)
    first[spans.index], last[spans.index], off[spans.index] = spans["first"], spans["last"], spans["off"]
    long = last - first > SHORTEST.to(layers.frame.unit)
    why = np.full(len(findings), "", dtype=object)
    return Along(station=first, offset=off, why=why), Along(station=last, offset=off, why=why), long
