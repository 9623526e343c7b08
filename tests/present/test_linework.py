"""Arcs are drawn as chords that nobody can tell from the arc."""

import math

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.present.map.linework import drawn_elements

CENTRE = (1000.0, 2000.0)


def arc(radius, start, turn, sense, *, line="A", sequence=0, station=100.0):
    """An arc from its centre, start direction (mathematical, radians) and turning angle."""
    end = start - sense * turn
    at = [(CENTRE[0] + radius * math.cos(a), CENTRE[1] + radius * math.sin(a)) for a in (start, end)]
    return {
        "line": line,
        "sequence": sequence,
        "shape": "arc",
        "start_easting": at[0][0],
        "start_northing": at[0][1],
        "end_easting": at[1][0],
        "end_northing": at[1][1],
        "centre_easting": CENTRE[0],
        "centre_northing": CENTRE[1],
        "radius": radius,
        "sense": sense,
        "start_station": station,
        "length": radius * turn,
    }


def straight(start, end, *, line="A", sequence=0, station=0.0):
    row = arc(1.0, 0.0, 1.0, 0, line=line, sequence=sequence, station=station)
    named = {"start_easting": start[0], "start_northing": start[1], "end_easting": end[0], "end_northing": end[1]}
    return row | named | {"shape": "line", "length": math.dist(start, end), "radius": math.nan}


def drawn(*rows, chord=0.02):
    return drawn_elements(conform("design_elements", pd.DataFrame(list(rows))), chord=chord)


@pytest.mark.parametrize("radius", [3.0, 25.0, 500.0, 5000.0])
@pytest.mark.parametrize("sense", [-1, 1])
def test_chords_stay_within_two_hundredths_of_a_foot_of_their_arc(radius, sense):
    found = drawn(arc(radius, 0.7, 1.2, sense))
    east, north = found["easting"] - CENTRE[0], found["northing"] - CENTRE[1]
    assert np.allclose(np.hypot(east, north), radius, atol=1e-9)
    middle = np.hypot((east[1:] + east[:-1]) / 2, (north[1:] + north[:-1]) / 2)
    assert (radius - middle).max() <= 0.02
    turns = np.diff(np.unwrap(np.arctan2(north, east)))
    assert (np.sign(turns) == -sense).all()
    assert abs(turns.sum()) == pytest.approx(1.2)


def test_stations_of_chords_run_along_the_arc():
    found = drawn(arc(500.0, 0.7, 0.3, 1))
    assert found["station"][0] == 100.0
    assert found["station"][-1] == pytest.approx(250.0)
    assert np.allclose(np.diff(found["station"]), 150.0 / (len(found["station"]) - 1))


def test_the_ends_of_elements_are_drawn_where_they_are():
    found = drawn(straight((0.0, 0.0), (10.0, 0.0)), straight((10.0, 0.0), (10.0, 5.0), sequence=1, station=10.0))
    assert found["easting"].tolist() == [0.0, 10.0, 10.0]
    assert found["northing"].tolist() == [0.0, 0.0, 5.0]
    assert found["station"].tolist() == [0.0, 10.0, 15.0]


def test_a_line_with_a_gap_is_drawn_in_two_parts():
    found = drawn(straight((0.0, 0.0), (10.0, 0.0)), straight((20.0, 0.0), (30.0, 0.0), sequence=1, station=10.0))
    assert found["part"].tolist() == [0, 0, 1, 1]


def test_two_lines_that_touch_are_drawn_apart():
    found = drawn(straight((0.0, 0.0), (10.0, 0.0)), straight((10.0, 0.0), (20.0, 0.0), line="B"))
    assert found["line"].tolist() == ["A", "A", "B", "B"]
    assert found["part"].tolist() == [0, 0, 1, 1]
