"""The surface that was built, triangulated from shots."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.surfaces import SURFACE
from geoqa.kernels.surfaces.triangulation import Triangulated, triangulated
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.linework.observed import NEEDS, WANTS, observed
from geoqa.steps.shots.flags import noted
from geoqa.steps.shots.strings import counted_once, strings_in, strings_of

NAME, SOURCE = "as-built", "shots"
ONE_PLACE = Length.parse("0.05 ft")
"""Shots closer together in plan are of one place: the first by its key is taken."""


class AsbuiltSurface(Step):
    """Triangulate the surface that was built from shots, with the strings of the crew as breaklines.

    Shots that an open blunder acts on, or that are not in use, are no part of it. A string is a breakline where its
    shots lie no farther apart than the longest edge; a face with a longer edge is left out, so that no face spans a
    street, a corner or a gap that nobody measured. Where a face does not have a breakline as its edge, points are put
    into the breakline, between its two shots. Where a line was shot again, its first pass counts, and of a later one
    what lies on new ground.
    """

    name = "asbuilt-surface"
    needs = ("limits", "shots.line_id", *NEEDS)
    wants = ("surface_points", *WANTS)
    gives = ("asbuilt_surface_points", "asbuilt_surface_faces")
    adds = ("notes",)

    kinds: tuple[str, ...] = Field(
        (), description='Kinds whose shots lie on the surface; without any, those with a "surface" tolerance'
    )
    longest: Length = Field(Length.parse("30 ft"), description="A face with a longer edge is left out")

    @property
    def only_with(self) -> tuple[str, ...]:  # type: ignore[override]
        """A design surface, unless the job names the kinds: then it is wanted for itself."""
        return () if self.kinds else ("surface_points",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Points and faces, and a note of what is no part of it."""
        limits = layers["limits"]
        asked = set(self.kinds) or set(limits.loc[limits["check"] == SURFACE.name, "kind"])
        none = {name: empty(name) for name in (*self.gives, "notes")}
        if not asked:
            return none
        shots = observed(layers)
        chosen = _chosen(shots, asked, layers.frame.unit)
        places = shots[["easting", "northing"]].to_numpy(float)[chosen.rows]
        longest = self.longest.to(layers.frame.unit)
        lines = _breaklines(layers, shots, chosen.rows, longest)
        made = triangulated(places, lines, longest=longest, shortest=ONE_PLACE.to(layers.frame.unit))
        facts = {
            "note": "asbuilt-surface", "variant": "passes" if chosen.passes else "", "count": len(chosen.rows),
            "total": chosen.of_kinds, "number": len(made.faces),
            "unit": "count", "second": len(lines), "third": made.missed.sum(), "fourth": chosen.twice, "limit": longest,
        }  # fmt: skip
        tables = _tables(shots.iloc[chosen.rows].reset_index(drop=True), made) if len(made.faces) else none
        return {**tables, "notes": noted(self.name, [facts])}


@dataclass(frozen=True, kw_only=True, eq=False)
class _Chosen:
    """Rows of `observed` that make the surface, how many shots of its kinds there are, how many of a place taken.

    `passes`: among the last are shots of lines that were shot again.
    """

    rows: np.ndarray
    of_kinds: int
    twice: int
    passes: bool


def _chosen(shots: pd.DataFrame, kinds: set[str], unit: LengthUnit) -> _Chosen:
    mine = shots["kind"].isin(kinds).to_numpy(bool)
    good = mine & ((shots["why_plan"] == 0) & (shots["why_elevation"] == 0)).to_numpy(bool)
    good &= ~(shots["blunder_plan"] | shots["blunder_elevation"]).to_numpy(bool)
    before = int(good.sum())
    mended = np.flatnonzero(good)
    for string in strings_of(shots.iloc[mended], unit, again=True):
        if string.turn or string.again:
            good[mended[string.rows]] = False
            good[mended[np.concatenate([string.rows[:0], *counted_once(string)])]] = not string.again
    passes = int(good.sum()) < before
    rows = np.flatnonzero(good)
    rows = rows[np.argsort(shots["shot"].to_numpy(dtype=object)[rows], kind="stable")]
    free = _one_a_place(shots[["easting", "northing"]].to_numpy(float)[rows], ONE_PLACE.to(unit))
    return _Chosen(rows=np.sort(rows[free]), of_kinds=int(mine.sum()), twice=before - int(free.sum()), passes=passes)


def _one_a_place(places: np.ndarray, apart: float) -> np.ndarray:
    """The first of those that lie within a distance of each other, shape (n,)."""
    from scipy.spatial import cKDTree

    free = np.ones(len(places), dtype=bool)
    if len(places):
        for one, other in sorted(cKDTree(places - places[0]).query_pairs(apart)):
            if free[one]:
                free[other] = False
    return free


def _breaklines(layers: Layers, shots: pd.DataFrame, rows: np.ndarray, longest: float) -> np.ndarray:
    """Legs of the crew's strings between shots of the surface, as places in `rows`, shape (b, 2).

    A shot that is no part of the surface breaks its string there: what lies between its neighbours was not measured.
    """
    place = np.full(len(layers["shots"]), -1)
    place[shots["row"].to_numpy()[rows]] = np.arange(len(rows))
    at = shots[["easting", "northing"]].to_numpy(float)[rows]
    legs = [np.zeros((0, 2), dtype=np.int64)]
    for string in strings_in(layers):
        own = place[string.rows]
        pair = np.column_stack([own[:-1], own[1:]])
        pair = pair[(pair >= 0).all(axis=1)]
        legs.append(pair[np.hypot(*(at[pair[:, 0]] - at[pair[:, 1]]).T) <= longest])
    return np.unique(np.sort(np.concatenate(legs), axis=1), axis=0)


def _tables(shots: pd.DataFrame, made: Triangulated) -> dict[str, pd.DataFrame]:
    high, key = shots["elevation"].to_numpy(float), shots["shot"]
    points = pd.DataFrame(
        {
            "point": np.arange(len(made.plan)),
            "shot_key": key.take(made.first).reset_index(drop=True),
            "other_key": key.take(made.second).reset_index(drop=True),
            "share": made.share, "easting": made.plan[:, 0], "northing": made.plan[:, 1],
            "elevation": (1 - made.share) * high[made.first] + made.share * high[made.second],
        }
    ).assign(surface=NAME, source=SOURCE)  # fmt: skip
    faces = pd.DataFrame(made.faces, columns=["first", "second", "third"]).assign(surface=NAME, source=SOURCE)
    return {
        "asbuilt_surface_points": conform("asbuilt_surface_points", points),
        "asbuilt_surface_faces": conform("asbuilt_surface_faces", faces),
    }
