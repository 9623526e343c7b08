"""Which design point each shot is of."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.kernels.matching import SURE, assign, choose
from geoqa.model.columns import conform
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.steps.text import rows_of, taken

_NEAREST = 8  # candidates of a shot: more points than this within reach are no question of which


class MatchPoints(Step):
    """Match shots of point features to design points of their kind.

    A shot that carries the name of a design point (as line ID, shot name or note) is that point, however
    far away. The others are matched one to one, so that the total of squared distances over
    `scale` is least; a shot left over is a repeat of the point it lies at. A match that could
    as well be another is left ambiguous.
    """

    name = "match-points"
    needs = ("shots.kind", "shots.role", "design_points")
    gives = ("point_matches",)

    reach: Length = Field(Length.parse("10 ft"), description="Farthest design point considered; as in the step extra")
    scale: Length = Field(
        Length.parse("0.5 ft"), description="Plausible error of construction, 1 sigma, for telling points apart"
    )

    def run(self, layers: Any) -> dict[str, Any]:
        """Names first, then distances."""
        shots, unit = layers["shots"], layers.frame.unit
        points = layers["design_points"].sort_values("point", ignore_index=True)
        at = shots[["easting", "northing"]].to_numpy(float)
        kinds = sorted(set(points["kind"]))
        group = np.where((shots["role"] == "feature") & np.isfinite(at).all(axis=1), rows_of(shots["kind"], kinds), -1)
        named = _named(shots, points)
        named[group < 0] = -1
        shot, place = _near(np.flatnonzero((group >= 0) & (named < 0)), at, group, points, kinds, self.reach.to(unit))
        gone = np.isin(place, named[named >= 0])
        taken_row, sure, odds = self._one_to_one(shot, place, gone, at, points, unit)
        by_name = np.flatnonzero(named >= 0)
        every_shot, every_place = np.append(shot, by_name), np.append(place, named[by_name])
        chosen = np.append(taken_row & sure, np.full(len(by_name), True))
        ambiguous = np.append(~sure, np.full(len(by_name), False))
        odds = np.append(odds, np.ones(len(by_name)))
        order = np.lexsort((every_place, every_shot))
        table = self._table(shots, points, at, every_shot[order], every_place[order], unit)
        table["odds"], table["chosen"], table["ambiguous"] = odds[order], chosen[order], ambiguous[order]
        return {"point_matches": conform("point_matches", table)}

    def _one_to_one(
        self, shot: np.ndarray, place: np.ndarray, gone: np.ndarray, at: np.ndarray, points: pd.DataFrame, unit: Any
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Pair chosen for each shot, whether it is sure, and odds; repeats go to the point they lie at."""
        distance = np.hypot(*(at[shot] - points[["easting", "northing"]].to_numpy(float)[place]).T)
        cost = (distance / self.scale.to(unit)) ** 2
        free = np.flatnonzero(~gone)
        unmatched = (self.reach.to(unit) / self.scale.to(unit)) ** 2 + 2 * _MARGIN
        won, certain = assign(shot[free], place[free], cost[free], unmatched=unmatched)
        choice = choose(shot, cost)
        row, odds, sure = choice.chosen.copy(), choice.odds.copy(), ~choice.ambiguous
        # a shot with a place of its own: judged by the joint matching instead
        with_place = np.isin(shot, shot[free][won])
        row[with_place] = False
        row[free[won]] = True
        odds[free[won]] = certain[won]
        safe = np.isin(shot, shot[free][won & (certain >= SURE)])
        sure = np.where(with_place, safe, sure)
        return row, sure, odds

    def _table(
        self, shots: pd.DataFrame, points: pd.DataFrame, at: np.ndarray, shot: np.ndarray, place: np.ndarray, unit: Any
    ) -> pd.DataFrame:
        away = at[shot] - points[["easting", "northing"]].to_numpy(float)[place]
        distance = np.hypot(away[:, 0], away[:, 1])
        azimuth = np.degrees(np.arctan2(away[:, 0], away[:, 1])) % 360.0
        return pd.DataFrame(
            {
                "shot_key": shots["shot_key"].take(shot).reset_index(drop=True),
                "design": taken(points["point"], place),
                "distance": distance,
                "design_elevation": points["elevation"].to_numpy(float)[place],
                "azimuth": np.where(distance > 0, azimuth, np.nan),
                "cost": (distance / self.scale.to(unit)) ** 2,
            }
        )


_MARGIN = 6.0


def _named(shots: pd.DataFrame, points: pd.DataFrame) -> np.ndarray:
    """Design point of its own kind that a shot names; -1 for none."""
    kind = shots["kind"].to_numpy(dtype=object)
    point_kind = points["kind"].to_numpy(dtype=object)
    found = np.full(len(shots), -1)
    for column in ("line_id", "shot", "note"):
        row = rows_of(shots[column].str.strip(), points["point"])
        fits = (row >= 0) & (found < 0)
        fits[fits] = point_kind[row[fits]] == kind[fits]
        found[fits] = row[fits]
    return found


def _near(
    rows: np.ndarray, at: np.ndarray, group: np.ndarray, points: pd.DataFrame, kinds: list[str], reach: float
) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of shot and design point of one kind within reach, sorted by shot and point."""
    from scipy.spatial import cKDTree

    there = points[["easting", "northing"]].to_numpy(float)
    shots, places = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for number, kind in enumerate(kinds):
        mine, theirs = rows[group[rows] == number], np.flatnonzero(points["kind"] == kind)
        if not (len(mine) and len(theirs)):
            continue
        count = min(_NEAREST, len(theirs))
        origin = there[theirs[0]]
        distance, near = cKDTree(there[theirs] - origin).query(at[mine] - origin, k=count, distance_upper_bound=reach)
        row, column = np.nonzero(np.isfinite(distance.reshape(len(mine), count)))
        shots.append(mine[row])
        places.append(theirs[near.reshape(len(mine), count)[row, column]])
    shot, place = np.concatenate(shots), np.concatenate(places)
    order = np.lexsort((place, shot))
    return shot[order], place[order]
