"""Means beside their members: what single numbers prove, their mean does not take back."""

import numpy as np
import pandas as pd

from geoqa.model import words
from geoqa.model.check import Check

FEWEST = 2
"""Fewest members, out to the same side by themselves, that put their mean out."""
NAMED = 3
"""Members that are named in the label of their mean."""
MEMBERS_OUT = "members-out"
"""Reason of a mean that is not proven out by itself, though members of it are."""


def held_by_members(means: pd.DataFrame, single: pd.DataFrame, of: np.ndarray, check: Check) -> pd.DataFrame:
    """Findings of means that say no less than the findings of their members.

    Parameters
    ----------
    means : DataFrame
        Findings of means.
    single : DataFrame
        Of the members: `verdict`, `deviation`, `p_conform`, `excess`; `label` or `shot`, where they are to be named.
    of : (m,) int array
        Row of `means` that each member belongs to; -1 for none.
    check : Check

    Returns
    -------
    DataFrame
        `means`, where members are proven out by themselves and the mean is not: OUT where at least `FEWEST` are out to
        the same side, and the mean lies beyond that limit by at least its own u, with probability and excess of the
        member that proves most. Any other mean keeps its verdict, for its members stand beside it, named in its label;
        neither is told to be beyond what the method can prove.

    Notes
    -----
    A mean has bounds of its own: errors that last, and the choice of the run, make them wider than those of one shot.
    What is claimed by such an OUT is that these shots are out, and their number stands in the label; the mean and its
    bounds stay as they are.
    """
    if not len(means) or not len(single):
        return means
    out = (single["verdict"] == "OUT").to_numpy(bool) & (of >= 0)
    at = np.maximum(of, 0)
    low, high, value, u = (means[name].to_numpy(float) for name in ("lower", "upper", "deviation", "u"))
    own = single["deviation"].to_numpy(float)
    above, below = value - u >= high, value + u <= low
    same = out & (((own > high[at]) & above[at]) | ((own < low[at]) & below[at]))
    count, agree = (np.bincount(of[each], minlength=len(means)) for each in (out, same))
    open_ones = (means["verdict"] == "UNDECIDED").to_numpy(bool)
    weaker = (open_ones | (means["verdict"] == "IN").to_numpy(bool)) & (count > 0)
    if not weaker.any():
        return means
    made = means.copy(deep=False)
    proven = open_ones & (agree >= FEWEST)
    least, most = np.full(len(means), np.inf), np.full(len(means), -np.inf)
    np.fmin.at(least, of[same], single["p_conform"].to_numpy(float)[same])
    np.fmax.at(most, of[same], single["excess"].to_numpy(float)[same])
    made["verdict"] = made["verdict"].mask(proven, "OUT")
    made["why"] = made["why"].mask(weaker & open_ones, MEMBERS_OUT)
    made["remedy"] = made["remedy"].mask(weaker & open_ones, None).mask(weaker & open_ones & ~proven, _remedy(check))
    made["p_conform"] = np.where(proven, least, made["p_conform"])
    made["excess"] = np.where(proven, most, made["excess"])
    made["label"] = made["label"].mask(weaker, _labels(made["label"], count, _names(single, of, out)))
    return made


def _remedy(check: Check) -> str:
    return check.every_reason[check.why(MEMBERS_OUT) - 1].remedy


def _names(single: pd.DataFrame, of: np.ndarray, out: np.ndarray) -> dict[int, list[str]]:
    """Members that are proven out by themselves, by the mean they belong to."""
    told: dict[int, list[str]] = {}
    for row in np.flatnonzero(out):
        label, shot = (single[name].iloc[row] if name in single else None for name in ("label", "shot"))
        name = label if isinstance(label, str) else f"shot {shot.rpartition('/')[2]}" if isinstance(shot, str) else ""
        if name:
            told.setdefault(int(of[row]), []).append(name.partition(", falls")[0])
    return told


def _labels(labels: pd.Series, count: np.ndarray, names: dict[int, list[str]]) -> pd.Series:
    """Labels with how many members are out by themselves, and which."""
    told = []
    for row, (label, number) in enumerate(zip(labels.tolist(), count.tolist(), strict=True)):
        out = words.many(number, "of them is proven out by itself", "of them are proven out by themselves")
        which = names.get(row, [])
        more = f" and {len(which) - NAMED} more" if len(which) > NAMED else ""
        told.append(f"{label}; {out}{': ' * bool(which)}{', '.join(which[:NAMED])}{more}")
    return pd.Series(told, index=labels.index, dtype="str")
