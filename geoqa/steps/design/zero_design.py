"""Design elevations of exactly 0 among others far from it: some drawings write 0 for none."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers

LEVEL = Length.parse("30 ft")
"""Nearer to other elevations, a 0 may well be meant."""


def zero_elements(layers: Layers) -> pd.DataFrame:
    """Elements of design lines that begin or end at 0 where all other elevations of their line lie far from it.

    Returns
    -------
    DataFrame
        `line`, `start`, `end` (stations), `zeros` (different vertices of the line at 0) and `level`, what the others
        are.
    """

    def made() -> pd.DataFrame:
        rows = layers["design_elements"]
        ends = pd.concat([rows[["line", "start_elevation"]].set_axis(["line", "z"], axis=1),
                          rows[["line", "end_elevation"]].set_axis(["line", "z"], axis=1)])  # fmt: skip
        lines = ends.loc[ends["z"] == 0, "line"].unique()
        found = []
        for line in sorted(lines):
            mine = rows[rows["line"] == line].sort_values("sequence")
            z = np.append(mine["start_elevation"].to_numpy(float), mine["end_elevation"].to_numpy(float)[-1:])
            if not far_from_zero(z, LEVEL.to(layers.frame.unit)):
                continue
            zero = (mine[["start_elevation", "end_elevation"]] == 0).any(axis=1)
            start = mine.loc[zero, "start_station"].to_numpy(float)
            found.append(pd.DataFrame({
                "line": line, "start": start, "end": start + mine.loc[zero, "length"].to_numpy(float),
                "zeros": int((z == 0).sum()), "level": float(np.median(z[np.isfinite(z) & (z != 0)])),
            }))  # fmt: skip
        if not found:
            return pd.DataFrame(columns=["line", "start", "end", "zeros", "level"])
        return pd.concat(found, ignore_index=True)

    table: pd.DataFrame = layers.derived("design elevations of 0", ("design_elements",), made)
    return table


def far_from_zero(elevation: np.ndarray, level: float) -> bool:
    """Whether some are exactly 0 and all others, two at least, lie farther from it than they spread.

    Examples
    --------
    >>> far_from_zero(np.array([1460.0, 0.0, 1461.0]), 30.0), far_from_zero(np.array([2.0, 0.0, -1.0]), 30.0)
    (True, False)
    """
    others = elevation[np.isfinite(elevation) & (elevation != 0)]
    if len(others) < 2 or not (elevation == 0).any():
        return False
    return bool(np.abs(others).min() > max(level, float(np.ptp(others))))


def at_zero(layers: Layers, rows: pd.DataFrame) -> np.ndarray:
    """Rows of `along_lines` whose design elevation comes from such a 0, shape (n,)."""
    hit = np.zeros(len(rows), dtype=bool)
    table = zero_elements(layers)
    if len(table):
        station = rows["station"].to_numpy(float)
        for line, start, end in zip(table["line"], table["start"], table["end"], strict=True):
            hit |= (rows["subject"] == line).to_numpy(bool) & (station >= start) & (station <= end)
    return hit


def zero_points(layers: Layers) -> set[str]:
    """Design points at exactly 0 where all others lie far from it."""
    if "design_points" not in layers:
        return set()
    points = layers["design_points"]
    z = points["elevation"].to_numpy(float)
    return set(points.loc[z == 0, "point"]) if far_from_zero(z, LEVEL.to(layers.frame.unit)) else set()


def notes_of_zeros(layers: Layers) -> list[dict[str, Any]]:
    """A fact for each line, and one for all points, with design elevations of 0 among others."""
    facts: list[dict[str, Any]] = [
        {"note": "zero-design-elevation", "subject": str(row["line"]), "count": int(row["zeros"]),
         "number": row["level"], "unit": "job"}
        for row in zero_elements(layers).drop_duplicates("line").to_dict("records")
    ]  # fmt: skip
    if points := zero_points(layers):
        z = layers["design_points"]["elevation"].to_numpy(float)
        level = float(np.median(z[np.isfinite(z) & (z != 0)]))
        facts.append({"note": "zero-design-elevation", "variant": "points", "subject": ", ".join(sorted(points)[:8]),
                      "count": len(points), "number": level, "unit": "job"})  # fmt: skip
    return facts
