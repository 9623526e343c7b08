"""Receivers over many jobs: whether one of them measures otherwise than the rest."""

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from geoqa.kernels.control.over_jobs import Answers, asked_in_turn
from geoqa.model.season import AXES, FEWEST_OF_RECEIVER, LEVEL

if TYPE_CHECKING:
    import pandas as pd

_COLUMNS = ["receiver", "axis", "jobs", "state", "size", "u", "low", "high", "t", "p", "others"]


def receivers_apart(checks: "pd.DataFrame", off: "pd.DataFrame") -> "pd.DataFrame":
    """Compare each receiver with all others, where they checked the same marks; else from site to site.

    A value is the mean of a receiver in a job: check shots of a job share too much to count one by one. What the
    published places of a site have in common falls out where others checked the site as well; where nobody did, sites
    are the values.

    Parameters
    ----------
    checks : DataFrame
        Of `geoqa.batch.season.checks.season_checks`.
    off : DataFrame
        What moves of marks add to each row; it is taken off.

    Returns
    -------
    DataFrame
        Table `receivers` of `geoqa.model.season.Season`.
    """
    import pandas as pd

    named = checks[checks["receiver"].fillna("") != ""]
    if not len(named):
        return pd.DataFrame(columns=_COLUMNS)
    table = named.assign(site=_sites(named), **{axis: named[axis] - off.loc[named.index, axis] for axis in AXES})
    by_job = table.groupby(["site", "job", "receiver"], as_index=False)[list(AXES)].mean()
    by_site = by_job.groupby(["site", "receiver"], as_index=False)[list(AXES)].mean()
    beside, apart = _askable(by_job, by_site)
    asked = len(AXES) * (len(beside) + len(apart))
    rows = []
    for axis in AXES:
        whole = by_job[by_job[axis].notna()].reset_index(drop=True)
        sites = by_site[by_site[axis].notna()].reset_index(drop=True)
        answers = {
            **_told(whole, whole["site"].to_numpy(int), axis, beside, asked),
            **_told(sites, np.zeros(len(sites), dtype=int), axis, apart, asked),
        }
        for receiver, mine in by_job.groupby("receiver", sort=True):
            others = by_job["receiver"].nunique() - 1
            head = {"receiver": receiver, "axis": axis, "jobs": len(mine), "others": others}
            rows.append({**head, **answers.get(str(receiver), {"state": "alone"})})
    return pd.DataFrame(rows, columns=_COLUMNS)


def _sites(checks: "pd.DataFrame") -> np.ndarray:
    """Number of the site of each row: jobs that share a mark lie on one site."""
    import pandas as pd

    job, jobs = pd.factorize(checks["job"])
    mark, marks = pd.factorize(checks["frame"] + "\n" + checks["key"])
    size = len(jobs) + len(marks)
    links = coo_array((np.ones(len(checks)), (job, len(jobs) + mark)), shape=(size, size))
    _, site = connected_components(links, directed=False)
    made: np.ndarray = site[job]
    return made


def _askable(by_job: "pd.DataFrame", by_site: "pd.DataFrame") -> tuple[list[str], list[str]]:
    """Receivers that others were beside often enough; and of the rest those that were on sites enough."""
    beside, apart = [], []
    for receiver in sorted(by_job["receiver"].unique()):
        mine = by_job["receiver"] == receiver
        shared = set(by_job["site"][mine]) & set(by_job["site"][~mine])
        there = by_job["site"].isin(list(shared))
        if min((there & mine).sum(), (there & ~mine).sum()) >= FEWEST_OF_RECEIVER:
            beside.append(str(receiver))
        elif min((own := by_site["receiver"] == receiver).sum(), (~own).sum()) >= FEWEST_OF_RECEIVER:
            apart.append(str(receiver))
    return beside, apart


def _told(table: "pd.DataFrame", blocks: np.ndarray, axis: str, asked_of: list[str], asked: int) -> dict[str, Any]:
    """Answers for some receivers, by name."""
    names = [name for name in asked_of if (table["receiver"] == name).any()]
    if table["receiver"].nunique() == 2 and len(names) == 2:  # one question: either is off if the other is not
        far = {name: abs(float(table[axis][table["receiver"] == name].mean())) for name in names}
        names = [max(names, key=lambda name: far[name])]
    if not names:
        return {}
    rows = [np.flatnonzero((table["receiver"] == name).to_numpy(bool)) for name in names]
    columns = np.zeros((len(table), len(names)))
    for nth, mine in enumerate(rows):
        columns[mine, nth] = 1.0
    found: Answers = asked_in_turn(
        table[axis].to_numpy(float), blocks, np.zeros((len(table), 0)), columns, rows=rows, level=LEVEL, asked=asked
    )
    half = found.half_width()
    told: dict[str, Any] = {name: {"state": "agrees"} for name in asked_of}
    for nth, name in enumerate(names):
        told[name] = {
            "state": "off" if nth in found.order else "agrees" if found.t[nth] == found.t[nth] else "alone",
            "size": found.size[nth], "u": found.u[nth], "low": found.size[nth] - half[nth],
            "high": found.size[nth] + half[nth], "t": found.t[nth], "p": found.p[nth],
        }  # fmt: skip
    return told
