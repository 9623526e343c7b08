"""What nobody lists: elevations that follow the place blame no mark, and a single bad mark is still told."""

import geopandas
import numpy as np
import pandas as pd
import pytest

import geoqa
from geoqa.steps.causes.unlisted import too_many_blamed

PLACES = np.array([[0.0, 40.0], [420.0, -35.0], [800.0, 60.0], [1230.0, -40.0], [1600.0, 55.0], [2050.0, -20.0]])


def said(bend, *, crs="EPSG:6405", seed=5, places=PLACES):
    """Answer on four check shots a mark, elevations of mark m off by bend[m] feet."""
    rng, names = np.random.default_rng(seed), [f"M{number}" for number in range(len(places))]
    at, level = places + np.array([552000.0, 1054000.0]), rng.normal(1450, 3, len(places))
    rows = []
    for session in range(4):
        shared = rng.normal(0, 0.015)
        for mark, name in enumerate(names):
            error = rng.normal(0, 0.02, 3) + np.array([0.0, 0.0, shared + bend[mark]])
            time = pd.Timestamp("2026-05-01T10:00Z") + pd.Timedelta(hours=5 * session, minutes=9 * mark)
            rows.append((name, f"S{session}", *(np.append(at[mark], level[mark]) + error), time))
    table = pd.DataFrame(rows, columns=["on", "session", "e", "n", "z", "time"])
    shots = geopandas.GeoDataFrame(table, geometry=geopandas.points_from_xy(table.e, table.n, table.z), crs=crs)
    marks = geopandas.GeoDataFrame({"mark": names}, geometry=geopandas.points_from_xy(*at.T, level), crs=crs)
    found = geoqa.diagnose(
        shots, marks, mark="on", mark_id="mark", session="session", time="time", u_h="0.02 ft", u_v="0.02 ft",
        u_h_common="0.001 ft", u_v_common="0.02 ft", mark_u_h="0.005 ft", mark_u_v="0.01 ft",
    ).causes  # fmt: skip
    return found[found["explanation"] == 1]


ALONG = (PLACES[:, 0] - 1000.0) / 1000.0


@pytest.mark.parametrize("bend", [0.15 * ALONG, 0.2 * ALONG**2 - 0.07], ids=["tilted", "bent"])
def test_a_warp_in_elevation_is_told_and_blames_no_mark(bend):
    answer = said(bend)
    assert answer["status"].tolist() == ["none-fits"]
    assert answer["cause"].tolist() == ["warp"]
    assert "follow the place" in answer["words"].iloc[0]
    low, high = np.argmin(bend), np.argmax(bend)
    assert f"at M{low} to" in answer["words"].iloc[0]
    assert f"at M{high}, as no known cause" in answer["words"].iloc[0]


@pytest.mark.parametrize("mark", [2, 5])
def test_a_mark_that_is_off_alone_is_still_blamed(mark):
    answer = said(np.where(np.arange(6) == mark, -0.3, 0.0))
    assert answer["status"].tolist() == ["named"]
    assert answer[["cause", "subject"]].to_numpy().tolist() == [["mark", f"M{mark}"]]


def test_two_of_six_marks_are_not_blamed_for_what_the_survey_may_be():
    answer = said(np.array([0.0, 0.4, 0.0, 0.0, -0.5, 0.0]))
    assert answer["status"].tolist() == ["none-fits"]
    assert "2 of 6 marks (M1 and M4) would have to be wrong" in answer["words"].iloc[0]


def test_two_of_nine_marks_are():
    more = np.vstack([PLACES, PLACES[:3] + np.array([150.0, 700.0])])
    answer = said(np.array([0.0, 0.4, 0.0, 0.0, -0.5, 0, 0, 0, 0]), places=more)
    assert sorted(answer["subject"]) == ["M1", "M4"]


@pytest.mark.parametrize(("blamed", "marks"), [(1, 3), (1, 6), (2, 9)])
def test_few_marks_of_many_may_be_blamed(blamed, marks):
    assert not too_many_blamed(blamed, marks)
    assert too_many_blamed(blamed + 1, 4 * (blamed + 1))
