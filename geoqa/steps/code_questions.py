"""Shots whose code is an open question: they still show that something stands where they were taken."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.kernels.station import candidates
from geoqa.model.quantity import Length
from geoqa.steps.alignments import Alignments
from geoqa.steps.text import rows_of

FLAGS = frozenset({"code-slip", "swapped-pair"})
"""Flags that say the code is in doubt, not the measurement."""
BESIDE = Length.parse("1 ft")
"""Such a shot speaks for every design line this near, whatever its code: a curb top and its flow line lie 0.5 ft
apart."""


def questions(layers: Any, design: Alignments) -> pd.DataFrame:
    """Places along design lines where a shot with a code in question was taken.

    Returns
    -------
    DataFrame
        ``line`` (number), ``station``; sorted by both. One row for each shot and line it lies beside.
    """
    nothing = pd.DataFrame({"line": np.zeros(0, np.int64), "station": np.zeros(0)})
    if "flags" not in layers or not len(design.names):
        return nothing
    flags, shots = layers["flags"], layers["shots"]
    keys = flags.loc[flags["flag"].isin(FLAGS), "shot_key"].drop_duplicates()
    if not len(keys):
        return nothing
    place = shots[["easting", "northing"]].to_numpy(float)[np.sort(rows_of(keys, shots["shot_key"]))]
    found = candidates(place, design.elements, reach=BESIDE.to(layers.frame.unit))
    table = pd.DataFrame({"line": found.line.astype(np.int64), "station": found.station})
    return table.sort_values(["line", "station"], ignore_index=True)


def answered(
    asked: pd.DataFrame, line: np.ndarray, start: np.ndarray, end: np.ndarray, *, spacing: float
) -> np.ndarray:
    """Which reaches would be covered, were the codes in question settled in their favour.

    Parameters
    ----------
    asked : DataFrame
        Of `questions`.
    line, start, end : (n,) arrays
        Reaches, by the number of their line.
    spacing : float
        Longest distance allowed between two shots.

    Returns
    -------
    (n,) bool array

    Examples
    --------
    >>> asked = pd.DataFrame({"line": [0, 0], "station": [25.0, 50.0]})
    >>> answered(asked, np.array([0, 0]), np.array([0.0, 0.0]), np.array([75.0, 90.0]), spacing=30.0).tolist()
    [True, False]
    """
    made = np.zeros(len(line), dtype=bool)
    lines, stations = asked["line"].to_numpy(), asked["station"].to_numpy(float)
    for nth, (number, one, other) in enumerate(zip(line, start, end, strict=True)):
        first, last = np.searchsorted(lines, [number, number + 1])
        inside = stations[first:last]
        inside = inside[(inside > one) & (inside < other)]
        if len(inside):
            made[nth] = np.diff(np.concatenate([[one], inside, [other]])).max() <= spacing
    return made
