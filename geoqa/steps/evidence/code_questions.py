"""Shots whose code is missing or in question: they still show that something stands where they were taken."""

import numpy as np
import pandas as pd

from geoqa.kernels.design.station import candidates
from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import CODE_ASKED
from geoqa.steps.design.alignments import Alignments
from geoqa.steps.judging.text_columns import rows_of

BESIDE = Length.parse("1 ft")
"""Such a shot speaks for every design line this near, whatever its code: a curb top and its flow line lie 0.5 ft
apart."""


def questions(layers: Layers, design: Alignments) -> pd.DataFrame:
    """Places along design lines where a shot with a code in question, or with none that is known, was taken.

    Returns
    -------
    DataFrame
        ``line`` (number), ``station``; sorted by both. One row for each shot and line it lies beside.
    """
    place = _places(layers)
    if not len(place) or not len(design.names):
        return pd.DataFrame({"line": np.zeros(0, np.int64), "station": np.zeros(0)})
    reach = BESIDE.to(layers.frame.unit)
    found = candidates(place, design.elements, reach=reach, index=design.index(reach, by_kind=False))
    table = pd.DataFrame({"line": found.line.astype(np.int64), "station": found.station})
    return table.sort_values(["line", "station"], ignore_index=True)


def beside_points(layers: Layers, points: pd.DataFrame) -> np.ndarray:
    """Which design points such a shot lies beside, shape (n,)."""
    from scipy.spatial import cKDTree

    place = _places(layers)
    if not len(place) or not len(points):
        return np.zeros(len(points), dtype=bool)
    spots = points[["easting", "northing"]].to_numpy(float)
    away, _ = cKDTree(place - place[0]).query(spots - place[0], distance_upper_bound=BESIDE.to(layers.frame.unit))
    return np.isfinite(away)


def _places(layers: Layers) -> np.ndarray:
    """Easting and northing of the shots in question, shape (k, 2)."""
    shots = layers["shots"]
    asked = shots["kind"].isna().to_numpy(copy=True)
    if "flags" in layers:
        flags = layers["flags"]
        keys = flags.loc[flags["flag"].isin(CODE_ASKED), "shot_key"].drop_duplicates()
        asked[rows_of(keys, shots["shot_key"])] = True
    place = shots[["easting", "northing"]].to_numpy(float)[asked]
    return place[np.isfinite(place).all(axis=1)]


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
