"""Levelled elevations in place of those of the shots."""

import numpy as np
import pandas as pd

from geoqa.model.reasons import WHY
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of, taken

_OF_THE_SHOT = ("open-blunder", "survey-doubt", "zero-elevation", "no-elevation")
"""What keeps the elevation of a shot from being judged, and not one that was levelled."""
SAID = ", levelled, file {}"


def levelled_instead(layers: Layers, rows: pd.DataFrame, *, moved: np.ndarray) -> None:
    """Put levelled elevations, with their own u, where shots have one: no blunder of their session acts on them.

    Parameters
    ----------
    layers : Layers
        With `levelled`, if level runs were given.
    rows : DataFrame
        Of elevations against the design, changed in place.
    moved : (n,) bool array
        Rows whose place in plan is not known well: what stands there in the design is not known either.
    """
    if "levelled" not in layers or not len(layers["levelled"]):
        return
    levelled = layers["levelled"]
    levelled = levelled[levelled["taken"]].reset_index(drop=True)
    place = rows_of(rows["shot"], levelled["shot_key"])
    mine = np.flatnonzero((place >= 0) & ~moved)
    if not len(mine):
        return
    of = levelled.iloc[place[mine]]
    elevation, design = of["elevation"].to_numpy(float), rows["design"].to_numpy(float)
    parts = {name: of[name].to_numpy(float) for name in ("u_random", "u_common")}
    number = {"measured": elevation, "elevation": elevation, "deviation": elevation - design[mine]}
    for name, new in (number | parts).items():
        values = rows[name].to_numpy(float, copy=True)
        values[mine] = new
        rows[name] = values
    why = rows["why"].to_numpy(copy=True)
    free = np.isin(why[mine], [WHY[name] for name in _OF_THE_SHOT])
    why[mine[free]] = np.where(np.isnan(design[mine[free]]), WHY["no-design-elevation"], 0)
    rows["why"] = why
    for name in ("cause", "cause_both", "remedy"):
        if name in rows:
            rows.loc[rows.index[mine], name] = None
    for name in ("without", "without_own", "u_without", "deviation_read", "u_common_read", "of_session"):
        if name in rows:
            rows.loc[rows.index[mine], name] = np.nan
    label = rows["label"].to_numpy(dtype=object, copy=True)
    label[mine] = [f"{old}{SAID.format(source)}" for old, source in zip(label[mine], of["source"], strict=True)]
    rows["label"] = taken(label, np.arange(len(label)))
