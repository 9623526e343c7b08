"""Elements of design lines: what they are built from, what is refused, and places along them."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.along_elements import chords, point_at
from geoqa.kernels.design.element_making import from_bulges, from_vertices
from geoqa.kernels.design.elements import Elements, line_table

FAR = np.array([13_000_000.0, 300_000.0])


def arc_right(**changes):
    """A quarter circle of radius 200 to the right, heading east from (1000, 1000), on line 7."""
    values = {
        "line": [7],
        "shape": [1],
        "start": [[1000.0, 1000.0]],
        "end": [[1200.0, 800.0]],
        "centre": [[1000.0, 800.0]],
        "radius": [200.0],
        "sense": [1],
        "start_station": [1000.0],
        "length": [100 * math.pi],
        "start_elevation": [700.0],
        "end_elevation": [710.0],
    }
    return Elements(**(values | changes))


def test_stations_restart_with_every_line_and_add_up_without_loss():
    steps = np.full(100_000, 10.1)
    vertices = np.column_stack([np.cumsum(steps), np.zeros(100_000)])
    e = from_vertices(vertices, np.repeat(np.arange(100), 1000), start_station=np.arange(100) * 1000.0)
    table = line_table(e)
    np.testing.assert_array_equal(table.start_station, np.arange(100) * 1000.0)
    straight = vertices[999::1000, 0] - vertices[::1000, 0]
    np.testing.assert_allclose(table.end_station - table.start_station, straight, rtol=0, atol=8e-9)


def test_arrays_are_read_only_and_the_callers_own_stay_his():
    own = np.array([[0.0, 0.0], [1.0, 0.0]])
    e = from_vertices(own, [0, 0])
    own[0] = 9.0
    assert e.start[0].tolist() == [0.0, 0.0]
    with pytest.raises(ValueError, match="read-only"):
        e.length[0] = 3.0


def test_a_line_of_one_vertex_is_kept_as_an_element_without_length():
    e = from_vertices([[0, 0], [5, 5], [5, 9]], [0, 1, 1])
    assert (len(e), e.line.tolist(), e.length.tolist()) == (2, [0, 1], [0.0, 4.0])
    assert line_table(e).closed.tolist() == [False, False]


def test_no_vertices_give_no_elements():
    e = from_vertices([], [])
    assert len(e) == 0
    assert line_table(e).line.shape == (0,)
    assert point_at(e, [3], [1.0]).easting.shape == (1,)
    assert chords(e).coordinates.shape == (0, 2)


@given(st.floats(-20, 20).filter(lambda b: abs(b) > 1e-6), st.floats(0.1, 500), st.floats(0, 6.3))
def test_the_arc_of_a_bulge_has_a_quarter_of_its_angle_in_the_tangent(bulge, chord, azimuth):
    end = FAR + chord * np.array([math.sin(azimuth), math.cos(azimuth)])
    e = from_bulges([FAR, end], [bulge, 0], [0, 0])
    swept = e.length[0] / e.radius[0]
    assert math.tan(swept / 4) == pytest.approx(abs(bulge), rel=1e-6)
    assert e.sense[0] == (-1 if bulge > 0 else 1)
    middle = point_at(e, 0, [e.length[0] / 2])
    # the sagitta is half the chord times the bulge; an arc that turns left swings out to the right
    across = np.array([math.cos(azimuth), -math.sin(azimuth)])
    expected = (FAR + end) / 2 + across * bulge * chord / 2
    np.testing.assert_allclose(
        [middle.easting[0], middle.northing[0]], expected, rtol=0, atol=1e-7 * max(1, abs(bulge))
    )


def test_an_arc_too_flat_to_matter_is_straight_and_a_very_flat_one_is_still_exact():
    assert from_bulges([[0, 0], [0, 100]], [1e-9, 0], [0, 0]).shape.tolist() == [0]
    flat = from_bulges(np.array([[0, 0], [0, 100]]) + FAR, [-1e-7, 0], [0, 0])
    middle = point_at(flat, 0, [50.0])
    assert middle.easting[0] - FAR[0] == pytest.approx(-5e-6, abs=4e-9)
    assert middle.northing[0] - FAR[1] == pytest.approx(50.0, abs=4e-9)


def test_places_on_a_quarter_circle_are_those_of_the_circle():
    e = arc_right()
    place = point_at(e, 7, [1000.0, 1000 + 50 * math.pi, 1000 + 100 * math.pi])
    half = 200 * math.sqrt(0.5)
    np.testing.assert_allclose(place.easting, [1000, 1000 + half, 1200], rtol=0, atol=1e-9)
    np.testing.assert_allclose(place.northing, [1000, 800 + half, 800], rtol=0, atol=1e-9)
    np.testing.assert_allclose(place.azimuth, [90, 135, 180], rtol=0, atol=1e-9)
    np.testing.assert_allclose(place.elevation, [700, 705, 710], rtol=0, atol=1e-9)


def test_stations_beyond_the_line_missing_or_of_no_line_have_no_place():
    e = from_vertices([[0, 0, 5], [0, 10, np.nan], [4, 10, 6]], [2, 2, 2], start_station=100.0)
    place = point_at(e, [2, 2, 2, 3, 1, 2], [99.0, 114.1, np.nan, 105.0, 105.0, 114.0])
    assert np.isnan(place.easting).tolist() == [True] * 5 + [False]
    assert (place.easting[5], place.northing[5], place.elevation[5], place.azimuth[5]) == (4.0, 10.0, 6.0, 90.0)


def test_a_missing_design_elevation_stays_missing_except_at_a_known_end():
    e = from_vertices([[0, 0, 5], [0, 10, np.nan]], [0, 0])
    got = point_at(e, 0, [0.0, 5.0, 10.0]).elevation
    assert got[0] == 5.0
    assert np.isnan(got[1:]).all()


def test_the_direction_at_a_vertex_is_that_of_the_leg_that_starts_there():
    e = from_vertices([[0, 0], [0, 10], [0, 10], [10, 10]], [0] * 4)
    assert point_at(e, 0, [9.999, 10.0]).azimuth.tolist() == [0.0, 90.0]


def test_chords_stay_within_the_sagitta_and_end_on_the_line():
    e = from_bulges(np.array([[0, 0], [60, 0], [60, 40], [90, 40]]) + FAR, [0.9, 0, -0.4, 0], [0] * 4)
    for sagitta in (1.0, 0.01):
        drawn = chords(e, max_sagitta=sagitta)
        middle = (drawn.station[1:] + drawn.station[:-1]) / 2
        place = point_at(e, 0, middle)
        halfway = (drawn.coordinates[1:] + drawn.coordinates[:-1]) / 2
        gap = np.hypot(place.easting - halfway[:, 0], place.northing - halfway[:, 1])
        assert gap.max() <= sagitta * (1 + 1e-6)
        assert gap.max() > sagitta / 10
        np.testing.assert_array_equal(drawn.coordinates[-1], e.end[-1])


def test_chords_of_a_length_divide_straight_elements_too():
    e = from_vertices([[0, 0, 1], [0, 10, 2], [5, 10, 2]], [0, 0, 0])
    drawn = chords(e, max_length=4.0)
    assert drawn.station.round(6).tolist() == [0.0, 3.333333, 6.666667, 10.0, 12.5, 15.0]
    assert drawn.elevation.round(6).tolist() == [1.0, 1.333333, 1.666667, 2.0, 2.0, 2.0]
    assert shapely.LineString(drawn.coordinates).length == pytest.approx(15.0)
    with pytest.raises(GeometryInputError, match="give positive lengths"):
        chords(e, max_length=0.0)


def test_a_closed_line_is_told_from_an_open_one():
    ring = [[0, 0], [0, 9], [9, 9], [9, 0], [0, 0.004]]
    assert line_table(from_vertices(ring, [0] * 5)).closed.tolist() == [True]
    assert line_table(from_vertices(ring, [0] * 5, tolerance=0.001)).closed.tolist() == [False]
    assert line_table(from_vertices([[0, 0], [0, 0.004]], [0] * 2)).closed.tolist() == [False]


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"radius": [199.9]}, r"Line 7, element 0 \(row 0\) is an arc whose start does not lie at its radius.*0\.005"),
        ({"end": [[1200.1, 800.0]]}, "is an arc whose end does not lie at its radius"),
        ({"sense": [-1]}, "length and sense do not lead from its start to its end"),
        ({"sense": [0]}, r"sense is neither \+1 \(right\) nor -1 \(left\)"),
        ({"length": [99 * math.pi]}, "length and sense do not lead"),
        ({"length": [500 * math.pi]}, "longer than its full circle"),
        ({"length": [-1.0]}, "negative length; turn the element round"),
        ({"centre": [[np.nan, 800.0]]}, "arc without a centre and a positive radius"),
        ({"shape": [2]}, r"shape other than 0 \(straight\) or 1 \(arc\)"),
        ({"shape": [0]}, "is straight, but its sense is not 0"),
        ({"shape": [0], "sense": [0]}, "not as long as its ends are apart"),
        ({"start": [[np.nan, 1000.0]]}, "lacks a start, end, station or length; leave such lines out"),
        ({"radius": [200.0, 200.0]}, r"'radius' has shape \(2,\), but 'line' asks for \(1,\)"),
        ({"start": [1000.0, 1000.0]}, r"'start' has shape \(2,\), but 'line' asks for \(1, 2\)"),
        ({"tolerance": 0.0}, r"tolerance of elements is 0\.0; give a positive length"),
    ],
)
def test_an_arc_that_contradicts_itself_is_refused(changes, message):
    with pytest.raises(GeometryInputError, match=message):
        arc_right(**changes)


def two_legs(**changes):
    nan = [np.nan, np.nan]
    values = {
        "line": [3, 3],
        "shape": [0, 0],
        "start": [[0.0, 0.0], [0.0, 10.0]],
        "end": [[0.0, 10.0], [0.0, 30.0]],
        "centre": [nan, nan],
        "radius": nan,
        "sense": [0, 0],
        "start_station": [0.0, 10.0],
        "length": [10.0, 20.0],
        "start_elevation": nan,
        "end_elevation": nan,
    }
    return Elements(**(values | changes))


def test_legs_that_do_not_join_are_refused_with_line_and_element():
    assert len(two_legs()) == 2
    with pytest.raises(GeometryInputError, match=r"Line 3, element 1 \(row 1\) does not begin where the one before"):
        two_legs(start=[[0.0, 0.0], [0.0, 10.1]], length=[10.0, 19.9])
    with pytest.raises(GeometryInputError, match="does not take over the station of the one before it"):
        two_legs(start_station=[0.0, 11.0])
    with pytest.raises(GeometryInputError, match="comes after a higher line number; sort the elements"):
        two_legs(line=[4, 3])
    assert len(two_legs(line=[3, 4], start=[[0.0, 0.0], [0.0, 11.0]], length=[10.0, 19.0])) == 2


@pytest.mark.parametrize(
    ("coordinates", "index", "options", "message"),
    [
        ([[0, 0], [np.nan, 1]], [5, 5], {}, r"Line 5, vertex 1 \(row 1\) lacks a coordinate"),
        ([[0, 0], [1, 1]], [5, 4], {}, r"Line 4 \(row 1\) comes after a higher line number; sort the vertices"),
        ([[0, 0], [1, 1]], [5], {}, r"2 vertices have \(1,\) line numbers"),
        ([[0], [1]], [5, 5], {}, r"shape \(2, 1\); give \(k, 2\) or \(k, 3\)"),
        ([[0, 0], [1, 1]], [5, 5], {"start_station": [0.0, 1.0]}, "one for each of 1 lines"),
        ([[0, 0], [1, 1]], [5, 5], {"start_station": np.nan}, "give one number"),
    ],
)
def test_vertices_that_make_no_line_are_refused(coordinates, index, options, message):
    with pytest.raises(GeometryInputError, match=message):
        from_vertices(coordinates, index, **options)
