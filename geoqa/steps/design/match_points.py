"""Which design point each shot is of."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.kernels.design.matching import SURE, assign
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of, taken

_REPEAT = 6.0  # a second shot of a point is one twentieth as likely as a first
_NEAREST = 8  # candidates of a shot: more points than this within reach are no question of which


class MatchPoints(Step):
    """Match shots of point features to design points of their kind.

    A shot that carries the name of a design point (as line ID, shot name or note) is that point, however
    far away. The others are matched together, so that the total of squared distances over `scale`
    is least, where a second shot of one point costs extra. A match that could as well be another is
    left ambiguous.
    """

    name = "match-points"
    needs = ("shots.kind", "shots.role", "design_points")
    gives = ("point_matches",)

    reach: Length = Field(
        Length.parse("10 ft"), description="Farthest design point considered; as in the step beyond-design"
    )
    scale: Length = Field(
        Length.parse("0.5 ft"), description="Plausible error of construction, 1 sigma, for telling points apart"
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
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
        distance = np.hypot(*(at[shot] - points[["easting", "northing"]].to_numpy(float)[place]).T)
        won, likely = assign(shot, place, (distance / self.scale.to(unit)) ** 2, repeat=_REPEAT, closed=gone)
        unsure = np.isin(shot, shot[won & (likely < SURE)])
        by_name = np.flatnonzero(named >= 0)
        every_shot, every_place = np.append(shot, by_name), np.append(place, named[by_name])
        chosen = np.append(won & ~unsure, np.full(len(by_name), True))
        ambiguous = np.append(unsure, np.full(len(by_name), False))
        odds = np.append(_odds(shot, won, likely), np.ones(len(by_name)))
        order = np.lexsort((every_place, every_shot))
        table = self._table(shots, points, at, every_shot[order], every_place[order], unit)
        table["odds"], table["chosen"], table["ambiguous"] = odds[order], chosen[order], ambiguous[order]
        return {"point_matches": conform("point_matches", table)}

    def _table(
        self,
        shots: pd.DataFrame,
        points: pd.DataFrame,
        at: np.ndarray,
        shot: np.ndarray,
        place: np.ndarray,
        unit: LengthUnit,
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


def _odds(shot: np.ndarray, won: np.ndarray, likely: np.ndarray) -> np.ndarray:
    """Odds of every pair: the winner's own, and the rest shared by the other candidates of its shot."""
    if not len(shot):
        return np.zeros(0)
    of_winner = np.zeros(shot.max() + 1)
    of_winner[shot[won]] = likely[won]
    rivals = np.maximum(np.bincount(shot)[shot] - 1, 1)
    return np.where(won, likely, (1 - of_winner[shot]) / rivals)


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
