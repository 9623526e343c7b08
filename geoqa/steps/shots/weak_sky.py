"""Places with a poor sky: near trees and walls, where the log shows it and the scatter too."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.shots.flags import all_flags, flagged
from geoqa.steps.shots.listings import counted

FEWEST = 30
"""Shots with a satellite count below which nothing is usual."""
AROUND = 7
"""Neighbours, the shot included, whose medians are compared with the job."""
OTHERS = ("pdop", "reported_h", "reported_v")
"""Fields of the log that worsen with the sky."""


class WeakSky(Step):
    """Flag shots in places where satellites are few for this job and another field of the log worsens too.

    The medians of a shot and its nearest neighbours are compared with those of the whole job, so that one bad
    epoch is no zone. Satellites must be below the usual count by `drop` standard errors of such a
    median, and PDOP or a reported precision above `worse` times the usual. A shot next to such a place belongs to it if
    its own satellites are fewer than the usual scatter explains and its own other field is worse: medians alone
    would cut the edges off. A fixed solution in such a place may still be off by more than the receiver says.
    """

    name = "weak-sky"
    needs = ("shots",)
    adds = ("flags",)

    reach: Length = Field(Length.parse("60 ft"), description="Farthest neighbour")
    drop: float = Field(3.0, gt=0, description="Standard errors of a local median by which satellites must be fewer")
    worse: float = Field(1.3, gt=1, description="Ratio to the usual from which another field counts as worse")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Local medians against the job."""
        layers = counted(layers)
        shots, unit = layers["shots"], layers.frame.unit
        count = shots["satellites"].to_numpy(float, na_value=np.nan)
        rows = np.flatnonzero(np.isfinite(count) & shots["easting"].notna() & shots["northing"].notna())
        if len(rows) < FEWEST:
            return {"flags": all_flags([])}
        near = _neighbours(shots, rows, self.reach.to(unit))
        usual, spread = _usual(count[rows])
        local = _local(count[rows], near)
        low = local < usual - self.drop * 1.253 * spread / np.sqrt(AROUND)
        others = {name: shots[name].to_numpy(float, na_value=np.nan)[rows] for name in OTHERS}
        others = {name: values for name, values in others.items() if np.isfinite(values).mean() > 0.5}
        ratio = {name: _local(values, near) / np.nanmedian(values) for name, values in others.items()}
        weak = low & _any([values > self.worse for values in ratio.values()], low)
        few = count[rows] < usual - spread
        poor = few & _any([values > self.worse * np.nanmedian(values) for values in others.values()], few)
        edge = _grown(weak, near, poor) & ~weak
        listed = np.flatnonzero(weak | edge)
        # of a shot at the edge of such a place no medians are given
        worse = {
            column: np.where(weak[listed] & (ratio[name][listed] > self.worse), ratio[name][listed], np.nan)
            for column, name in zip(("second", "third", "fourth"), OTHERS, strict=True)
            if name in ratio
        }
        part = flagged(
            shots, rows[listed], flag="weak-sky", reject=False, step=self.name,
            variant=np.where(edge[listed], "edge", "around"), unit="count", limit=usual,
            number=np.where(edge[listed], count[rows[listed]], local[listed]), **worse,
        )  # fmt: skip
        return {"flags": all_flags([part])}


def _any(worse: list[np.ndarray], without: np.ndarray) -> np.ndarray:
    """Where any of several fields is worse; `without` where the log holds none of them."""
    return np.any(worse, axis=0) if worse else without


def _grown(weak: np.ndarray, near: np.ndarray, poor: np.ndarray) -> np.ndarray:
    """Places with the poor shots next to them, and those next to these.

    Examples
    --------
    >>> near = np.array([[0, 1], [1, 2], [2, 3], [3, -1]])
    >>> _grown(np.array([True, False, False, False]), near, np.array([True, True, False, True])).tolist()
    [True, True, False, False]
    """
    near = np.where(near < 0, np.arange(len(near))[:, None], near)
    seen = weak.copy()
    while True:
        beside = seen[near].any(axis=1)
        beside[near[seen]] = True
        more = seen | (beside & poor)
        if (more == seen).all():
            return seen
        seen = more


def _neighbours(shots: pd.DataFrame, rows: np.ndarray, reach: float) -> np.ndarray:
    """Places in `rows` of each shot and its nearest neighbours; -1 beyond reach."""
    from scipy.spatial import cKDTree

    place = shots[["easting", "northing"]].to_numpy(float)[rows]
    place = place - place[0]
    # shots come along lines: a tree cut in the middle of its box is made faster, and finds as fast
    near = cKDTree(place, balanced_tree=False, compact_nodes=False).query(place, k=AROUND, distance_upper_bound=reach)[
        1
    ]
    return np.where(near < len(rows), near, -1)


def _local(values: np.ndarray, near: np.ndarray) -> np.ndarray:
    """Median over neighbours; NaN where fewer than five are in reach."""
    seen = np.where(near >= 0, values[near], np.nan)
    enough = np.isfinite(seen).sum(axis=1) >= 5
    ordered = np.sort(seen, axis=1)
    count = np.isfinite(seen).sum(axis=1)
    low, high = np.maximum((count - 1) // 2, 0), np.minimum(count // 2, AROUND - 1)
    row = np.arange(len(seen))
    return np.where(enough, (ordered[row, low] + ordered[row, high]) / 2, np.nan)


def _usual(values: np.ndarray) -> tuple[float, float]:
    middle = float(np.median(values))
    return middle, max(1.4826 * float(np.median(np.abs(values - middle))), 0.5)
