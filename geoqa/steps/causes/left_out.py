"""Shots that feed no statistic, because a blunder is known of them or because they are one measurement listed twice.

One check shot on another mark than it names makes the mean of four residuals, the marks' agreement and the 95 % of a
session a number about that slip, and condemns a mark that is good. What is left out is said beside every number.
"""

import numpy as np
import pandas as pd

from geoqa.contract.causes import cause_named
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import AGAIN, has_flag
from geoqa.steps.causes.open_blunders import moves_in_plan
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.shots.listings import listings_of

TWICE = "one measurement, listed twice"
"""Reason of the second listing."""
NAMED = 6
"""Shots called by name for each reason; the count is always complete."""
_PLACE = ["time", "easting", "northing", "elevation"]


def left_out(layers: Layers, shots: pd.DataFrame, *, against_marks: bool = True, plan_alone: bool = False) -> pd.Series:
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
    plan_alone : bool
        The statistic is of plan positions: a cause that acts in elevation alone leaves them as good as ever.

    Returns
    -------
    Series of str, (n,)
        On the index of `shots`.
    """
    reason = np.full(len(shots), None, dtype=object)
    if "cause_shots" in layers and len(layers["cause_shots"]):
        moved = layers["cause_shots"]
        moved = moved[moved["holds"] & (against_marks | (moved["cause"] != "mark"))]
        if plan_alone:
            moved = moved[moves_in_plan(moved)]
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


def elevations_apart(layers: Layers, checks: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    """Why each check shot is in no statistic at all, and why only its elevation is in none.

    Parameters
    ----------
    layers : Layers
    checks : DataFrame, n rows

    Returns
    -------
    (Series of str, Series of str), each (n,)
        Null where there is no reason; one shot has at most one of them.
    """
    apart = left_out(layers, checks, plan_alone=True)
    return apart, left_out(layers, checks).where(apart.isna())


def told_apart(shots: pd.DataFrame, apart: pd.Series, level: pd.Series) -> str:
    """What was left out in words, of everything and of elevations alone; empty where nothing was.

    Parameters
    ----------
    shots : DataFrame, n rows
    apart, level : Series of str, (n,)
        Of `elevations_apart`.
    """
    only = told(shots, level)
    return "; ".join(each for each in (told(shots, apart), only and f"in elevation alone {only}") if each)


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
