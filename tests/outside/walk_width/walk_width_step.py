"""Widths of walks, from pairs of shots on both edges."""

import numpy as np
from pydantic import Field
from scipy.spatial import cKDTree
from walk_width_check import WALK_WIDTH

from geoqa import Layers, Length, Step
from geoqa.checks import asked, findings_of, flagged, noted, with_limits


class WalkWidths(Step):
    """Judge how far each front-edge shot lies from the nearest back-edge shot."""

    name = "walk-widths"
    needs = ("limits", "shots.kind", "shots.u_h_random")
    adds = ("findings", "flags", "notes")

    reach: Length = Field(Length.parse("8 ft"), description="A back edge farther away belongs to another walk")

    def run(self, layers: Layers):
        """One finding a front-edge shot."""
        shots, unit = layers["shots"], layers.frame.unit
        front, back = (np.flatnonzero(shots["kind"] == kind) for kind in ("walk-front", "walk-back"))
        place = shots[["easting", "northing"]].to_numpy(float)
        width, nearest = cKDTree(place[back]).query(place[front])
        there = width <= self.reach.to(unit)
        u, shared = (shots[f"u_h_{part}"].to_numpy(float) for part in ("random", "common"))
        rows = shots.iloc[front][["kind", "easting", "northing", "elevation"]].reset_index(drop=True)
        rows = rows.assign(
            subject="-",
            source="shots",
            shot=shots["shot_key"].to_numpy()[front],
            label="width at " + shots["shot"].iloc[front].reset_index(drop=True),
            measured=np.where(there, width, np.nan),
            deviation=np.where(there, width, np.nan),
            u_common=shared[front] + 0.05,
            u_random=np.hypot(u[front], u[back][nearest]),
            why=np.where(there, 0, WALK_WIDTH.why("no-other-edge")),
        )
        rows = asked(with_limits(rows, layers["limits"], check=WALK_WIDTH))
        flags = flagged(
            shots, front[there], flag="no-spike", reject=False, step=self.name, number=width[there], unit="job"
        )
        return {
            "findings": findings_of(rows, check=WALK_WIDTH, limits=layers["limits"], unit=unit.name),
            "flags": flags,
            "notes": noted(self.name, [{"note": "widths-taken", "count": int(there.sum())}]),
        }
