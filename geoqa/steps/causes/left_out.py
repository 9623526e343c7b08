"""Shots that feed no statistic, because a blunder is known of them or because they are one measurement listed twice.

One check shot on another mark than it names makes the mean of four residuals, the marks' agreement and the 95 % of a
session a number about that slip, and condemns a mark that is good. What is left out is said beside every number.
"""

import numpy as np
import pandas as pd

from geoqa.contract.causes import cause_named
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import AGAIN, has_flag
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.shots.listings import listings_of

TWICE = "one measurement, listed twice"
"""Reason of the second listing."""
NAMED = 6
"""Shots called by name for each reason; the count is always complete."""
_PLACE = ["time", "easting", "northing", "elevation"]


def left_out(layers: Layers, shots: pd.DataFrame, *, against_marks: bool = True) -> pd.Series:
    """Why each shot feeds no statistic; null for one that does.

    Parameters
    ----------
    layers : Layers
        With `cause_shots`, if the diagnosis ran; without, only double listings are left out.
    shots : DataFrame, n rows
        Some of the job's shots.
    against_marks : bool
        The statistic compares with published places. A mark that moved is no reason to leave its shots out
        where they are compared with each other.

    Returns
    -------
    Series of str, (n,)
        On the index of `shots`.
    """
    reason = np.full(len(shots), None, dtype=object)
    if "cause_shots" in layers and len(layers["cause_shots"]):
        moved = layers["cause_shots"]
        moved = moved[moved["holds"] & (against_marks | (moved["cause"] != "mark"))]
        row = rows_of(moved["shot_key"], shots["shot_key"])
        for place, cause in zip(row.tolist(), moved["cause"], strict=True):
            if place >= 0:
                title, before = cause_named(cause).title.lower(), reason[place]
                reason[place] = title if before is None else before if title in before else f"{before} and {title}"
    twice = has_flag(shots, AGAIN)
    if "shots" in layers:
        again = layers["shots"]["shot_key"].iloc[np.flatnonzero(listings_of(layers).again)]
        twice |= rows_of(shots["shot_key"], again) >= 0
    # one measurement under two names stands twice in no statistic either
    at = pd.DataFrame(shots[[name for name in _PLACE if name in shots]])[~twice]
    same = at.duplicated(keep="first") & at[["easting", "northing"]].notna().all(axis=1)
    twice[~twice] = same & at["time"].notna() if "time" in at else False
    reason[twice & (reason == None)] = TWICE  # noqa: E711
    return pd.Series(reason, dtype="str", index=shots.index)


def told(shots: pd.DataFrame, reason: pd.Series) -> str:
    """What was left out in words, reason by reason; empty where nothing was.

    Parameters
    ----------
    shots : DataFrame, n rows
        With `shot` and `shot_key`.
    reason : Series of str, (n,)
        Of `left_out`.
    """
    names = shots["shot"] if "shot" in shots else shots["shot_key"]
    called = names.where(names.notna(), shots["shot_key"]).to_numpy(dtype=object)
    texts = []
    for each in reason.dropna().unique():
        mine = called[(reason == each).to_numpy(bool)].tolist()
        more = f" and {len(mine) - NAMED} more" if len(mine) > NAMED else ""
        texts.append(f"{', '.join(mine[:NAMED])}{more} ({each})")
    return "; ".join(texts)
