"""Volumes between the as-built surface and the design surface, and how well the shots know them."""

from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtr

from geoqa.kernels.design.tin_elevation import surface_at, tin_grade
from geoqa.kernels.surfaces.measures import felt_by
from geoqa.kernels.surfaces.prisms import Between, between
from geoqa.model import words
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.surfaces.design_surface import Surface

AXES = ["easting", "northing", "elevation"]
_OVERLAP = 1e-6
DOUBT = "the survey of its shots is in doubt: see the findings of the sessions"


def volumes(layers: Layers, shots: pd.DataFrame, surface: Surface, least: float) -> list[dict[str, Any]]:
    """Rows of `quantities`: above, below and net volume, and the area they lie over.

    Parameters
    ----------
    layers : Layers
        With the as-built surface.
    shots : DataFrame
        Of `observed`.
    surface : Surface
        The design.
    least : float
        Faces of the design that lie over each other by less give one answer.
    """
    table = layers["asbuilt_surface_points"]
    points = table[AXES].to_numpy(float)
    faces = layers["asbuilt_surface_faces"][["first", "second", "third"]].to_numpy(np.int64)
    found = between(points, faces, surface.points, surface.faces)
    asked = np.concatenate([points, points[faces].mean(axis=1)])
    under = surface_at(surface.points, surface.faces, asked[:, 0], asked[:, 1])
    spread = np.nan_to_num(under.highest - under.lowest).max(initial=0.0)
    unit = layers.frame.unit.name
    base = {"name": f"as-built against {surface.name}", "kind": "surface", "shots": table["shot_key"].nunique()}
    made_of = np.unique(rows_of(pd.concat([table["shot_key"], table["other_key"]]), shots["shot"]))
    if np.isfinite(shots["doubt_elevation"].to_numpy(float)[made_of]).any():
        why = DOUBT
    elif spread > least or found.area > found.own_area * (1 + _OVERLAP):
        why = "faces of the design surface lie over each other there"
    elif found.area <= 0:
        why = "the design surface does not reach the as-built one"
    else:
        why = ""
    over = (
        f"prisms between faces, over {found.area:,.1f} of {found.own_area:,.1f} sq {unit} of the as-built surface; "
        "elevations of shots count, what lies between them does not"
    )
    rows = []
    rise = np.nan_to_num(points[:, 2] - under.elevation[: len(points)])
    edge = _edge(points, faces)
    noise = _noise(shots, table, points, under.elevation[: len(points)], found)
    for measure, value, weight, deep in (
        ("above", found.above, found.weight_above, np.maximum(rise, 0.0)),
        ("below", found.below, found.weight_below, np.maximum(-rise, 0.0)),
        ("net", found.above - found.below, found.weight_above - found.weight_below, rise),
    ):
        grade = np.nan_to_num(tin_grade(surface.points, surface.faces, under.face[: len(points)]))
        random, common = _felt(shots, table, weight, deep[:, None] * edge - weight[:, None] * grade)
        said = over + _yards(value, unit)
        if measure != "net":
            random = float(np.hypot(random, noise))
            said += f"; scatter of shots makes up to {noise:,.1f} cu {unit} of it where the two are close"
        rows.append(
            base | {"quantity": "volume", "measure": measure, "value": np.nan if why else value, "unit": f"cu {unit}",
                    "u_random": random, "u_common": common, "method": said, "why": why}
        )  # fmt: skip
    return rows


def _yards(value: float, unit: str) -> str:
    return f"; {words.number(value / 27, 1)} cubic yards of 27 cu {unit}" if unit != "m" else ""


def _members(shots: pd.DataFrame, table: pd.DataFrame, weight: np.ndarray) -> np.ndarray:
    """Weights of points brought to the shots they are made of, shape (rows of `observed`,)."""
    total = np.zeros(len(shots))
    share = table["share"].to_numpy(float)
    np.add.at(total, rows_of(table["shot_key"], shots["shot"]), weight * (1 - share))
    np.add.at(total, rows_of(table["other_key"], shots["shot"]), weight * share)
    return total


def _edge(points: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Change of the area of a surface by the place of each point, (p, 2): 0 but at its edge."""
    change = np.zeros((len(points), 2))
    for corner in range(3):
        across = points[faces[:, (corner + 1) % 3], :2] - points[faces[:, (corner + 2) % 3], :2]
        np.add.at(change, faces[:, corner], np.column_stack([-across[:, 1], across[:, 0]]) / 2)
    return change


def _felt(shots: pd.DataFrame, table: pd.DataFrame, weight: np.ndarray, in_plan: np.ndarray) -> tuple[float, float]:
    """Both parts: of elevations; and of places, on the grade of the design and at the edge of the surface."""
    parts = []
    for plane, per_axis in (("v", weight), ("h", in_plan[:, 0]), ("h", in_plan[:, 1])):
        own = _members(shots, table, per_axis)
        alone, shared = (shots[f"u_{plane}_{part}"].to_numpy(float) for part in ("random", "common"))
        parts.append(felt_by(own, alone, shared, shots[f"group_{plane}"].to_numpy()))
    random, common = np.hypot.reduce(np.array(parts), axis=0).tolist()
    return random, common


def _noise(shots: pd.DataFrame, table: pd.DataFrame, points: np.ndarray, design: np.ndarray, found: Between) -> float:
    """Volume that scatter of the shots alone makes both above and below, where the surfaces are close.

    Above and below are no linear measures there: scatter about a surface that is built as designed makes both, and
    neither is less than nothing. For each corner u φ(d/u) - d Φ(-d/u) of its area, d the distance and u its 1 sigma.
    """
    row = rows_of(table["shot_key"], shots["shot"])
    u = shots["u_v_random"].to_numpy(float)[row]
    apart = np.abs(points[:, 2] - design)
    area = found.weight_above - found.weight_below
    some = np.isfinite(apart) & (u > 0)
    ratio = apart[some] / u[some]
    extra = u[some] * np.exp(-(ratio**2) / 2) / np.sqrt(2 * np.pi) - apart[some] * ndtr(-ratio)
    return float((np.abs(area[some]) * extra).sum())
