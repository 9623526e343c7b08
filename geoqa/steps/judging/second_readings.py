"""Numbers that can be read against the design in two ways: a verdict that only one of them gives is none."""

from dataclasses import replace

import numpy as np
import pandas as pd

from geoqa.contract.linework_sentences import hangs_on
from geoqa.kernels.judging.verdict import IN, NO_DATA, OUT, UNDECIDED, Judged
from geoqa.kernels.precision.promise import Again
from geoqa.model import words
from geoqa.model.check import Check

SECOND = ("second", "second_why", "second_for", "second_cause")
"""Columns of rows that have a second reading: its number (NaN: none), code of the reason where the two disagree,
whether only an OUT needs it (``out``) or any verdict (``both``), and words, told where they disagree."""

ACROSS = ("near-limit", "u-too-large")
"""Reasons of a number across sessions that may be undecided by what one of them is off by."""


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
    code = rows["second_why"].fillna(0).to_numpy(np.int64)  # rows of other checks or designs may have none
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


def held_without_shift(rows: pd.DataFrame, judged: Judged, less: Judged, check: Check) -> Judged:
    """Verdicts that hold with what a session lies off by as a whole, and without it; UNDECIDED where the two disagree.

    Parameters
    ----------
    rows : DataFrame
        With `of_session`, the part of the number that may be the session's (NaN or 0: none); reason and remedy
        are written into it.
    judged, less : Judged
        Of the number as it is, and without the shift.
    check : Check
    """
    own = rows["why"].isin([0, check.why("shots-differ")])
    free = (own & (rows["of_session"].fillna(0.0) != 0)).to_numpy(bool)
    none = pd.Series([None] * len(rows), dtype="str").set_axis(rows.index)
    asked = pd.DataFrame({"why": rows["why"].mask(free, 0), "second": rows["of_session"].where(free)})
    asked = asked.assign(second_for="both", second_cause=none, remedy=rows.get("remedy", none))
    code = _code(rows, check)
    asked["second_why"] = np.where(free, code, 0)
    made = held_to_both(asked, judged, less, check)
    # undecided as read, and not without the shift: it is the session that would decide it
    waits = free & (judged.verdict == UNDECIDED) & np.isin(less.verdict, (IN, OUT))
    asked["why"] = asked["why"].mask(waits, pd.Series(code, index=rows.index))
    helps = pd.Series([check.every_reason[each - 1].remedy for each in code], dtype="str", index=rows.index)
    asked["remedy"] = asked["remedy"].mask(waits & asked["remedy"].isna(), helps)
    apart = free & (asked["why"] != 0).to_numpy(bool)
    rows["why"], rows["remedy"] = rows["why"].mask(apart, asked["why"]), asked["remedy"]
    return made


def _code(rows: pd.DataFrame, check: Check) -> np.ndarray:
    """Reason of each row that hangs on a session: one without a check, or one that lies off by its check shots."""
    checked = rows["checked"].to_numpy(bool) if "checked" in rows else np.zeros(len(rows), dtype=bool)
    return np.where(checked, check.why("between-sessions"), check.why("unchecked-session"))


def also_read(rows: pd.DataFrame, check: Check) -> tuple[Again | None, np.ndarray]:
    """What else numbers may be read as, and what settles it, (n,) of str, empty for nothing.

    Parameters
    ----------
    rows : DataFrame
        As in `findings_of`; a second reading, what a session may be off by, both or neither.
    check : Check

    Returns
    -------
    Again or None
        None where no number has another reading.
    (n,) array
    """
    settles = np.full(len(rows), "", dtype=object)
    more, shared = np.zeros((2, len(rows)))
    for_in = np.zeros(len(rows), dtype=bool)
    if "of_session" in rows:
        shared = np.nan_to_num(rows["of_session"].to_numpy(float))
        settles = np.where(shared != 0, [check.every_reason[each - 1].remedy for each in _code(rows, check)], settles)
    if "second" in rows:
        second, number = rows["second"].to_numpy(float), rows["deviation"].to_numpy(float)
        more = np.nan_to_num(second - number)
        for_in = (rows["second_for"] == "both").to_numpy(bool)
        # what a slope may make all of is not out by the most that it may make
        more = np.where((second == 0) & (more != 0) & ~for_in, np.where(number > 0, -np.inf, np.inf), more)
        code = rows["second_why"].fillna(0).to_numpy(np.int64)
        own = np.array([check.every_reason[each - 1].remedy if each > 0 else "" for each in code], dtype=object)
        settles = np.where(more != 0, own, settles)
    if not (more.any() or shared.any()):
        return None, settles
    return Again(more=more, for_in=for_in, shared=shared), settles


def what_hangs(
    rows: pd.DataFrame, verdict: np.ndarray, why: np.ndarray, check: Check, *, quantity: str, unit: str
) -> None:
    """Keep the session's name on those rows that hang on its shift alone, and say so where no cause is told.

    Parameters
    ----------
    rows : DataFrame
        With `hangs_on`; changed in place.
    verdict : (n,) array
    why : (n,) array
        Final codes of reasons.
    check : Check
    quantity, unit : str
    """
    both = np.isin(why, [check.why(name) for name in ("unchecked-session", "between-sessions")])
    read = rows["deviation"].to_numpy(float)
    part = np.nan_to_num(rows["of_session"].to_numpy(float)) if "of_session" in rows else np.zeros(len(rows))
    across = (verdict == UNDECIDED) & (part == 0) & np.isin(why, [check.why(name) for name in ACROSS])
    rows["hangs_on"] = rows["hangs_on"].where(both | across).astype("str")
    told = np.full(len(rows), None, dtype=object)
    for place in np.flatnonzero(both | across).tolist():
        name = rows["hangs_on"].iloc[place]
        if isinstance(name, str):
            numbers = [
                words.deviation(each, check, quantity, unit) for each in (read[place], read[place] - part[place])
            ]
            checked = why[place] == check.why("between-sessions")
            told[place] = hangs_on(name, *numbers, checked=checked) if both[place] else hangs_on(name)
    own = rows["cause"] if "cause" in rows else pd.Series([None] * len(rows), dtype="str")
    rows["cause"] = own.where(own.notna(), pd.Series(told, dtype="str").set_axis(rows.index))
