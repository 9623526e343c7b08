"""Pairs taken the wrong way round: a curb top below its flow line."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.shots.flags import all_flags, flagged
from geoqa.steps.shots.listings import counted

FEWEST = 6
"""Pairs needed before the usual step between two kinds is known."""


class SwappedPairs(Step):
    """Flag two shots of paired codes whose step in elevation is the reverse of all the others.

    Pairs are those of the code list, each shot with the nearest of the partner code within `reach`. The usual step is
    the median of all pairs. A lowered curb has no step, never a reversed one: only a step of the wrong
    sign and at least `share` of the usual size counts. Both shots are left out until the codes are settled.
    """

    name = "swapped-pairs"
    needs = ("shots.kind", "shots.role", "codes")
    adds = ("flags",)

    reach: Length = Field(Length.parse("5 ft"), description="Farthest partner, in plan")
    least: Length = Field(Length.parse("0.20 ft"), description="Usual steps smaller than this one prove nothing")
    share: float = Field(0.5, gt=0, le=1, description="Size of a reversed step, as a share of the usual one")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Every pair of codes once."""
        layers = counted(layers)
        shots, codes, unit = layers["shots"], layers["codes"], layers.frame.unit
        pairs = {
            tuple(sorted((str(row["code"]), str(row["pairs_with"]))))
            for row in codes[codes["pairs_with"].notna() & (codes["geometry"] == "line")].to_dict("records")
        }
        parts = []
        for one, two in sorted(pairs):
            parts += self._reversed(shots, one, two, unit)
        return {"flags": all_flags(parts)}

    def _reversed(self, shots: pd.DataFrame, one: str, two: str, unit: LengthUnit) -> list[pd.DataFrame]:
        from scipy.spatial import cKDTree

        code = shots["code"].str.strip()
        there = shots[["easting", "northing", "elevation"]].notna().all(axis=1)
        first, second = (np.flatnonzero((code == each) & there) for each in (one, two))
        if len(first) < FEWEST or len(second) < FEWEST:
            return []
        place = shots[["easting", "northing", "elevation"]].to_numpy(float)
        origin = place[first[0], :2]
        distance, partner = cKDTree(place[second, :2] - origin).query(
            place[first, :2] - origin, distance_upper_bound=self.reach.to(unit)
        )
        paired = np.flatnonzero(np.isfinite(distance))
        if len(paired) < FEWEST:
            return []
        first, second = first[paired], second[partner[paired]]
        step = place[second, 2] - place[first, 2]
        usual = float(np.median(step))
        if abs(usual) < self.least.to(unit):
            return []
        wrong = np.flatnonzero(step * np.sign(usual) < -self.share * abs(usual))
        names = shots["shot"].fillna(shots["shot_key"])
        parts = []
        for mine, other, own, partners in ((first, second, one, two), (second, first, two, one)):
            rows, keep = np.unique(mine[wrong], return_index=True)
            parts.append(
                flagged(
                    shots, rows, flag="swapped-pair", reject=True, step=self.name, number=step[wrong][keep],
                    limit=usual, unit="job", count=len(paired), other=names.iloc[other[wrong][keep]],
                    written=own, proposal=partners,
                )
            )  # fmt: skip
        return parts
