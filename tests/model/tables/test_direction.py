"""A deviation points where the shot lies from its design: by hand, on lines and points of every direction."""

import numpy as np
import pandas as pd
import pytest

from geoqa import testing
from geoqa.model import words
from geoqa.model.tables.columns import conform
from geoqa.model.tables.direction import COMPASS, compass, toward, ways


def finding(check, deviation, **more):
    return {"finding": "F1", "check": check, "deviation": deviation, "subject": "D", "shot": "day1/1", "run": None,
            "easting": np.nan, "northing": np.nan} | more  # fmt: skip


def matched(azimuth):
    # fmt: off
    row = {"shot_key": "day1/1", "design": "D", "station": 1.0, "offset": 0.1, "along": 0.0, "distance": 0.1,
           "design_elevation": 100.0, "azimuth": azimuth, "cost": 0.0, "odds": 1.0, "chosen": True, "ambiguous": False}
    # fmt: on
    return pd.DataFrame([row])


@pytest.mark.parametrize("azimuth", range(0, 360, 45))
@pytest.mark.parametrize(("deviation", "turn"), [(0.2, 2), (-0.2, -2)])
def test_right_of_a_line_is_a_quarter_turn_clockwise_of_its_way(azimuth, deviation, turn):
    layers = testing.layers(line_matches=conform("line_matches", matched(float(azimuth))))
    told = toward(layers, pd.DataFrame([finding("offset", deviation)]))
    assert told.tolist() == [f"{COMPASS[(azimuth // 45 + turn) % 8]} side"]


@pytest.mark.parametrize("seed", range(20))
def test_a_point_off_its_design_is_told_north_and_east(seed):
    north, east = np.random.default_rng(seed).normal(0, 1, 2)
    azimuth = np.degrees(np.arctan2(east, north))
    layers = testing.layers(point_matches=conform("point_matches", matched(azimuth)))
    told = toward(layers, pd.DataFrame([finding("position", np.hypot(north, east))]))
    assert told.tolist() == [f"dN {words.number(north, 2, signed=True)}, dE {words.number(east, 2, signed=True)}"]


def test_a_check_shot_is_told_from_its_mark_and_a_run_from_its_first_member():
    control = conform("control", pd.DataFrame([{"mark": "D", "easting": 10.0, "northing": 20.0, "elevation": 1.0,
                      "held": False, "independent": True, "source": "control", "line": 2}]))  # fmt: skip
    layers = testing.layers(control=control, line_matches=conform("line_matches", matched(90.0)))
    rows = [
        finding("control-position", 0.5, easting=10.4, northing=19.7),
        finding("offset", -0.2, finding="F2", run="F3"),
        finding("offset", -0.2, finding="F3", shot=None),
        finding("elevation", -0.2, finding="F4"),
        finding("offset", np.nan, finding="F5"),
    ]
    assert toward(layers, pd.DataFrame(rows)).tolist() == ["dN -0.30, dE +0.40", "north side", "north side", "", ""]
    assert not len(toward(layers, pd.DataFrame(rows).iloc[:0]))
    assert compass(359.0) == "north"


def test_some_findings_are_told_as_among_all_of_them_however_many_there_are(monkeypatch):
    rows = conform("findings", pd.DataFrame([
        finding("offset", -0.2, finding="F2", run="F3"),
        finding("offset", -0.2, finding="F3", shot=None),
        finding("elevation", -0.2, finding="F4"),
    ]))  # fmt: skip
    layers = testing.layers(findings=rows, line_matches=conform("line_matches", matched(90.0)))
    some = layers["findings"].iloc[[2, 1]]
    wanted = toward(layers, some, among=layers["findings"])
    assert wanted.tolist() == ["", "north side"]
    pd.testing.assert_series_equal(ways(layers, some), wanted)
    monkeypatch.setattr("geoqa.model.tables.direction.FEW", 1)
    pd.testing.assert_series_equal(ways(layers, some), wanted)
