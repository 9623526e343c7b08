"""Means beside their members: what single numbers prove, their mean does not take back."""

import numpy as np
import pandas as pd

from geoqa.model import words
from geoqa.model.check import Check

MEMBERS_OUT = "members-out"
"""Reason of a mean that is not proven out by itself, though members of it are."""


def held_by_members(means: pd.DataFrame, single: pd.DataFrame, of: np.ndarray, check: Check) -> pd.DataFrame:
    """Findings of means that say no less than the findings of their members.

    Parameters
    ----------
    means : DataFrame
        Findings of means.
    single : DataFrame
        Of the members: `verdict`, `deviation`, `p_conform`, `excess`.
    of : (m,) int array
        Row of `means` that each member belongs to; -1 for none.
    check : Check

    Returns
    -------
    DataFrame
        `means`, where members are proven out by themselves and the mean is not: OUT where the mean lies beyond the
        same limit, as measured, with probability and excess of the member that proves most. A mean within its limits
        keeps its verdict, for its members stand beside it; neither is told to be beyond what the method can prove.

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
    low, high, value = (means[name].to_numpy(float) for name in ("lower", "upper", "deviation"))
    own = single["deviation"].to_numpy(float)
    same = out & (((own > high[at]) & (value > high)[at]) | ((own < low[at]) & (value < low)[at]))
    count, agree = (np.bincount(of[each], minlength=len(means)) for each in (out, same))
    open_ones = (means["verdict"] == "UNDECIDED").to_numpy(bool)
    weaker = (open_ones | (means["verdict"] == "IN").to_numpy(bool)) & (count > 0)
    if not weaker.any():
        return means
    made = means.copy(deep=False)
    proven = open_ones & (agree > 0)
    least, most = np.full(len(means), np.inf), np.full(len(means), -np.inf)
    np.fmin.at(least, of[same], single["p_conform"].to_numpy(float)[same])
    np.fmax.at(most, of[same], single["excess"].to_numpy(float)[same])
    made["verdict"] = made["verdict"].mask(proven, "OUT")
    made["why"] = made["why"].mask(weaker & open_ones, MEMBERS_OUT)
    made["remedy"] = made["remedy"].mask(weaker & open_ones, None).mask(weaker & open_ones & ~proven, _remedy(check))
    made["p_conform"] = np.where(proven, least, made["p_conform"])
    made["excess"] = np.where(proven, most, made["excess"])
    made["label"] = made["label"].mask(weaker, _labels(made["label"], count))
    return made


def _remedy(check: Check) -> str:
    return check.every_reason[check.why(MEMBERS_OUT) - 1].remedy


def _labels(labels: pd.Series, count: np.ndarray) -> pd.Series:
    """Labels with how many members are out by themselves."""
    told = [
        f"{label}; {words.many(number, 'of them is proven out by itself', 'of them are proven out by themselves')}"
        for label, number in zip(labels.tolist(), count.tolist(), strict=True)
    ]
    return pd.Series(told, index=labels.index, dtype="str")
