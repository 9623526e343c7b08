"""What lacks a number for one reason all along a line, as one row."""

import numpy as np
import pandas as pd

from geoqa.model.check import Check
from geoqa.model.words import many

WAITING = ("open-blunder", "survey-doubt")
"""Reasons of a number that is there: each waits by itself."""


def one_a_line(
    rows: pd.DataFrame, *, check: Check, by: tuple[str, ...] = ("kind", "subject", "source")
) -> pd.DataFrame:
    """Rows that lack a number for the same reason along one line, as one row at the first of them.

    Parameters
    ----------
    rows : DataFrame
        As `found` wants them, in order along their lines.
    check : Check
    by : tuple of str
        What is one line.

    Returns
    -------
    DataFrame
        A row that stands for several names how many, bears the keys of all and no shot of its own.
    """
    lost = (rows["why"] != 0) & ~rows["why"].isin([check.why(each) for each in WAITING])
    together_by = [*by, "why"]
    many_of = rows[lost].groupby(together_by, sort=False, dropna=False)
    groups = [mine.index.to_numpy() for _, mine in many_of if len(mine) > 1]
    if not groups:
        return rows
    rows = rows.copy()
    dropped = np.zeros(len(rows), dtype=bool)
    place = pd.Series(np.arange(len(rows)), index=rows.index)
    keys = list(rows["keys"])
    for group in groups:
        first = group[0]
        keys[place[first]] = list(dict.fromkeys(key for members in rows.loc[group, "keys"] for key in members))
        rows.loc[first, "label"] = many(len(group), "shot")
        for name in ("measured", "deviation", "elevation", "without"):
            if name in rows:
                rows.loc[first, name] = np.nan
        for name in ("shot", "cause", "cause_both", "remedy", "run"):
            if name in rows:
                rows.loc[first, name] = None
        if "station" in rows and rows.loc[group, "station"].notna().all():
            stations = rows.loc[group, "station"]
            rows.loc[first, ["station", "station_end"]] = [stations.min(), stations.max()]
        dropped[place[group[1:]]] = True
    rows["keys"] = pd.Series(keys, index=rows.index, dtype=object)
    return rows[~dropped].reset_index(drop=True)
