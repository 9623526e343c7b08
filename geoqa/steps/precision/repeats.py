"""What the crew's own repeated shots say about its uncertainty."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.kernels.precision.estimate import UNKNOWN, Estimate
from geoqa.kernels.precision.repeats import Repeatability, Visits, by_gap, pairs_of, repeatability, visits_of
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import mark_of
from geoqa.model.tables.shot_flags import has_flag
from geoqa.model.words import length, many
from geoqa.steps.causes.left_out import left_out, told
from geoqa.steps.precision.uncertainty import one_sigma

GAPS = (0.0, 10.0, 30.0, 120.0, 240.0, 1440.0, 1e9)
"""Minutes that part the classes of time between two shots of a point."""
NOT_MEASURED_TWICE = frozenset({"row-twice", "two-names", "identical-to-design"})
UPRIGHT = 3.0  # degrees; a leaning shot repeats another error


class Repeats(Step):
    """Learn random and common uncertainty from points that were shot more than once.

    Repeated are check shots on one mark, and feature shots of one kind and
    line ID within `apart` in plan. A shot soon after
    another shares its errors: it is counted as too close and enters neither the random nor the common part. What
    soon repeated shots differ by is shown as `near`, and is not an accuracy. Rejected rows, rows exported twice,
    shots under a named blunder, leaning shots and tilt tests are left out. Points found by nearness alone hide
    differences larger than `apart`.

    Nothing is fed back into the verdicts by itself: a wrong foot in one session would look like an uncertainty of
    feet, under which every blunder is silent. The last column of `crew_precision` says what to write into a job.
    """

    name = "repeats"
    needs = ("shots.kind", "shots.role", "shots.use", "shots.flags", "control", "sources")
    wants = ("cause_shots",)
    gives = ("repeat_sets", "repeat_gaps", "crew_precision")

    apart: Length = Field(Length.parse("0.15 ft"), description="Plan distance up to which two shots are of one place")
    close: float = Field(10.0, ge=0, description="Minutes within which a repeat shares short-lived errors")
    independent: float = Field(240.0, gt=0, description="Minutes after which a repeat counts as independent")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Points, differences by time between shots, and what they say; empty without repeats."""
        shots, without = self._usable(layers)
        point = self._points(shots, layers)
        count = point.value_counts()
        kept = point.isin(count.index[count > 1]).to_numpy()
        shots, point = shots[kept].reset_index(drop=True), point[kept].reset_index(drop=True)
        if not len(shots):
            return {name: empty(name) for name in self.gives}
        minutes = (shots["time"] - shots["time"].min()).dt.total_seconds().to_numpy(float) / 60.0
        group = shots["session"].where(shots["session"].notna(), shots["source"]).to_numpy(str)
        label = point.to_numpy(str)
        visits = visits_of(label, minutes, group, close=self.close, independent_after=self.independent)
        places = [shots[name].to_numpy(float) for name in ("easting", "northing", "elevation")]
        gaps = vars(by_gap(pairs_of(label, minutes, *places), GAPS))
        gaps = {"pairs_h" if k == "count_h" else "pairs_v" if k == "count_v" else k: v for k, v in gaps.items()}
        found = {
            "h": repeatability(np.column_stack(places[:2]), label, group, visits),
            "v": repeatability(places[2], label, group, visits),
        }
        return {
            "repeat_sets": _sets(shots, point, minutes, group, visits),
            "repeat_gaps": conform("repeat_gaps", pd.DataFrame(gaps)),
            "crew_precision": _precision(
                found, shots, layers["sources"], layers.frame.unit.name, self.independent, without
            ),
        }

    @staticmethod
    def _usable(layers: Layers) -> tuple[pd.DataFrame, str]:
        """Shots that may count, and the ones left out of them in words."""
        shots = layers["shots"]
        twice = has_flag(shots, *NOT_MEASURED_TWICE)
        whole = shots[["easting", "northing"]].notna().all(axis=1) & shots["time"].notna()
        upright = ~(shots["tilt"] > UPRIGHT)
        mine = shots["use"] & whole & upright & ~twice & shots["role"].isin(["feature", "check"])
        usable = pd.DataFrame(shots[_READ])[mine].reset_index(drop=True)
        apart = left_out(layers, usable, against_marks=False)
        return usable[apart.isna()].reset_index(drop=True), told(usable, apart)

    def _points(self, shots: pd.DataFrame, layers: Layers) -> pd.Series:
        """Name of the point of every shot: its mark, or the first shot within reach."""
        control = layers["control"].reset_index(drop=True)
        check = (shots["role"] == "check").to_numpy()
        names = shots["shot_key"].to_numpy(dtype=object)
        for rows in _near(shots[~check], self.apart.to(layers.frame.unit)):
            names[rows] = names[rows[0]]
        on = np.flatnonzero(check)
        mark = mark_of(shots.iloc[on], control)
        names[on[mark >= 0]] = control["mark"].to_numpy(dtype=object)[mark[mark >= 0]]
        return pd.Series(names, dtype="str")


_READ = [
    *("shot_key", "shot", "source", "session", "time", "kind", "role", "line_id", "note"),
    *("easting", "northing", "elevation", "reported_h", "reported_v"),
]
"""Columns that repeats are told from."""


def _near(shots: pd.DataFrame, apart: float) -> list[np.ndarray]:
    """Rows of shots of one kind and line ID that hang together within a distance, in the order of time."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    ordered = shots[shots["kind"].notna()].sort_values("time", kind="stable")
    if not len(ordered):
        return []
    group = ordered.groupby([ordered["kind"], ordered["line_id"].fillna("")], sort=False).ngroup().to_numpy()
    places = ordered[["easting", "northing"]].to_numpy(float)
    # one tree for all: what may not be joined lies on another floor
    floors = np.column_stack([places - places.mean(axis=0), 2.0 * apart * group])
    one, other = cKDTree(floors).query_pairs(apart, output_type="ndarray").T
    joined = coo_array((np.ones(len(one)), (one, other)), shape=(len(ordered), len(ordered)))
    number = connected_components(joined, directed=False)[1]
    together = np.flatnonzero(np.bincount(number)[number] > 1)
    together = together[np.argsort(number[together], kind="stable")]
    rows = ordered.index.to_numpy()[together]
    return np.split(rows, np.flatnonzero(np.diff(number[together])) + 1) if len(rows) else []


def _sets(
    shots: pd.DataFrame, point: pd.Series, minutes: np.ndarray, group: np.ndarray, visits: Visits
) -> pd.DataFrame:
    rows = []
    for name, index in point.groupby(point, sort=True).groups.items():
        at = np.asarray(index)
        east, north, level = (shots[each].to_numpy(float)[at] for each in ("easting", "northing", "elevation"))
        apart = np.hypot(east[:, None] - east, north[:, None] - north)
        known = level[np.isfinite(level)]
        rows.append(
            {
                "point": name,
                "kind": shots["kind"].iloc[at[0]],
                "shots": len(at),
                "independent": int(visits.first[at].sum()),
                "too_close": int(len(at) - visits.first[at].sum()),
                "sessions": len(set(group[at])),
                "hours": float(np.ptp(minutes[at])) / 60.0,
                "spread_h": float(apart.max()),
                "spread_v": float(np.ptp(known)) if known.size > 1 else np.nan,
            }
        )
    return conform("repeat_sets", pd.DataFrame(rows))


_WORDS = {
    "random": "1 sigma of one shot within its session, from visits that are independent",
    "common": "1 sigma shared by all shots of a session; unknown unless points were visited in two sessions",
    "absolute": "1 sigma of a shot taken alone: random and common together",
    "near": "1 sigma between shots minutes apart: they share their errors; NOT an accuracy",
    "rho": "share of the random variance that shots minutes apart have in common",
}


def _precision(
    by_axis: dict[str, Repeatability],
    shots: pd.DataFrame,
    sources: pd.DataFrame,
    unit: str,
    independent: float,
    without: str,
) -> pd.DataFrame:
    rows: list[tuple[Any, ...]] = []
    for axis, each in by_axis.items():
        rests = (each.points, each.groups, each.visits)
        for part, words in _WORDS.items():
            estimate: Estimate = getattr(each, part)
            said = words
            if not np.isfinite(estimate.value):
                seen = f"{many(each.visits, 'visit')} {independent:g} min apart"
                said = f"cannot be told from {seen} on {many(each.points, 'point')}"
            elif part in ("random", "common"):
                name = f"{'horizontal' if axis == 'h' else 'vertical'}_{part}"
                said = f'{words}; for [uncertainty.default]: {name} = "{length(estimate.value, unit)}"'
            rows.append((axis, part, "1" if part == "rho" else unit, estimate, *rests, said))
        rows.append((axis, "reported", "1", *_reported(each.absolute, one_sigma(shots, sources, axis), rests)))
    made = pd.DataFrame(
        [
            (axis, part, kind, each.value, each.low, each.high, each.dof, *rest)
            for axis, part, kind, each, *rest in rows
        ],
        columns=["axis", "part", "unit", "value", "low", "high", "dof", "points", "groups", "visits", "words"],
    ).assign(without=without)
    return conform("crew_precision", made)


def _reported(absolute: Estimate, log: np.ndarray, rests: tuple[int, int, int]) -> tuple[Any, ...]:
    """How many times the crew's real uncertainty is what its log reports."""
    log = log[np.isfinite(log) & (log > 0)]
    if not log.size:
        return UNKNOWN, *rests, "the log reports no precision"
    if not np.isfinite(absolute.value):
        return UNKNOWN, *rests, "the reported precision cannot be held against independent repeats"
    middle = float(np.median(log))
    low, high = absolute.low / middle, absolute.high / middle
    ratio = Estimate(value=absolute.value / middle, se=absolute.se / middle, low=low, high=high, dof=absolute.dof)
    said = "agrees with"
    if low > 1:
        said = "is too good for"
    elif high < 1:
        said = "is too cautious for"
    return ratio, *rests, f"real over reported uncertainty; the log, at 1 sigma, {said} the repeats"
