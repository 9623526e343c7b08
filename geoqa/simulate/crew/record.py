"""From the plan to what the crew hands over: the shots as written, rounded to 0.001 ft."""

from typing import TYPE_CHECKING

import numpy as np

from geoqa.model.tables.columns import conform
from geoqa.simulate.crew.shown import shown
from geoqa.simulate.site import scenario

if TYPE_CHECKING:
    import pandas as pd

_COORDINATES = ("easting", "northing", "elevation")
RESOLUTION = 0.001
"""Coordinates are written to this, in feet."""
NULL_ELEVATIONS = ("", "0.000")
"""Texts that mean no elevation in this job: blank, and zero by the job's policy."""


def true_positions(plan: "pd.DataFrame") -> np.ndarray:
    """Where things really are, relative to station 10+00 and elevation zero, shape (n, 3)."""
    right = np.radians(plan["azimuth"].fillna(0.0).to_numpy() + 90.0)
    aside = plan["aside"].to_numpy()
    return np.column_stack(
        [
            plan["base_e"] + plan["dev_e"] + aside * np.sin(right),
            plan["base_n"] + plan["dev_n"] + aside * np.cos(right),
            plan["base_z"] + plan["dev_z"],
        ]
    )


def measured_positions(plan: "pd.DataFrame") -> np.ndarray:
    """Where the crew found them, unrounded, in the same system."""
    common = plan[["common_e", "common_n", "common_v"]].to_numpy()
    own = plan[["err_e", "err_n", "err_v"]].to_numpy()
    copied = plan["copied"].to_numpy()[:, None]
    return np.where(copied, plan[["base_e", "base_n", "base_z"]].to_numpy(), true_positions(plan) + common + own)


def shots_table(plan: "pd.DataFrame", zone: scenario.Zone) -> "pd.DataFrame":
    """Shots as a reader would hand them over, in the order of the files.

    Parameters
    ----------
    plan : DataFrame
        See `geoqa.simulate.crew.crew`.
    zone : Zone

    Returns
    -------
    DataFrame
        The columns of `shots` that readers make, indexed from 0, and a column
        ``id`` of the plan, to be taken off.
    """
    import pandas as pd

    plan = plan.sort_values(["source", "time", "id"], kind="stable").reset_index(drop=True)
    feet = measured_positions(plan) + np.array([zone.easting, zone.northing, 0.0])
    feet = _as_written(plan, shown(plan["shown"], feet, zone))
    texts = {name: [f"{value:.3f}" for value in feet[:, axis]] for axis, name in enumerate(_COORDINATES)}
    for row in np.flatnonzero(plan["written_elevation"].notna()):
        texts["elevation"][row] = plan["written_elevation"].iloc[row]
    table = plan.drop(columns="design").assign(
        line=plan.groupby("source").cumcount() + 2,
        code=plan["kind"].map(scenario.CODE_OF).astype("str"),
        note=_reduced(plan, feet[:, 2]),
        **{f"raw_{name}": pd.array([text or None for text in column], dtype="str") for name, column in texts.items()},
        **{name: [_number(name, text) for text in column] for name, column in texts.items()},
    )
    table["shot_key"] = _keys(table)
    return conform("shots", table, made_by="").loc[:, [*_base_columns(), "id"]]


def _as_written(plan: "pd.DataFrame", feet: np.ndarray) -> np.ndarray:
    """Positions in the unit, height system and order in which the file gives them."""
    feet = (feet + np.outer(plan["lift"], [0.0, 0.0, 1.0])) * plan["scale"].to_numpy()[:, None]
    return np.where(plan["swapped"].to_numpy()[:, None], feet[:, [1, 0, 2]], feet)


def _base_columns() -> list[str]:
    from geoqa.model.tables.columns import columns_of

    return [each.name for each in columns_of("shots", made_by="")]


def _number(name: str, text: str) -> float:
    return np.nan if name == "elevation" and text in NULL_ELEVATIONS else float(text)


def _keys(table: "pd.DataFrame") -> "pd.Series":
    """``source/name``; a repeated name gets ~2 … by time, easting, northing."""
    plain = table["source"] + "/" + table["shot"]
    order = table.assign(plain=plain).sort_values(["time", "easting", "northing"], kind="stable")
    again = order.groupby("plain").cumcount().reindex(table.index)
    return plain.where(again == 0, plain + "~" + (again + 1).astype("str")).astype("str")


def _reduced(plan: "pd.DataFrame", elevation: np.ndarray) -> "pd.Series":
    """Say the measure-down in the note of an invert that hangs under a rim."""
    notes = plan["note"].copy()
    rims = {
        name: elevation[row]
        for row, (name, kind) in enumerate(zip(plan["id"], plan["kind"], strict=True))
        if kind == "rim"
    }
    for row in np.flatnonzero(plan["kind"] == "invert").tolist():
        rim = rims.get(plan["id"].iloc[row].split(" ")[0] + " rim")
        notes.iloc[row] = "shot on the pipe" if rim is None else f"measure-down {rim - elevation[row]:.2f}"
    return notes
