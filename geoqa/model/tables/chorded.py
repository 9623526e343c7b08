"""Where along design lines a curve is drawn in chords, and nobody says that the chords are the design."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from geoqa.kernels.arrays import Booleans


def beside_chords(layers: Mapping[str, Any], line: Any, station: Any) -> Booleans:
    """Places along lines that lie on such a curve.

    Parameters
    ----------
    layers : mapping of str to table
        With `chorded_curves`, if that step ran.
    line, station : (n,) Series or array
        Name of the design line, and where along it.

    Returns
    -------
    (n,) bool array

    Examples
    --------
    >>> import pandas as pd
    >>> ends = {"start_station": 10.0, "end_station": 20.0, "design_is": ["", "chords"]}
    >>> curves = pd.DataFrame({"line": ["A", "B"]} | ends)
    >>> beside_chords({"chorded_curves": curves}, ["A", "A", "B"], [10.0, 20.5, 15.0]).tolist()
    [True, False, False]
    """
    names, at = np.asarray(line, dtype=object), np.asarray(station, dtype=np.float64)
    beside = np.zeros(len(names), dtype=bool)
    table = layers.get("chorded_curves")
    if table is None:
        return beside
    table = table[table["design_is"] != "chords"]
    for name, start, end in zip(table["line"], table["start_station"], table["end_station"], strict=True):
        beside |= (names == name) & (at >= start) & (at <= end)
    return beside
