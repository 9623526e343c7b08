"""Which design line each shot is of."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.kernels.design.matching import choose, string_penalty
from geoqa.kernels.design.station import candidates
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import alignments
from geoqa.steps.judging.text_columns import codes_of, rows_of, taken

_MOST = 6.0  # a word from the crew or the string tips an even choice twenty to one, and no more


class MatchLines(Step):
    """List every design line of its kind within reach of a shot, and choose where that is safe.

    A candidate costs the square of its distance over `scale`. The other shots of the string (same
    code and line ID), and a line ID that names a candidate, add to the cost of the others.
    A shot that could as well belong to another line, and would be judged differently there, is
    left ambiguous.
    """

    name = "match-lines"
    needs = ("shots.kind", "shots.role", "design_elements", "design_lines")
    wants = ("chorded_curves",)  # whoever compares with lines comes after both
    gives = ("line_matches",)

    reach: Length = Field(
        Length.parse("10 ft"), description="Farthest design line considered; as in the step beyond-design"
    )
    scale: Length = Field(
        Length.parse("0.5 ft"), description="Plausible error of construction, 1 sigma, for telling lines apart"
    )
    alike: Length = Field(
        Length.parse("0.03 ft"), description="Lines whose offset and elevation agree this well are no rivals"
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Search within kinds, weigh, choose."""
        shots, unit, design = layers["shots"], layers.frame.unit, alignments(layers)
        group = np.where(shots["role"] == "feature", rows_of(shots["kind"], design.groups), -1)
        rows = np.flatnonzero(group >= 0)
        pairs = candidates(
            shots[["easting", "northing"]].to_numpy(float)[rows],
            design.elements,
            reach=self.reach.to(unit),
            index=design.index(self.reach.to(unit), by_kind=True),
            point_group=group[rows],
        )
        row = rows[pairs.point]
        own = (pairs.distance / self.scale.to(unit)) ** 2
        cost = own + string_penalty(row, pairs.line, own, _strings(shots)[row], most=_MOST)
        cost += _named(pairs.point, pairs.line, rows_of(shots["line_id"].str.strip(), design.names)[row])
        values = np.column_stack([pairs.offset, pairs.elevation])
        choice = choose(pairs.point, cost, values=values, alike=self.alike.to(unit))
        table = pd.DataFrame(
            {
                "shot_key": shots["shot_key"].take(row).reset_index(drop=True),
                "design": taken(design.names, pairs.line),
                "station": pairs.station,
                "offset": pairs.offset,
                "along": pairs.along,
                "distance": pairs.distance,
                "design_elevation": pairs.elevation,
                "azimuth": pairs.azimuth,
                "cost": cost,
                "odds": choice.odds,
                "chosen": choice.chosen,
                "ambiguous": choice.ambiguous,
            }
        )
        return {"line_matches": conform("line_matches", table)}


def _strings(shots: pd.DataFrame) -> np.ndarray:
    """Number of the string each shot belongs to; -1 where it has no line ID."""
    string = codes_of(shots["code"].str.strip(), shots["line_id"].str.strip())[0] if len(shots) else np.zeros(0, int)
    return np.where(shots["line_id"].isna(), -1, string)


def _named(point: np.ndarray, line: np.ndarray, named: np.ndarray) -> np.ndarray:
    """Cost of the other candidates where the line ID names one of them."""
    hit = (line == named) & (named >= 0)
    any_hit = np.bincount(point[hit], minlength=point.max() + 1 if len(point) else 0) > 0
    return np.where(any_hit[point] & ~hit, _MOST, 0.0) if len(point) else np.zeros(0)
