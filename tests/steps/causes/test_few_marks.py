"""Three marks, two check shots a session: a warp is no reason to blame the marks, and noise none to blame anything."""

import geopandas
import numpy as np
import pandas as pd
import pytest

import geoqa

PLACES = np.array([[0.0, 0.0], [900.0, 100.0], [400.0, 700.0]])


def surveyed(seed, warp, crs):
    """Shots and marks; `warp` moves neighbours alike by up to that, in feet, as no known cause does."""
    rng, names, rows = np.random.default_rng(seed), ["A", "B", "C"], []
    at, level = PLACES + np.array([2228000.0, 444000.0]), rng.normal(1450, 3, 3)
    east, north = PLACES.T
    bend = warp * np.column_stack([np.sin(east / 240 + 0.7 * seed), np.cos(north / 190 + seed),
                                   0.6 * np.sin(seed + (east + north) / 700)])  # fmt: skip
    for session in range(3):
        for mark in rng.permutation(3)[:2]:
            error = rng.normal(0, 0.02, 3) + [0.0, 0.0, rng.normal(0, 0.02)] + bend[mark]
            time = pd.Timestamp("2026-05-01T10:00Z") + pd.Timedelta(hours=5 * session, minutes=30 * len(rows))
            rows.append((names[mark], f"S{session}", *(np.append(at[mark], level[mark]) + error), time))
    table = pd.DataFrame(rows, columns=["on", "session", "e", "n", "z", "time"])
    shots = geopandas.GeoDataFrame(table, geometry=geopandas.points_from_xy(table.e, table.n, table.z), crs=crs)
    marks = geopandas.GeoDataFrame({"mark": names}, geometry=geopandas.points_from_xy(*at.T, level), crs=crs)
    return shots, marks


@pytest.mark.score
@pytest.mark.parametrize("crs", ["EPSG:6547", "EPSG:6559"])
@pytest.mark.parametrize(("warp", "right"), [(0.0, {"none"}), (0.25, {"none-fits", "two-disagree"})])
def test_three_marks_are_not_all_blamed(crs, warp, right):
    said = []
    for seed in range(6):
        shots, marks = surveyed(seed, warp, crs)
        found = geoqa.diagnose(
            shots, marks, mark="on", mark_id="mark", session="session", time="time", u_h="0.02 ft", u_v="0.02 ft",
            u_h_common="0.001 ft", u_v_common="0.02 ft", mark_u_h="0.005 ft", mark_u_v="0.01 ft",
        ).causes  # fmt: skip
        said += found.loc[found["explanation"] == 1, "cause"].tolist()
    assert set(said) <= right
