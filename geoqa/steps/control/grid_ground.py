"""What lies between grid and ground: a combined factor for every shot, and distances between marks both ways."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.errors import FrameError
from geoqa.frames.readings.scaled_plan import EARTH
from geoqa.frames.readings.signatures import SEPARATION
from geoqa.frames.systems.factors import distances, elevation_factor, scale_factor
from geoqa.model.quantity import METRE, Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import mark_of

AXES = ["easting", "northing", "elevation"]


class GridGround(Step):
    """Tell the combined factor of every shot, and distances between control marks on the grid and on the ground.

    The factor is grid over ground. It takes the height above the ellipsoid: elevation and the separation of the
    geoid. Where the separation is not stated, its average over the States stands in, and what that leaves uncertain
    is told. Where no vertical datum is stated, elevations may count from anything: the factor then holds if they count
    from sea level, which is said, and no uncertainty is claimed. Nothing is scaled by these numbers.
    """

    name = "grid-ground"
    needs = ("shots.easting", "shots.northing", "shots.elevation", "shots.role", "control")
    extends = ("shots.combined_factor",)
    gives = ("grid_ground", "ground_distances")

    separation: Length | None = Field(
        None, description="Height of the geoid above the ellipsoid at the site, negative below it; averaged if left out"
    )
    marks: int = Field(200, ge=2, description="Most marks between which distances are listed, in order of their names")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Factors first, then the distances of each mark to its nearest and its farthest."""
        frame, shots = layers.frame, layers["shots"]
        per_metre = float(METRE.metres / frame.unit.metres)
        lift = SEPARATION[0] * per_metre if self.separation is None else self.separation.to(frame.unit)
        stated = frame.vertical is not None
        spread = SEPARATION[1] if self.separation is None and stated else np.nan
        place = shots[AXES].to_numpy(float)
        try:
            scale = scale_factor(frame, place[:, 0], place[:, 1])
        except FrameError:  # not conformal: no one factor holds in all directions
            scale = np.full(len(shots), np.nan)
        raised = elevation_factor(frame, place[:, 0], place[:, 1], place[:, 2] + lift)
        return {
            "shots": pd.DataFrame({"combined_factor": scale * raised}, index=shots.index),
            "grid_ground": _middle(scale, raised, lift, spread, frame.unit.name, stated),
            "ground_distances": self._distances(layers, lift, bool(np.isfinite(scale).any())),
        }

    def _distances(self, layers: Layers, lift: float, conformal: bool) -> pd.DataFrame:
        """Mark to mark; grid distances of the published places, and of the shots on them."""
        control = layers["control"].sort_values("mark", kind="stable")
        control = control[control[["easting", "northing"]].notna().all(axis=1)].head(self.marks).reset_index(drop=True)
        if len(control) < 2 or not conformal:
            return conform("ground_distances", pd.DataFrame())
        place = control[AXES].to_numpy(float)
        a, b = _pairs(place[:, :2])
        raised = place + np.array([0.0, 0.0, lift])
        found = distances(layers.frame, raised[a], raised[b])
        shot = _shot_places(layers["shots"], control)
        table = {
            "start": control["mark"].to_numpy()[a],
            "end": control["mark"].to_numpy()[b],
            "grid": found.grid,
            "ellipsoid": found.ellipsoid,
            "ground": found.ground,
            "combined_factor": found.factor,
            "measured": np.hypot(*(shot[b] - shot[a]).T),
        }
        return conform("ground_distances", pd.DataFrame(table))


def _middle(scale: np.ndarray, raised: np.ndarray, lift: float, spread: float, unit: str, stated: bool) -> pd.DataFrame:
    """One row: the factors at the middle of the shots, and what they mean in a sentence."""
    whole = scale * raised
    there = np.isfinite(whole)
    if not there.any():
        return conform("grid_ground", pd.DataFrame())
    factor, u = float(np.median(whole[there])), spread / EARTH
    about = f" ± {2 * u:.6f} at 95 %" if np.isfinite(u) else ""
    unless = "" if stated else ", if elevations count from sea level: their datum is not stated"
    row = {
        "scale_factor": float(np.median(scale[there])),
        "elevation_factor": float(np.median(raised[there])),
        "combined_factor": factor,
        "u": u,
        "separation": lift,
        "words": f"distances are grid distances: 1,000 {unit} on the ground are {1000 * factor:.3f} {unit} here "
        f"(combined factor {factor:.6f}{about}){unless}",
    }
    return conform("grid_ground", pd.DataFrame([row]))


def _pairs(place: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Each place with its nearest and its farthest, every pair once, in order."""
    apart = np.hypot(*(place[:, None] - place[None]).transpose(2, 0, 1))
    farthest = apart.argmax(axis=1)
    np.fill_diagonal(apart, np.inf)
    nearest, own = apart.argmin(axis=1), np.arange(len(place))
    pairs = np.sort(np.concatenate([np.column_stack([own, nearest]), np.column_stack([own, farthest])]), axis=1)
    pairs = np.unique(pairs[pairs[:, 0] != pairs[:, 1]], axis=0)
    return pairs[:, 0], pairs[:, 1]


def _shot_places(shots: pd.DataFrame, control: pd.DataFrame) -> np.ndarray:
    """Median place of the check shots on each mark, which one wrong name does not move; NaN without any."""
    checks = shots[shots["role"] == "check"].reset_index(drop=True)
    place = checks[AXES[:2]].assign(mark=mark_of(checks, control))
    middle = place[place["mark"] >= 0].groupby("mark")[AXES[:2]].median()
    return middle.reindex(range(len(control))).to_numpy(float)
