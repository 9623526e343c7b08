"""Where the two ends of a stretch of a design line lie."""

import numpy as np
import pandas as pd

from geoqa.kernels.design.along_elements import point_at
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import alignments
from geoqa.steps.judging.text_columns import rows_of

Places = tuple[np.ndarray, np.ndarray]
"""Eastings and northings."""


def ends_on_design(layers: Layers, table: pd.DataFrame, line: str) -> tuple[Places, Places, np.ndarray]:
    """Ends of the stretches of a table, on their design lines.

    Parameters
    ----------
    layers : Layers
    table : DataFrame
        With `station` and `station_end`, counted along the design line.
    line : str
        Column that names the line.

    Returns
    -------
    start, end : pair of (n,) float64
        Easting and northing; NaN for a row that is no stretch of a design line.
    long : (n,) bool
        Which rows are one.
    """
    lines = alignments(layers)
    number = rows_of(table[line], pd.Series(lines.names, dtype="str"))
    first, last = (table[name].to_numpy(float) for name in ("station", "station_end"))
    long = (number >= 0) & np.isfinite(first) & np.isfinite(last) & (first != last)
    ends = []
    for station in (first, last):
        at = point_at(lines.elements, np.where(long, number, -1), np.where(long, station, np.nan))
        ends.append((at.easting, at.northing))
    return ends[0], ends[1], long
