"""Plants for the diagnosis of blunders: wrong frames, a rod that leans uncorrected, and causes nobody lists.

All are off by default. Ids that begin with U are of causes that no list of known causes holds.
"""

from typing import TYPE_CHECKING

import numpy as np

from geoqa.simulate.crew import ROD
from geoqa.simulate.design import lines
from geoqa.simulate.plants import PLANTS, Item, Sown, plant

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["PLANTS"]

EPOCH = 2026.9
"""Decimal year at which the planted global frame stands."""
LEAN = 15.0
"""Degrees of the planted lean."""
TOGETHER = (0.22, -0.17, 0.0)
"""Feet by which a mark and a session move together."""


@plant("T02", "all shots in ITRF2020 at 2026.9, shown as the job's frame")
def _global_frame(plan: "pd.DataFrame", seed: int) -> Sown:
    plan["shown"] = f"global {EPOCH}"
    return plan, []


@plant("T04", "all shots at ground distances, held at CP-1")
def _ground(plan: "pd.DataFrame", seed: int) -> Sown:
    plan["shown"] = "ground CP-1"
    return plan, []


@plant("T12", "6 shots at 15° of tilt with the compensation unsettled: 1.70 ft along the lean, 0.22 ft low")
def _unsettled(plan: "pd.DataFrame", seed: int) -> Sown:
    line = lines()["WKB-L-1"]
    ids = [f"{line.name}/{station:.1f}" for station in (1725.0, 1750.0, 1775.0, 1800.0, 1825.0, 1850.0)]
    rows = plan.index[plan["id"].isin(ids)]
    toward = plan.loc[rows, "azimuth"].to_numpy(float) + 60.0
    lean, azimuth = np.radians(LEAN), np.radians(toward)
    plan.loc[rows, "err_e"] += ROD * np.sin(lean) * np.sin(azimuth)
    plan.loc[rows, "err_n"] += ROD * np.sin(lean) * np.cos(azimuth)
    plan.loc[rows, "err_v"] -= ROD * (1 - np.cos(lean))
    plan.loc[rows, "tilt"] = LEAN
    plan.loc[rows, "tilt_azimuth"] = np.round(toward % 360.0, 1)
    return plan, [Item(ids=tuple(ids), level="none", number=float(ROD * np.sin(lean)))]


@plant("U01", "a smooth warp of all positions, of a kind nobody lists")
def _warp(plan: "pd.DataFrame", seed: int) -> Sown:
    along = (plan["base_e"].to_numpy() + 1000.0) / 1000.0
    plan["common_e"] += 0.25 * np.sin(2 * np.pi * along / 1.6)
    plan["common_n"] += 0.30 * np.cos(2 * np.pi * along / 1.3)
    plan["common_v"] += 0.20 * np.sin(2 * np.pi * along / 1.1 + 1.0)
    return plan, []


@plant("U02", "mark CP-2 and all of session B moved together by (+0.22, -0.17) ft")
def _mark_and_session(plan: "pd.DataFrame", seed: int) -> Sown:
    on_mark = (plan["target"] == "mark") & (plan["design"] == "CP-2")
    rows = (plan["session"] == "B") | on_mark
    plan.loc[rows, ["common_e", "common_n", "common_v"]] += np.array(TOGETHER)
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none")]


@plant("U03", "both shots of session B on mark CP-2 moved by (+0.22, -0.17) ft, no other shot")
def _mark_in_session(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = (plan["target"] == "mark") & (plan["design"] == "CP-2") & (plan["session"] == "B")
    plan.loc[rows, ["common_e", "common_n", "common_v"]] += np.array(TOGETHER)
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none")]
