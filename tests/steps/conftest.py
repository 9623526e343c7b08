"""Small jobs in memory: straight lines along the north axis, so that station is northing and offset is easting."""

from typing import Any

import numpy as np
import pandas as pd
import pytest

from geoqa.frames.resolve import resolve
from geoqa.kernels.design.element_making import from_vertices
from geoqa.model.columns import columns_of, conform, empty
from geoqa.model.layer import Layers, placed

ORIGIN = np.array([2_228_000.0, 446_000.0])


@pytest.fixture(scope="session")
def frame():
    return resolve("EPSG:6547", "EPSG:8228")


def shots_table(rows: list[dict[str, Any]]) -> pd.DataFrame:
    """Shots with what every shot has; `offset`, `station` and `elevation` place them."""
    made = []
    for number, row in enumerate(rows, start=1):
        one = {"shot": str(100 + number), "source": "day1", "line": number + 1, "code": "CTB", "solution": "fixed"}
        one |= {"session": "A", "initialization": "A1", "satellites": 12, "epochs": 5, "pdop": 1.6}
        one |= {"offset": 0.0, "station": 0.0, "elevation": 100.0, "time": pd.Timestamp("2026-03-14 14:00", tz="UTC")}
        one |= row
        east, north = one.pop("offset"), one.pop("station")
        one.setdefault("easting", ORIGIN[0] + east)
        one.setdefault("northing", ORIGIN[1] + north)
        one.setdefault("shot_key", f"{one['source']}/{one['shot']}")
        made.append(one)
    if not made:
        return empty("shots")[[each.name for each in columns_of("shots", made_by="")]]
    return conform("shots", pd.DataFrame(made), made_by="")


def known(shots: pd.DataFrame, **columns: Any) -> pd.DataFrame:
    """Shots as they are after kinds, uncertainty and use."""
    given = {"kind": "curb-top", "role": "feature", "use": True, "flags": ""}
    given |= {"u_h_random": 0.02, "u_v_random": 0.02, "u_h_common": 0.0, "u_v_common": 0.02} | columns
    return conform("shots", shots.assign(**given))


def design(lines: dict[str, Any] | None = None, points: dict[str, Any] | None = None) -> dict[str, pd.DataFrame]:
    """Design tables: lines as name -> (kind, offset, start, end[, elevation]), points as name -> (kind, e, n, z)."""
    names = sorted(lines or {})
    table = [{"line": name, "kind": lines[name][0], "source": "design"} for name in names]
    elements = []
    for name in names:
        _, east, start, end, *level = lines[name]
        level = level[0] if level else 100.0
        ends = np.array([[east, start, level], [east, end, level]]) + np.append(ORIGIN, 0.0)
        leg = from_vertices(ends, [0, 0], start_station=start)
        elements.append(
            {
                "line": name, "sequence": 0, "shape": "line", "sense": 0, "start_station": start,
                "length": leg.length[0], "start_easting": ends[0, 0], "start_northing": ends[0, 1],
                "end_easting": ends[1, 0], "end_northing": ends[1, 1], "start_elevation": level, "end_elevation": level,
            }
        )  # fmt: skip
    spots = [
        {
            "point": name,
            "kind": kind,
            "source": "design",
            "easting": ORIGIN[0] + e,
            "northing": ORIGIN[1] + n,
            "elevation": z,
        }
        for name, (kind, e, n, z) in (points or {}).items()
    ]
    return {
        "design_lines": conform("design_lines", pd.DataFrame(table)) if table else empty("design_lines"),
        "design_elements": conform("design_elements", pd.DataFrame(elements)) if elements else empty("design_elements"),
        "design_points": conform("design_points", pd.DataFrame(spots)) if spots else empty("design_points"),
    }


def limits_table(*rows: tuple[Any, ...]) -> pd.DataFrame:
    """Limits as (kind, check, lower, upper[, rule[, ruleset]])."""
    made = []
    for kind, check, lower, upper, *rest in rows:
        rule, ruleset = ([*rest, "guarded", "job"] if not rest else [*rest, "job"])[:2]
        made.append(
            {"ruleset": ruleset, "kind": kind, "check": check, "quantity": "length", "lower": lower, "upper": upper,
             "rule": rule, "reference": "Drawing C-101", "edition": "B", "verified": True}
        )  # fmt: skip
    return conform("limits", pd.DataFrame(made)) if made else empty("limits")


class Desk:
    """Builds small jobs and runs steps over them."""

    shots, known, design, limits = (
        staticmethod(shots_table),
        staticmethod(known),
        staticmethod(design),
        staticmethod(limits_table),
    )
    origin = ORIGIN

    def __init__(self, frame: Any) -> None:
        self.frame = frame

    def layers(self, **tables: Any) -> Layers:
        """Layers of tables; the rest of what steps ask for is empty."""
        starting = {name: empty(name) for name in ("control", "codes", "limits", "precision", "screening", "sources")}
        whole = starting | design() | tables
        return Layers({name: placed(name, table, self.frame) for name, table in whole.items()}, frame=self.frame)

    @staticmethod
    def run(layers: Layers, *steps: Any) -> Layers:
        """Layers after steps, held to what each declares."""
        for step in steps:
            layers = layers.after(step, step.run(layers))
        return layers

    @staticmethod
    def told(layers: Layers, check: str) -> dict[str, tuple[str, str]]:
        """Verdict and reason of one check, by shot name without its source."""
        rows = layers["findings"]
        rows = rows[rows["check"] == check]
        names = rows["shot"].fillna("-").str.rpartition("/")[2]
        return {name: (verdict, why) for name, verdict, why in zip(names, rows["verdict"], rows["why"], strict=True)}


@pytest.fixture
def job(frame):
    return Desk(frame)
