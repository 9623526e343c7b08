"""Pipes as bodies in space: their legs, by shots on top or by the inverts of their ends, with sizes and walls."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.model.tables.layer import Layers
from geoqa.model.words import COVERED_KINDS
from geoqa.steps.linework.observed import observed
from geoqa.steps.shots.strings import pass_words
from geoqa.steps.utilities.ends import notes_of, pipe_ends
from geoqa.steps.utilities.noted import noted_names
from geoqa.steps.utilities.pipes import attributes, network
from geoqa.steps.utilities.questions import questions
from geoqa.steps.utilities.tops import pipe_shots

PIPE_CHECKS = ("pipe-slope", "straightness", "straightness-of-diameter", "cover", "clearance", "separation")
"""Checks whose limits say that a kind is one of pipes."""


def pipe_kinds(layers: Layers) -> set[str]:
    """Kinds whose shots lie on pipes.

    Those with a limit of pipes, those of buried pipes by their name, those of pipes that were noted, and those of which
    the code list says how they are known: what crosses a pipe with a limit need not have one of its own.
    """
    limits, codes = layers["limits"], layers["codes"]
    kinds = set(limits.loc[limits["check"].isin(PIPE_CHECKS), "kind"]) | COVERED_KINDS
    kinds |= set(notes_of(layers)["kind"].dropna())
    if "known_by" in codes:
        kinds |= set(codes.loc[codes["known_by"].notna(), "kind"])
    shots = layers["shots"]
    noted = shots["line_id"].isin(notes_of(layers)["pipe"].dropna())
    lines = shots["code"].isin(codes.loc[codes["geometry"] == "line", "code"])
    return kinds | set(shots.loc[noted & lines, "kind"].dropna())


@dataclass(frozen=True, kw_only=True, eq=False)
class Body:
    """A pipe.

    Attributes
    ----------
    name, kind, source : str
        The name says which pass of the pipe it is, but for the first.
    row : (n,) int64
        Of `observed`, in order along it.
    place : (n, 3) float64
        Easting, northing, and elevation of its top outside, or of its invert inside.
    inverts : bool
        Whether the elevations are of inverts.
    ends : (n,) int64
        Rows of `pipe_ends`; -1 for shots on its top.
    u_down : (n,) float64
        1 sigma of the measure-down of each.
    diameter, wall : float
        NaN where not noted.
    measured : bool
        False for marks on the ground and records.
    pipe : str
        Its name in the notes; its own where it is not noted.
    also_shot : bool
        By its inverts, where its top was shot as well: that tells more where it reaches.
    why : str
        Why its elevations are not known; empty where they are.
    turn : int
        Pass of the pipe, from 0; single places that were taken again are in none.
    """

    name: str
    kind: str
    source: str
    row: np.ndarray
    place: np.ndarray
    inverts: bool
    ends: np.ndarray
    u_down: np.ndarray
    diameter: float
    wall: float
    measured: bool
    pipe: str
    also_shot: bool = False
    why: str = ""
    turn: int = 0

    @property
    def lacks(self) -> str:
        """Reason why its outside is not known: no-size or no-wall; empty where it is."""
        return "no-size" if np.isnan(self.diameter) else "no-wall" if np.isnan(self.wall) else ""

    @property
    def outside(self) -> float:
        """Outside diameter, as far as it is noted."""
        return float(np.nan_to_num(self.diameter) + 2 * np.nan_to_num(self.wall))

    def bottom(self) -> tuple[float, str]:
        """From its elevations to its bottom outside, and what is not known of that."""
        if self.inverts:
            return -float(np.nan_to_num(self.wall)), "no-wall" if np.isnan(self.wall) else ""
        return -self.outside, self.lacks

    def top(self) -> tuple[float, str]:
        """From its elevations to its top outside, and what is not known of that."""
        if self.inverts:
            return float(np.nan_to_num(self.diameter) + np.nan_to_num(self.wall)), self.lacks
        return 0.0, ""


def bodies(layers: Layers) -> list[Body]:
    """Every pass of a pipe of which shots are known, and every pipe by its two ends; one with both by its top first."""
    shots = observed(layers)
    places = shots[["easting", "northing", "elevation"]].to_numpy(float)
    sizes = attributes(layers)
    made = []
    tops = pipe_shots(layers, pipe_kinds(layers))
    names = noted_names(layers, tops)
    sound = (shots[["why_plan", "why_elevation"]] == 0).all(axis=1).to_numpy(bool)
    along = tops[sound[tops["row"]] & (tops["turn"] >= 0).to_numpy()]
    for _, mine in along.groupby(["number", "turn"], sort=True):
        row, one = mine["row"].to_numpy(), mine.iloc[0]
        turn, noted = int(one["turn"]), names[one["number"]] or str(one["pipe"])
        size = sizes.get(noted, {})
        made.append(
            Body(
                name=str(one["pipe"]) + pass_words(turn), kind=str(one["kind"]), source=str(one["source"]),
                row=row, place=places[row], turn=turn, inverts=False, ends=np.full(len(row), -1),
                u_down=np.zeros(len(row)), diameter=size.get("diameter", np.nan), wall=size.get("wall", np.nan),
                measured=bool(one["measured"]), pipe=noted,
            )
        )  # fmt: skip
    shot = {each.pipe for each in made if len(each.row) > 1}
    ends = pipe_ends(layers)
    for pipe in network(layers):
        if pipe.lower < 0:
            continue
        at = np.array([pipe.upper, pipe.lower])
        size = sizes.get(pipe.name, {})
        why = next((str(each) for each in ends["why"].iloc[at] if each), "")
        made.append(
            Body(
                name=pipe.name, kind=pipe.kind, source=pipe.source, row=ends["row"].to_numpy()[at],
                place=ends[["easting", "northing", "invert"]].to_numpy(float)[at], inverts=True, ends=at,
                u_down=ends["u_down"].to_numpy(float)[at], diameter=size.get("diameter", np.nan),
                wall=size.get("wall", np.nan), measured=True, why=why, pipe=pipe.name,
                also_shot=pipe.name in shot,
            )
        )  # fmt: skip
    return made


def slips(layers: Layers, ends: np.ndarray) -> np.ndarray:
    """What each elevation changes by once the slip of its measure-down is taken off; 0 for shots on top."""
    if not (ends >= 0).any():
        return np.zeros(len(ends))
    asked: pd.DataFrame = questions(layers)
    return np.where(ends >= 0, asked["slip"].to_numpy(float)[np.where(ends >= 0, ends, 0)], 0.0)
