"""Cover over pipes: shots on their tops against the finished surface above."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.utilities import COVER
from geoqa.contract.utility_sentences import covered
from geoqa.kernels.design.along_elements import chords, point_at
from geoqa.kernels.design.tin_elevation import tin_elevation
from geoqa.kernels.utilities.surface_over import over
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.one_a_line import one_a_line
from geoqa.steps.judging.text_columns import taken
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import NEEDS, observed
from geoqa.steps.linework.observed import WANTS as OBSERVED_WANTS
from geoqa.steps.utilities.ends import lines_of
from geoqa.steps.utilities.judged import found, together
from geoqa.steps.utilities.tops import WANTS, pipe_shots


@dataclass(frozen=True, kw_only=True)
class Above:
    """The finished surface over places.

    Attributes
    ----------
    elevation : (n,) float64
        NaN where none is known.
    corner : (n, 3) int
        Rows of `observed` that it rests on; -1 where it is of the design.
    weight : (n, 3) float64
    words : list of str
        What it is.
    why : list of str
        Why there is none; empty where there is one.
    """

    elevation: np.ndarray
    corner: np.ndarray
    weight: np.ndarray
    words: list[str]
    why: list[str]


Surface = tuple[np.ndarray, np.ndarray, np.ndarray, list[str], list[str]]
"""Elevation, corners, weights, words and reason of one kind of surface."""


class Cover(Step):
    """Judge how deep the top of a pipe lies below the finished surface.

    The surface is, in this order: the surface of the design; the plane of the three ground shots round the place; the
    plane of three places of design lines round it, of kinds that the job names as finished surface. Where the design
    has several surfaces, `surface` names the finished one. Nothing is extended beyond what was measured or designed.
    """

    name = "cover"
    needs = ("limits", *NEEDS)
    wants = ("surface_points", "surface_faces", *WANTS, *OBSERVED_WANTS)
    adds = ("findings", "evidence")

    surface: str = Field("", description="Name of the design surface that is the finished one")
    ground: tuple[str, ...] = Field(("ground",), description="Kinds of shots that are the finished surface")
    surface_kinds: tuple[str, ...] = Field((), description="Kinds of design lines that lie on the finished surface")
    reach: Length = Field(Length.parse("60 ft"), description="Longest edge of a plane between three of them")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Shots of kinds with a least cover."""
        limits, shots = layers["limits"], observed(layers)
        tops = pipe_shots(layers, set(limits.loc[limits["check"] == COVER.name, "kind"]))
        if not len(tops):
            return together()
        row = tops["row"].to_numpy()
        above = self._above(layers, shots[["easting", "northing"]].to_numpy(float)[row])
        unit = layers.frame.unit.name
        members = np.column_stack([row, above.corner])
        weight = np.column_stack([-np.ones(len(row)), above.weight])
        number = above.elevation - shots["elevation"].to_numpy(float)[row]
        rows = derived_rows(
            layers, members, {"elevation": weight}, number,
            show=lambda value: words.usual(value, unit),
        )  # fmt: skip
        lost = np.array([COVER.why(each) for each in above.why])
        marked = np.where(tops["measured"], 0, COVER.why("locate-mark"))
        rows["why"] = np.select([marked > 0, rows["why"] > 0], [marked, rows["why"]], lost)
        names = shots["name"].to_numpy(dtype=object)[row]
        rows = rows.assign(
            kind=tops["kind"], subject=tops["pipe"], source=tops["source"], design=np.nan, station=tops["station"],
            easting=shots["easting"].to_numpy(float)[row], northing=shots["northing"].to_numpy(float)[row],
            elevation=shots["elevation"].to_numpy(float)[row], shot=taken(shots["shot"], row),
            label=[covered(*each) for each in zip(names, above.words, strict=True)],
        )  # fmt: skip
        return together(found(layers, one_a_line(rows, check=COVER), check=COVER))

    def _above(self, layers: Layers, places: np.ndarray) -> Above:
        count = len(places)
        elevation, corner, weight = np.full(count, np.nan), np.full((count, 3), -1), np.zeros((count, 3))
        told, why = [""] * count, ["no-surface"] * count
        for level, corners, weights, said, reason in (
            self._design(layers, places), self._ground(layers, places), self._lines(layers, places),
        ):  # fmt: skip
            for at in np.flatnonzero(np.isnan(elevation) & [each == "no-surface" for each in why]).tolist():
                if reason[at]:
                    why[at] = reason[at]
                elif np.isfinite(level[at]):
                    elevation[at], corner[at], weight[at] = level[at], corners[at], weights[at]
                    told[at], why[at] = said[at], ""
        return Above(elevation=elevation, corner=corner, weight=weight, words=told, why=why)

    def _design(self, layers: Layers, places: np.ndarray) -> Surface:
        """Surfaces of the design; where two lie over a place and none is named, it is asked which."""
        count = len(places)
        level, names, several = np.full(count, np.nan), [""] * count, [""] * count
        if "surface_points" in layers and "surface_faces" in layers:
            points, faces = layers["surface_points"], layers["surface_faces"]
            for name, mine in points.groupby("surface", sort=True):
                if self.surface and name != self.surface:
                    continue
                ordered = mine.sort_values("point")[["easting", "northing", "elevation"]].to_numpy(float)
                corners = faces.loc[faces["surface"] == name, ["first", "second", "third"]].to_numpy()
                here = tin_elevation(ordered, corners, *places.T)[0]
                for at in np.flatnonzero(np.isfinite(here)).tolist():
                    several[at] = "which-surface" if names[at] else ""
                    level[at], names[at] = here[at], f"surface {name} of the design"
        return level, np.full((count, 3), -1), np.zeros((count, 3)), names, several

    def _ground(self, layers: Layers, places: np.ndarray) -> Surface:
        shots = observed(layers)
        sound = (shots[["why_plan", "why_elevation"]] == 0).all(axis=1)
        row = np.flatnonzero((shots["kind"].isin(self.ground) & sound).to_numpy(bool))
        points = shots[["easting", "northing", "elevation"]].to_numpy(float)[row]
        level, corner, weight = self._plane(layers, points, places)
        names = shots["name"].to_numpy(dtype=object)[row] if len(row) else np.array([""], dtype=object)
        there = corner[:, 0] >= 0
        said = [
            f"ground shots {', '.join(map(str, names[each]))}" if ok else ""
            for each, ok in zip(corner, there, strict=True)
        ]
        of_shots = np.where(there[:, None], row[corner] if len(row) else -1, -1)
        return level, of_shots, weight, said, [""] * len(places)

    def _lines(self, layers: Layers, places: np.ndarray) -> Surface:
        """Places of design lines that the job names as finished surface; they are taken as exact."""
        design, count = lines_of(layers), len(places)
        points, of = np.zeros((0, 3)), np.zeros(0, dtype=object)
        if design is not None and self.surface_kinds:
            drawn = chords(design.elements, max_length=self.reach.to(layers.frame.unit) / 4)
            on = np.isin(design.kinds[drawn.line].astype(str), self.surface_kinds)
            at = point_at(design.elements, drawn.line[on], drawn.station[on])
            high = np.isfinite(at.elevation)
            points = np.column_stack([at.easting, at.northing, at.elevation])[high]
            of = design.names[drawn.line[on]][high]
        level, corner, weight = self._plane(layers, points, places)
        said = [f"design lines {', '.join(sorted(set(of[each])))}" if each[0] >= 0 else "" for each in corner]
        return level, np.full((count, 3), -1), np.where(corner >= 0, 0.0, weight), said, [""] * count

    def _plane(self, layers: Layers, points: np.ndarray, places: np.ndarray) -> tuple[np.ndarray, ...]:
        found_over = over(points[:, :2], places, longest=self.reach.to(layers.frame.unit))
        there = found_over.corner[:, 0] >= 0
        levels = points[:, 2][found_over.corner] if len(points) else np.zeros((len(places), 3))
        level = np.where(there, (found_over.weight * levels).sum(axis=1), np.nan)
        return level, found_over.corner, found_over.weight
