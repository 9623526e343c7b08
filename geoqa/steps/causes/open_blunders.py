"""Numbers under an open blunder: not judged, and shown both ways, as read and as they would be without it."""

import numpy as np
import pandas as pd

from geoqa.contract.causes import cause_named
from geoqa.model import words
from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.survey_doubt import in_doubt
from geoqa.steps.judging.text_columns import rows_of

FLAG = "open-blunder"
"""Flag of a shot that a named cause acts on; also the reason why its numbers are not judged."""


DOUBT = "unexplained-control"
"""Flag of a shot whose session is off at control by more than any known cause explains; it only warns."""


def under_blunder(layers: Layers, *, vertical: bool) -> np.ndarray:
    """Shots whose elevation, or whose plan position, a named cause acts on.

    What moves a shot in plan spoils its elevation too, for it is compared with the design at another place; what only
    lifts it leaves its plan position good.
    """
    shots = layers["shots"]
    spoiled = np.zeros(len(shots), dtype=bool)
    if "cause_shots" in layers:
        moved = layers["cause_shots"]
        aside = ~(np.hypot(moved["shift_easting"], moved["shift_northing"]) == 0)
        keys = moved["shot_key"] if vertical else moved.loc[aside, "shot_key"]
        spoiled[rows_of(keys.drop_duplicates(), shots["shot_key"])] = True
    return spoiled


def rejected_otherwise(layers: Layers) -> np.ndarray:
    """Shots that are not in use for another reason than an open blunder."""
    shots, flags = layers["shots"], layers["flags"]
    unused = ~shots["use"].to_numpy(bool)
    if "cause_shots" not in layers or not len(layers["cause_shots"]):
        return unused
    other = flags.loc[flags["reject"] & (flags["flag"] != FLAG), "shot_key"].drop_duplicates()
    mine = flags.loc[flags["flag"] == FLAG, "shot_key"].drop_duplicates()
    unused[rows_of(mine, shots["shot_key"])] = False
    unused[rows_of(other, shots["shot_key"])] = True
    return unused


def places_unknown(layers: Layers, reach: float) -> bool:
    """Whether a named cause moves most shots farther than `reach`, so that what was built where cannot be seen."""
    if "cause_shots" not in layers or not len(layers["cause_shots"]):
        return False
    moved = layers["cause_shots"]
    far = np.hypot(moved["shift_easting"], moved["shift_northing"]) > reach
    return bool(moved.loc[far, "shot_key"].nunique() * 2 > len(layers["shots"]))


def places_off(layers: Layers, keys: pd.Series) -> np.ndarray:
    """How far in plan each shot may lie from where it is shown among its neighbours, by an open blunder or a doubt.

    What all shots of a cause share moves none of them against the others.

    Parameters
    ----------
    layers : Layers
        With `cause_shots` and `survey_doubt`, if the diagnosis ran.
    keys : Series of str, (n,)
    """
    far = np.zeros(len(keys))
    if "cause_shots" in layers and len(layers["cause_shots"]):
        moved = layers["cause_shots"]
        aside = moved[["shift_easting", "shift_northing"]]
        aside = aside - aside.groupby([moved["cause"], moved["subject"]], dropna=False).transform("mean")
        size = pd.Series(np.hypot(*aside.to_numpy(float).T))
        worst = size.groupby(moved["shot_key"].to_numpy(dtype=object)).max()
        far = np.append(np.nan_to_num(worst.to_numpy(float)), 0.0)[rows_of(keys, pd.Series(worst.index, dtype="str"))]
    return far + np.nan_to_num(in_doubt(layers, keys, vertical=False))


def waits_for(layers: Layers, keys: pd.Series, direction: np.ndarray, deviation: np.ndarray, unit: str) -> pd.Series:
    """Words for rows under an open blunder; null for the others.

    Parameters
    ----------
    layers : Layers
        With `cause_shots`, if the diagnosis ran.
    keys : Series of str, (n,)
        Shot of each row.
    direction : (n, 3) array
        What the deviation sees of a shift.
    deviation : (n,) array
        As read.
    unit : str

    Returns
    -------
    Series of str, (n,)
    """
    none = pd.Series([None] * len(keys), dtype="str", index=keys.index)
    if "cause_shots" not in layers or not len(layers["cause_shots"]):
        return none
    moved = layers["cause_shots"]
    row = rows_of(moved["shot_key"], keys.drop_duplicates())
    number = rows_of(keys, keys.drop_duplicates())
    shift, titles = np.zeros((keys.nunique(), 3)), np.full(keys.nunique(), "", dtype=object)
    columns = moved[["shift_easting", "shift_northing", "shift_elevation"]].to_numpy(float)
    for place, size, cause in zip(row.tolist(), columns, moved["cause"], strict=True):
        if place >= 0:
            shift[place] += np.nan_to_num(size)
            titles[place] = titles[place] + (" and " if titles[place] else "") + cause_named(cause).title.lower()
    without = deviation - np.einsum("ij,ij->i", direction, shift[number])
    texts = none.to_numpy(dtype=object)
    for place in np.flatnonzero((titles[number] != "") & np.isfinite(deviation)).tolist():
        both = (words.length(value[place], unit, signed=True) for value in (deviation, without))
        texts[place] = "waits for: {}; {} as read, {} without it".format(titles[number[place]], *both)
    return pd.Series(texts, dtype="str", index=keys.index)
