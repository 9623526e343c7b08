"""Marks that many jobs checked: which of them moved, when, and by how much."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.kernels.control.over_jobs import Answers, asked_in_turn
from geoqa.model.season import AXES, FEWEST_JOBS, LEVEL

if TYPE_CHECKING:
    import pandas as pd

MOST_CUTS = 40
"""Dates at which a mark is asked whether it moved then; of one that more jobs checked, evenly many."""
_COLUMNS = ["mark", "easting", "northing", "axis", "jobs", "sessions", "state", "size", "u", "low", "high", "t", "p",
            "after", "before", "published"]  # fmt: skip
_VALUES = ["mark", "axis", "job", "session", "time", "value", "u"]


@dataclass(frozen=True, kw_only=True)
class _Cut:
    """A question: whether a mark moved between two of its jobs."""

    mark: str
    rows: np.ndarray
    later: np.ndarray
    after: Any
    before: Any


def drifting_marks(checks: "pd.DataFrame") -> tuple["pd.DataFrame", "pd.DataFrame", "pd.DataFrame"]:
    """Hold every mark against the others of its sessions, over all jobs.

    A session's own error falls out, for all its marks share it; so a session with one mark says nothing here. A mark
    moved where it lies otherwise from some job on than before, by more than chance explains, all marks, dates and axes
    counted, with at least two jobs on either side.

    Returns
    -------
    (marks, values, taken off)
        Tables `marks` and `mark_values` of `geoqa.model.season.Season`; and what the moves add to each row of
        `checks` along each axis, on its index.
    """
    import pandas as pd

    off = pd.DataFrame(0.0, index=checks.index, columns=list(AXES))
    rows, values = [], []
    seen = _visits(checks)
    told = {axis: _of_axis(seen, axis) for axis in AXES}
    asked = sum(len(cuts) for _, cuts in told.values())
    for axis, (table, cuts) in told.items():
        if not cuts:
            rows += _rows(checks, table, axis, [], None)
            continue
        found = _ask(table, axis, cuts, asked)
        rows += _rows(checks, table, axis, cuts, found)
        moves = np.zeros(len(table))
        for nth in found.order:
            moves[cuts[nth].later] += found.size[nth]
        values.append(table.assign(axis=axis, value=moves + found.left, u=found.spread))
        for nth in found.order:
            since = (checks["key"] == cuts[nth].mark) & (checks["time"] >= cuts[nth].before)
            off.loc[since, axis] += found.size[nth]
    marks = pd.DataFrame(rows, columns=_COLUMNS)
    kept = pd.concat(values, ignore_index=True) if values else pd.DataFrame(columns=["key", *_VALUES[1:]])
    shown = kept.rename(columns={"key": "mark"})[_VALUES].sort_values(["mark", "axis", "time"], ignore_index=True)
    return marks.sort_values(["mark", "axis"], ignore_index=True), shown, off


def alone(checks: "pd.DataFrame") -> int:
    """Sessions that checked one mark only."""
    return int((checks.groupby("visit")["key"].nunique() == 1).sum())


def _visits(checks: "pd.DataFrame") -> "pd.DataFrame":
    """One row for each mark of each session: the mean of its check shots there."""
    timed = checks[checks["time"].notna()]
    made = {**{f"value_{axis}": (f"value_{axis}", "mean") for axis in AXES}, "time": ("time", "min")}
    told = timed.groupby(["visit", "key"], sort=True, as_index=False).agg(
        job=("job", "first"), session=("session", "first"), **made
    )
    first = told.groupby(["key", "job"])["time"].transform("min")
    return told.assign(first=first)


def _of_axis(seen: "pd.DataFrame", axis: str) -> tuple["pd.DataFrame", list[_Cut]]:
    """Rows that say something along an axis, and what is asked of them."""
    table = seen[seen[f"value_{axis}"].notna()]
    while True:  # what is left must have company on both sides: its session other marks, its mark other sessions
        enough = table.groupby("visit")["key"].transform("size").gt(1) & table.groupby("key")["visit"].transform(
            "size"
        ).gt(1)
        if enough.all():
            break
        table = table[enough]
    table = table.reset_index(drop=True)
    cuts: list[_Cut] = []
    for mark, found in sorted(table.groupby("key").indices.items()):
        rows = np.asarray(found)
        first = table["first"].iloc[rows]
        starts = sorted(set(zip(first, table["job"].iloc[rows], strict=True)))
        places = list(range(FEWEST_JOBS, len(starts) - FEWEST_JOBS + 1))
        if len(places) > MOST_CUTS:
            places = [places[nth] for nth in np.linspace(0, len(places) - 1, MOST_CUTS).round().astype(int)]
        for place in places:
            before = starts[place][0]
            later = rows[(first >= before).to_numpy(bool)]
            if 0 < len(later) < len(rows):
                cuts.append(_Cut(mark=str(mark), rows=rows, later=later, after=starts[place - 1][0], before=before))
    return table, cuts


def _ask(table: "pd.DataFrame", axis: str, cuts: list[_Cut], asked: int) -> Answers:
    import pandas as pd

    mark, names = pd.factorize(table["key"], sort=True)
    visit, _ = pd.factorize(table["visit"], sort=True)
    columns = np.zeros((len(table), len(cuts)))
    for nth, cut in enumerate(cuts):
        columns[cut.later, nth] = 1.0
    return asked_in_turn(
        table[f"value_{axis}"].to_numpy(float),
        visit,
        np.eye(len(names))[mark],
        columns,
        rows=[cut.rows for cut in cuts],
        level=LEVEL,
        asked=asked,
    )


def _rows(
    checks: "pd.DataFrame", table: "pd.DataFrame", axis: str, cuts: list[_Cut], found: Answers | None
) -> list[dict[str, Any]]:
    """A row for each move of each mark, and one for each mark without."""
    half = found.half_width() if found is not None else np.zeros(0)
    rows = []
    for mark, mine in checks.groupby("key", sort=True):
        places = mine[[f"published_{name}" for name in AXES]].round(4).drop_duplicates()
        head = {
            "mark": mark, "easting": mine["published_easting"].iloc[0], "northing": mine["published_northing"].iloc[0],
            "axis": axis, "jobs": mine["job"].nunique(), "sessions": mine["visit"].nunique(), "published": len(places),
        }  # fmt: skip
        own = [nth for nth, cut in enumerate(cuts) if cut.mark == mark]
        if found is None or not own:
            rows.append({**head, "state": "few"})
            continue
        moved = [nth for nth in found.order if nth in own]
        with_p = [nth for nth in own if found.p[nth] == found.p[nth]]
        for nth in moved or ([min(with_p, key=lambda each: found.p[each])] if with_p else own[:1]):
            rows.append({
                **head, "state": "moved" if moved else "still", "size": found.size[nth], "u": found.u[nth],
                "low": found.size[nth] - half[nth], "high": found.size[nth] + half[nth], "t": found.t[nth],
                "p": found.p[nth], "after": cuts[nth].after if moved else None,
                "before": cuts[nth].before if moved else None,
            })  # fmt: skip
    return rows
