"""Points to go to along each reach that nobody shot, no farther apart than the spacing that was asked for."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from geoqa.model import words
from geoqa.model.point_file import Place
from geoqa.model.results import Results
from geoqa.model.tables.in_rows import in_rows

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

NEAR = 0.1
"""Share of the spacing within which the end of a gap counts as shot."""


def gap_points(results: Results) -> dict[str, tuple[Place, ...]]:
    """Points along each reach without a shot, by its finding: after them no leg is longer than the spacing."""
    if "gaps" not in results.layers or "geometry" not in results.layers["gaps"]:
        return {}
    limits = results.findings.drop_duplicates("finding").set_index("finding")["upper"]
    made = {}
    for row in in_rows(results.layers["gaps"]):
        spacing = float(limits.get(row["finding"], math.nan))
        if row["geometry"] is not None and not row["geometry"].is_empty and spacing > 0 and math.isfinite(spacing):
            made[row["finding"]] = tuple(_along(row, spacing, _usable(results.shots, row["kind"])))
    return made


def _usable(shots: pd.DataFrame, kind: object) -> np.ndarray:
    mine = shots[shots["kind"] == kind] if "kind" in shots else shots
    mine = mine[mine["use"].to_numpy(bool)] if "use" in mine else mine
    places = mine[["easting", "northing"]].to_numpy("float64")
    return places[(places == places).all(axis=1)]


def _along(gap: Mapping[Any, Any], spacing: float, usable: np.ndarray) -> Iterator[Place]:
    import numpy as np
    import shapely

    line, legs = gap["geometry"], max(1, math.ceil(gap["geometry"].length / spacing - 1e-9))
    for nth in range(legs + 1):
        east, north = shapely.get_coordinates(line.interpolate(nth / legs, normalized=True))[0].tolist()
        end = nth in (0, legs)
        if end and len(usable) and np.hypot(usable[:, 0] - east, usable[:, 1] - north).min() <= NEAR * spacing:
            continue  # the shot beside the gap
        station = gap["station"] + (gap["station_end"] - gap["station"]) * nth / legs
        yield Place(easting=east, northing=north, says=f"gap {gap['line']} {words.station(station, 0)}")
