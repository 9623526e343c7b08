"""Plants that are off by default: one wrong setting for a whole file or session, or another way of writing."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from geoqa.model.quantity import FOOT, US_SURVEY_FOOT
from geoqa.simulate import job_folder
from geoqa.simulate.crew.plants import PLANTS, Item, Sown, plant
from geoqa.simulate.handed_over import shots_file
from geoqa.simulate.make import Simulated
from geoqa.simulate.site.site import GEOID_SEPARATION

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["PLANTS", "write"]


@plant("T01", "all shots written in US survey feet")
def _survey_feet(plan: "pd.DataFrame", seed: int) -> Sown:
    plan["scale"] = float(FOOT.metres / US_SURVEY_FOOT.metres)
    return plan, []


@plant("T03", "all elevations are heights above the ellipsoid, 88 ft lower")
def _ellipsoid_heights(plan: "pd.DataFrame", seed: int) -> Sown:
    # a synthetic geoid: a plane that rises 0.05 ft in 1,000 ft east
    plan["lift"] = GEOID_SEPARATION + 0.05e-3 * plan["base_e"]
    return plan, []


@plant("T05", "easting and northing swapped")
def _swapped(plan: "pd.DataFrame", seed: int) -> Sown:
    plan["swapped"] = True
    return plan, []


ROD_ERROR = 0.656
"""A rod of 2.000 m kept as 1.800 m, in feet."""


@plant("T06", "session B from 18:10 UTC on: rod of 2.000 m kept as 1.800 m, all 0.656 ft high")
def _wrong_rod(plan: "pd.DataFrame", seed: int) -> Sown:
    import pandas as pd

    rows = (plan["session"] == "B") & (plan["time"] >= pd.Timestamp("2026-05-12T18:10:00Z"))
    plan.loc[rows, "common_v"] += ROD_ERROR
    plan.loc[rows, "rod_height"] = 5.906
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none", number=ROD_ERROR)]


@plant("T07", "20 shots of session C after a bad initialization: +0.55, -0.30, +0.62 ft")
def _bad_initialization(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = plan.index[(plan["session"] == "C") & (plan["target"] == "line")][130:150]
    plan.loc[rows, ["common_e", "common_n", "common_v"]] += np.array([0.55, -0.30, 0.62])
    plan.loc[rows, "initialization"] = "C-bad"
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none")]


@plant("T22", "shot files with semicolons, decimal commas and Windows-1252 characters")
def _other_writing(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = plan.index[plan["kind"] == "walk-back"][5:60:9]
    plan.loc[rows, "note"] = "lip ½ in, ±"
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none")]


def write(simulated: Simulated, folder: str | Path, *, over: bool = False) -> Path:
    """Write a job as `geoqa.simulate.write` does; its shot files the other way where T22 is planted."""
    path = job_folder.write(simulated, folder, over=over)
    if "T22" in simulated.plants:
        for source, rows in simulated.tables["shots"].groupby("source", sort=True):
            shots = shots_file(rows)
            for name in ("easting", "northing", "elevation"):
                shots[name] = shots[name].str.replace(".", ",", regex=False)
            file = path.parent / "shots" / f"{source}.csv"
            shots.to_csv(file, index=False, sep=";", decimal=",", encoding="cp1252", lineterminator="\n")
    return path
