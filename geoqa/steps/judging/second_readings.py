"""Numbers that can be read against the design in two ways: a verdict that only one of them gives is none."""

from dataclasses import replace

import numpy as np
import pandas as pd

from geoqa.kernels.judging.verdict import IN, NO_DATA, OUT, UNDECIDED, Judged
from geoqa.model.check import Check

SECOND = ("second", "second_why", "second_for", "second_cause")
"""Columns of rows that have a second reading: its number (NaN: none), code of the reason where the two disagree,
whether only an OUT needs it (``out``) or any verdict (``both``), and words, told where they disagree."""


def has_second(rows: pd.DataFrame) -> np.ndarray:
    """Rows that have a second reading and no other reason, shape (n,)."""
    if "second" not in rows:
        return np.zeros(len(rows), dtype=bool)
    return (rows["second"].notna() & (rows["why"] == 0)).to_numpy(bool)


def held_to_both(rows: pd.DataFrame, judged: Judged, second: Judged, check: Check) -> Judged:
    """Verdicts that hold whichever way a number is read; UNDECIDED where the two readings disagree.

    Parameters
    ----------
    rows : DataFrame
        As in `findings_of`, with the columns of `SECOND`; reason, remedy and cause are written into it.
    judged, second : Judged
        Of the number as it is, and of its second reading.
    check : Check

    Returns
    -------
    Judged
        Where both are out, the milder one gives probability and excess; where they disagree, both count alike.
    """
    there = has_second(rows) & (second.verdict != NO_DATA)
    asked = (judged.verdict == OUT) | ((judged.verdict == IN) & (rows["second_for"] == "both").to_numpy(bool))
    same = judged.verdict == second.verdict
    apart = there & asked & ~same
    milder = there & (judged.verdict == OUT) & same
    code = rows["second_why"].to_numpy()
    rows["why"] = np.where(apart, code, rows["why"])
    told = apart & rows["second_cause"].notna().to_numpy(bool)
    if "cause" in rows:
        rows["cause"] = rows["cause"].mask(told, rows["second_cause"])
    else:
        rows["cause"] = rows["second_cause"].where(told)
    helps = pd.Series([check.every_reason[each - 1].remedy if each > 0 else None for each in code], dtype="str")
    remedy = rows["remedy"] if "remedy" in rows else pd.Series([None] * len(rows), dtype="str")
    rows["remedy"] = remedy.mask(apart & remedy.isna().to_numpy(bool), helps.set_axis(rows.index))
    p = np.where(milder, np.fmax(judged.p_conform, second.p_conform), judged.p_conform)
    p = np.where(apart, (judged.p_conform + second.p_conform) / 2, p)
    excess = np.where(milder | apart, np.fmin(judged.excess, second.excess), judged.excess)
    return replace(judged, verdict=np.where(apart, np.int8(UNDECIDED), judged.verdict), p_conform=p, excess=excess)
