"""Gutters in memory, in any frame: straight lines along north, shots every 25 ft, curb tops half a foot above."""

from typing import Any

import numpy as np
import pandas as pd
import pytest

from geoqa import testing
from geoqa.frames.systems.resolve import resolve
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers, placed
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.drainage.gutters import Gutters
from geoqa.steps.drainage.reveals import Reveals

FRAMES = {"ft": ("EPSG:6547", "EPSG:8228", 1.0), "ftUS": ("EPSG:6565", "EPSG:6360", 1.0),
          "m": ("EPSG:6564", "EPSG:5703", 0.3048)}  # fmt: skip
"""Three zones, each with a unit of its own: horizontal, vertical, and what 1 ft of these tests is in it."""

CODES = conform(
    "codes",
    pd.DataFrame(
        [
            {"code": "CFL", "kind": "curb-flow", "geometry": "line", "role": "feature", "pairs_with": "CTB"},
            {"code": "CTB", "kind": "curb-top", "geometry": "line", "role": "feature", "pairs_with": "CFL"},
        ]
    ),
)
LIMITS = (
    ("curb-flow", "gutter-fall", 0.003, np.inf),
    ("curb-flow", "ponding", -np.inf, 0.02),
    ("curb-flow", "coverage", -np.inf, 30.0),
)


START = pd.Timestamp("2026-03-14 14:00", tz="UTC")


class Street:
    """A gutter of 500 ft that falls by 0.5 % towards its beginning."""

    stations = np.arange(0.0, 501.0, 25.0)

    def level(self, stations: Any = None) -> np.ndarray:
        """Design elevation of the flow line."""
        return 100 + 0.005 * (self.stations if stations is None else np.asarray(stations))

    def shots(self, z: Any, *, stations: Any = None, code: str = "CFL", **columns: Any) -> list[dict[str, Any]]:
        """Rows of shots on the flow line (CFL) or half a foot beside it (CTB); an hour apart, so that nothing lasts."""
        stations = self.stations if stations is None else np.asarray(stations)
        given = {name: np.broadcast_to(value, len(stations)) for name, value in columns.items()}
        return [
            {"code": code, "line_id": "1", "sequence": nth + 1, "time": START + pd.Timedelta(hours=nth),
             "offset": 0.5 * (code == "CTB"), "station": station, "elevation": level}
            | {name: value[nth] for name, value in given.items()}
            for nth, (station, level) in enumerate(zip(stations.tolist(), np.asarray(z).tolist(), strict=True))
        ]  # fmt: skip

    def layers(
        self, rows: list[dict[str, Any]], *, unit: str = "ft", design: Any = "both", limits: Any = LIMITS,
        prepared: Any = None, **tables: Any,
    ) -> Layers:  # fmt: skip
        """Layers of it; all lengths are in feet, and become those of the unit."""
        horizontal, vertical, foot = FRAMES[unit]
        frame = resolve(horizontal, vertical)
        table = testing.judged_shots(rows)
        table = table.assign(kind=table["code"].map({"CFL": "curb-flow", "CTB": "curb-top", "INL": "inlet"}))
        table = table.assign(**(prepared or {}))
        lines = {}
        if design:
            lines["CFL-R"] = ("curb-flow", 0.0, 0.0, 500.0)
        if design == "both":
            lines["CTB-R"] = ("curb-top", 0.5, 0.0, 500.0)
        whole = testing.design(lines)
        elements = whole["design_elements"]
        for part, lift in (("CFL-R", 0.0), ("CTB-R", 0.5)):
            mine = elements["line"] == part
            elements.loc[mine, ["start_elevation", "end_elevation"]] = [100 + lift, 102.5 + lift]
        whole |= {"shots": table, "codes": CODES, "limits": testing.limits(*limits)} | tables
        whole |= {name: empty(name) for name in ("control", "precision", "screening", "sources")}
        if foot != 1.0:
            whole = {name: _scaled(name, pd.DataFrame(rows), foot) for name, rows in whole.items()}
        return Layers({name: placed(name, rows, frame) for name, rows in whole.items()}, frame=frame)

    def judged(self, rows: list[dict[str, Any]], **options: Any) -> pd.DataFrame:
        """Findings of gutters and reveals."""
        return testing.run(self.layers(rows, **options), MatchLines(), Gutters(), Reveals())["findings"]


def _scaled(name: str, table: pd.DataFrame, foot: float) -> pd.DataFrame:
    lengths = {
        "shots": ["easting", "northing", "elevation", "u_h_random", "u_v_random", "u_h_common", "u_v_common"],
        "design_elements": ["start_easting", "start_northing", "end_easting", "end_northing", "start_station",
                            "length", "start_elevation", "end_elevation"],
        "design_points": ["easting", "northing", "elevation"],
    }  # fmt: skip
    table = table.copy()
    for column in lengths.get(name, []):
        table[column] = table[column] * foot
    if name == "limits":
        mine = table["quantity"] == "length"
        for side in ("lower", "upper"):
            table[side] = table[side].where(~mine, table[side] * foot)
    return table


@pytest.fixture(scope="session")
def street() -> Street:
    return Street()
