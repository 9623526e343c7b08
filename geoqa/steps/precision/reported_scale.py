"""The log's own precision held against independent repeats on marks, and taken larger where they prove it too small.

Only what check shots of one session differ by among themselves counts: a whole session that is off - another foot, a
wrong rod - moves all of them alike, falls out, and cannot buy itself a larger uncertainty. No verdict and no flag is
read, so that nothing goes round in a circle.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import fdtrc

from geoqa.kernels.precision.estimate import UNKNOWN, Estimate
from geoqa.kernels.precision.repeats import Repeatability, repeatability, visits_of
from geoqa.model import words
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.marks import mark_of

MOST = 4.0
"""A factor beyond this is no precision that was told too well, but a blunder in a session. Common practice, no source:
receivers' figures are too good by 2 to 3."""
OUTLYING = 0.01
"""Chance, of all visits together, below which the farthest is no scatter."""
LEFT_OUT = 3
"""Visits that may be left out, one after another: check shots on a wrong mark lie so far off that two hide nothing. The
diagnosis cannot be asked, for it weighs with the very uncertainties that are found here."""
CLOSE, INDEPENDENT = 10.0, 240.0
"""Minutes within which a repeat shares short-lived errors, and after which it counts as independent."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Scale:
    """How many times the random part is what the log reports of it, on one axis.

    Attributes
    ----------
    factor : Estimate
        With its 95 % band.
    outlying : int
        Visits that stand out from the others; they were left out, because a bad shot is no precision.
    marks, visits : int
        What it rests on.
    applied : float
        What the random part is multiplied by; 1 unless the band lies above 1 and the factor is no blunder.
    """

    factor: Estimate
    outlying: int
    marks: int
    visits: int

    @property
    def applied(self) -> float:
        """What the random part that is taken from the log is multiplied by."""
        proven = self.factor.low > 1 and self.factor.value <= MOST
        return self.factor.value if proven else 1.0

    def sentence(self) -> str:
        """What is done, and why, in a sentence."""
        each = self.factor
        if not np.isfinite(each.value):
            return "cannot be held against independent repeats on marks; taken as reported"
        found = f"{each.value:.2f} times what the log says (95 %: {each.low:.2f} to {each.high:.2f})"
        rests = f"{words.many(self.visits, 'visit')} to {words.many(self.marks, 'mark')}"
        if self.outlying:
            rests += (
                " without one that stands out" if self.outlying == 1 else f" without {self.outlying} that stand out"
            )
        if self.applied > 1:
            return f"taken {found}, by {rests}"
        if each.value > MOST:
            return f"{found}, by {rests}: too far for a precision, look for a blunder; taken as reported"
        if each.high < 1:
            return f"{found}, by {rests}: never taken smaller by itself; taken as reported"
        return f"{found}, by {rests}: no proof that it is too small; taken as reported"


def scales_of(shots: pd.DataFrame, control: pd.DataFrame, halves: dict[str, np.ndarray]) -> dict[str, Scale]:
    """Hold the random half of what the log reports against check shots that are independent of each other.

    Parameters
    ----------
    shots : DataFrame
        With kinds and roles.
    control : DataFrame
        Marks; only which shot is on which of them counts, not where they are published.
    halves : dict
        For axis h and v the random half of the reported precision, 1 sigma (per axis in plan), NaN where the log
        reports none; (n,).

    Returns
    -------
    dict
        A `Scale` for h and v.

    Notes
    -----
    First shots of visits at least `INDEPENDENT` minutes apart, freed of their marks and their sessions, have a sum of
    squares with an exact chi-square band (`geoqa.kernels.precision.repeats.repeatability`). It is divided by the root
    mean square of the halves reported for the same shots. The farthest visit is left out, and then the next, where the
    F ratio of what it adds to the sum of squares, with Bonferroni's factor for the number of visits, has a chance below
    `OUTLYING`: the square of the externally studentized residual, any textbook of regression.
    """
    check = np.flatnonzero(shots["role"] == "check")
    shots, halves = shots.iloc[check], {axis: half[check] for axis, half in halves.items()}
    mark = mark_of(shots, control.reset_index(drop=True))
    upright = ~(shots["tilt"] > 3.0)
    fixed = shots["solution"].fillna("fixed").eq("fixed")
    use = (upright & fixed & shots["time"].notna()).to_numpy(bool) & (mark >= 0)
    made = {}
    for axis, columns in (("h", ["easting", "northing"]), ("v", ["elevation"])):
        rows = np.flatnonzero(use & np.isfinite(halves[axis]) & shots[columns].notna().all(axis=1).to_numpy(bool))
        made[axis] = _scale(shots.iloc[rows], shots[columns].to_numpy(float)[rows], mark[rows], halves[axis][rows])
    return made


def _scale(shots: pd.DataFrame, values: np.ndarray, mark: np.ndarray, half: np.ndarray) -> Scale:
    if not len(shots):
        return Scale(factor=UNKNOWN, outlying=0, marks=0, visits=0)
    minutes = (shots["time"] - shots["time"].min()).dt.total_seconds().to_numpy(float) / 60.0
    session = shots["session"].where(shots["session"].notna(), shots["source"]).to_numpy(str)
    visits = visits_of(mark, minutes, session, close=CLOSE, independent_after=INDEPENDENT)
    found = repeatability(values, mark, session, visits)
    told = float(np.sqrt(np.mean(half[visits.first] ** 2)))
    if not told > 0:
        return Scale(factor=UNKNOWN, outlying=0, marks=found.points, visits=found.visits)
    outlying, rest = 0, values.copy()
    while outlying < LEFT_OUT:
        there = np.isfinite(rest).all(axis=1)
        first = visits.first & there
        if first.sum() < 3:
            break
        rest[np.flatnonzero(there)[_farthest(rest[there], mark[there], session[there], first[there])]] = np.nan
        fewer = repeatability(rest, mark, session, visits)
        if not _stands_out(found, fewer):
            break
        found, outlying = fewer, outlying + 1
    random = found.random
    factor = Estimate(
        value=random.value / told,
        se=random.se / told,
        low=random.low / told,
        high=random.high / told,
        dof=random.dof,
    )
    return Scale(factor=factor, outlying=outlying, marks=found.points, visits=found.visits)


def _farthest(values: np.ndarray, mark: np.ndarray, session: np.ndarray, first: np.ndarray) -> int:
    """The first shot of a visit that lies farthest from its mark and session."""
    from scipy.sparse import csr_array
    from scipy.sparse.linalg import lsmr

    rows = np.flatnonzero(first)
    numbers = [np.unique(each[rows], return_inverse=True)[1].ravel() for each in (mark, session)]
    # a season has thousands of visits, marks and sessions: a table of all by all would be solved for minutes
    at = np.arange(len(rows))
    columns = np.concatenate([numbers[0], numbers[0].max() + 1 + numbers[1]])
    effects = csr_array((np.ones(2 * len(rows)), (np.tile(at, 2), columns)))
    left = values[rows] - values[rows[0]]
    for axis in range(left.shape[1]):
        left[:, axis] -= effects @ lsmr(effects, left[:, axis], atol=1e-13, btol=1e-13, conlim=0.0)[0]
    return int(rows[np.argmax(np.sum(left**2, axis=1))])


def _stands_out(all_visits: Repeatability, without_one: Repeatability) -> bool:
    """Whether the visit that was left out lies farther off than the farthest of so many may."""
    everything, rest = all_visits.random, without_one.random
    added = everything.dof - rest.dof
    if not (added > 0 and rest.dof > 0 and rest.value > 0):
        return False  # among values that agree to the last digit printed there is no scatter to stand out of
    ratio = (everything.value**2 * everything.dof / rest.value**2 - rest.dof) / added
    return bool(all_visits.visits * fdtrc(added, rest.dof, ratio) < OUTLYING)


def scale_table(scales: dict[str, Scale]) -> pd.DataFrame:
    """`reported_scale`: one row an axis."""
    rows: list[dict[str, Any]] = []
    for axis, each in scales.items():
        row = {"axis": axis, "factor": each.factor.value, "low": each.factor.low, "high": each.factor.high}
        row |= {"dof": each.factor.dof, "marks": each.marks, "visits": each.visits, "applied": each.applied}
        rows.append(row | {"words": each.sentence()})
    return conform("reported_scale", pd.DataFrame(rows)) if rows else empty("reported_scale")
