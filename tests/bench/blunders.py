"""Plants for the diagnosis of blunders: wrong frames, a rod that leans uncorrected, and causes nobody lists.

All are off by default. Ids that begin with B are further known causes, those that begin
with U are causes that no list of known causes holds.
"""

from typing import TYPE_CHECKING

import numpy as np

from geoqa.model.quantity import FOOT, US_SURVEY_FOOT
from geoqa.simulate.crew.crew import ROD
from geoqa.simulate.crew.plants import PLANTS, Item, Sown, plant
from geoqa.simulate.site.design import lines

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


def _whole_file(name: str, words: str, how: str) -> None:
    """A plant that shows every shot in another way."""

    @plant(name, words)
    def sow(plan: "pd.DataFrame", seed: int) -> Sown:
        plan["shown"] = how
        return plan, []


_whole_file("B01", "all shots in metres, shown as feet", "metres")
_whole_file("B02", "geoid separation applied with the wrong sign", "geoid 2")
_whole_file("B03", "geoid separation applied twice", "geoid -1")
_whole_file("B04", "azimuths from true north, turned about CP-1", "north CP-1")
_whole_file("B05", "all shots in the neighbour zone of the state", "zone")
_whole_file("B06", "all shots in the NAD27 zone of the same name", "old")


@plant("B07", "session C from its third check shot on: rod 0.2 m off, which the log does not show")
def _silent_rod(plan: "pd.DataFrame", seed: int) -> Sown:
    first = plan.loc[plan["id"] == "C/open/3", "time"].iloc[0]
    rows = (plan["session"] == "C") & (plan["time"] >= first)
    plan.loc[rows, "common_v"] += 0.656
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none", number=0.656)]


@plant("B08", "first initialization of session C bad, check shots with it: +0.62, -0.40, -0.55 ft")
def _bad_start(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = plan["initialization"] == "C1"
    plan.loc[rows, ["common_e", "common_n", "common_v"]] += np.array([0.62, -0.40, -0.55])
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none")]


@plant("B09", "day 2 alone written in US survey feet")
def _one_file(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = plan["source"] == "day2"
    plan.loc[rows, "scale"] = float(FOOT.metres / US_SURVEY_FOOT.metres)
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none")]


@plant("B10", "one check shot on CP-4 off by (-0.31, 0.18, 0.26) ft")
def _one_check(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = plan["id"] == "A/close/1"
    plan.loc[rows, ["err_e", "err_n", "err_v"]] += np.array([-0.31, 0.18, 0.26])
    return plan, [Item(ids=("A/close/1",), level="none")]


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


@plant("U04", "shots of session B on marks CP-2 and CP-5 moved by (+0.22, -0.17) ft, no other shot")
def _two_marks_in_session(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = (plan["target"] == "mark") & plan["design"].isin(["CP-2", "CP-5"]) & (plan["session"] == "B")
    plan.loc[rows, ["common_e", "common_n", "common_v"]] += np.array(TOGETHER)
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none")]
