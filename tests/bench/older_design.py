"""An older revision of some lines used as their design, and what must not be taken for it."""

import dataclasses

import numpy as np
import pandas as pd

from geoqa.model.tables.columns import conform
from geoqa.model.tables.register import in_force

WALK_R = r"WK[FB]-R-"
SHEETS = {"older": ("A", "2026-01-15"), "newer": ("C", "2026-04-01"), "": (None, None)}
"""Revision and date of the file that holds the lines; the others are revision B of 2026-03-02."""


def of_another_file(simulated, *, left=0.0, low=0.0, lines=WALK_R, stated="older"):
    """The job with some lines in a design file of their own, moved `left` and `low` of where they were built."""
    tables = dict(simulated.tables)
    tables["design_elements"] = _moved(tables["design_elements"], lines, left, low)
    drawn, sources = tables["design_lines"].copy(), tables["sources"].copy()
    drawn.loc[drawn["line"].str.match(lines), "source"] = "walk"
    walk = sources[sources["source"] == "design"].assign(source="walk")
    revision, dated = SHEETS[stated]
    if stated:
        sources.loc[sources["source"] == "design", ["sheet", "revision", "dated"]] = ["C-4", "B", "2026-03-02"]
        walk = walk.assign(sheet="C-4", revision=revision, dated=dated)
    tables |= {"design_lines": drawn, "sources": pd.concat([sources, walk], ignore_index=True)}
    if known := in_force(tables["sources"]):
        tables["design_register"] = conform("design_register", pd.DataFrame(known))
    return dataclasses.replace(simulated, tables=tables)


def _moved(elements, lines, left, low):
    made = elements.copy()
    mine = made["line"].str.match(lines).to_numpy(bool)
    along = (
        made.loc[mine, ["end_easting", "end_northing"]].to_numpy()
        - made.loc[mine, ["start_easting", "start_northing"]].to_numpy()
    )
    east, north = along.sum(axis=0) / np.hypot(*along.sum(axis=0))
    for end in ("start", "end", "centre"):
        made.loc[mine, f"{end}_easting"] -= left * north
        made.loc[mine, f"{end}_northing"] += left * east
    for end in ("start", "end"):
        made.loc[mine, f"{end}_elevation"] -= low
    return made


def shots_moved(simulated, rows, *, south=0.0, up=0.0):
    """The job with some shots elsewhere."""
    shots = simulated.tables["shots"].copy()
    shots.loc[rows, "northing"] -= south
    shots.loc[rows, "elevation"] += up
    return dataclasses.replace(simulated, tables=dict(simulated.tables) | {"shots": shots})
