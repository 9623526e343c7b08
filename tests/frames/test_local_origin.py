"""Coordinates about an origin of their own are put on the grid by one turn and one shift, and nothing else changes."""

import numpy as np
import pandas as pd
import pytest
import shapely

from geoqa.frames.moving.local_origin import LocalOrigin, on_the_grid
from geoqa.model.source import Source

QUARTER = LocalOrigin(point=(10.0, 20.0), at=(500.0, 700.0), turn_deg=90.0, reference="C-1, note 2")


def test_a_quarter_turn_by_hand():
    points = pd.DataFrame(
        {"easting": [10.0, 10.0, np.nan], "northing": [20.0, 50.0, 1.0], "elevation": [7.0, 8.0, 9.0]}
    )
    lines = pd.DataFrame({"line": ["A", "B"], "geometry": [shapely.LineString([(10, 20), (0, 20)]), None]})
    pieces = pd.DataFrame({"easting": [10.0], "northing": [20.0], "azimuth": [30.0], "radius": [55.0]})
    source = Source(layers={"design_points": points, "design_lines": lines, "baseline": pieces, "other": points})
    put = on_the_grid(source, QUARTER)
    # what the plan, turned left by a quarter, has to the north, lies to the east
    assert put.layers["design_points"]["easting"].to_numpy() == pytest.approx([500.0, 530.0, np.nan], nan_ok=True)
    assert put.layers["design_points"]["northing"].to_numpy() == pytest.approx([700.0, 700.0, np.nan], nan_ok=True)
    assert put.layers["design_points"]["elevation"].tolist() == [7.0, 8.0, 9.0]
    assert np.array(put.layers["design_lines"]["geometry"][0].coords) == pytest.approx(
        np.array([(500, 700), (500, 710)])
    )
    assert put.layers["design_lines"]["geometry"][1] is None
    assert put.layers["baseline"]["azimuth"].tolist() == pytest.approx([120.0])
    assert put.layers["baseline"]["radius"].tolist() == [55.0]
    assert put.layers["other"] is points
    assert str(put.evidence[-1]) == (
        "local origin: 10.0, 20.0 lies at 500.0, 700.0, and all is turned back by 90.0° (C-1, note 2)"
    )
    assert source.layers["design_points"]["easting"][0] == 10.0


def test_arcs_stay_arcs_far_from_the_origin():
    arc = {"start_easting": [2e6], "start_northing": [0.0], "end_easting": [2e6 + 100], "end_northing": [100.0],
           "centre_easting": [2e6 + 100], "centre_northing": [0.0], "sense": [1], "shape": ["arc"]}  # fmt: skip
    there = LocalOrigin(point=(2e6, 0.0), at=(8_212_400.0, 651_300.0), turn_deg=-33.0, reference="x")
    made = on_the_grid(Source(layers={"design_elements": pd.DataFrame(arc)}), there).layers["design_elements"]
    centre = made[["centre_easting", "centre_northing"]].to_numpy()
    ends = [made[[f"{end}_easting", f"{end}_northing"]].to_numpy() - centre for end in ("start", "end")]
    radius = [float(np.hypot(*each[0])) for each in ends]
    assert radius == pytest.approx([100.0, 100.0], abs=1e-8)
