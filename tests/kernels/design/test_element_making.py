"""Elements from vertices: lengths by Pythagoras, arcs by the definition of the bulge."""

import math

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.element_making import from_bulges, from_vertices


def test_legs_of_two_lines_restart_their_stations():
    made = from_vertices([[0, 0], [3, 4], [3, 14], [0, 0], [5, 12]], [0, 0, 0, 7, 7], start_station=[100.0, 0.0])
    assert made.line.tolist() == [0, 0, 7]
    assert made.length.tolist() == [5, 10, 13]
    assert made.start_station.tolist() == [100, 105, 0]
    assert made.shape.tolist() == made.sense.tolist() == [0, 0, 0]
    assert np.isnan(made.start_elevation).all()


@pytest.mark.parametrize(("degrees", "sense"), [(30, -1), (90, -1), (180, -1), (270, -1), (-90, 1)])
def test_a_bulge_is_the_tangent_of_a_quarter_of_the_angle_and_left_is_positive(degrees, sense):
    angle = math.radians(degrees)
    made = from_bulges([[0, 0], [0, 20]], [math.tan(angle / 4), 0], [0, 0])
    radius = 10 / math.sin(abs(angle) / 2)  # half the chord over the sine of half the angle
    assert made.radius[0] == pytest.approx(radius)
    assert made.length[0] == pytest.approx(radius * abs(angle))
    assert made.sense.tolist() == [sense]
    # a curve to the left has its centre on the left, west of a chord that goes north, up to half a turn
    side = -math.copysign(1, angle) * math.cos(abs(angle) / 2) * radius
    assert made.centre[0].tolist() == pytest.approx([side, 10.0], abs=1e-9)


def test_the_bulge_of_the_last_vertex_is_not_used_and_a_flat_one_is_straight():
    made = from_bulges([[0, 0], [0, 20]], [1e-9, 0.5], [0, 0])
    assert made.shape.tolist() == [0]
    assert made.length.tolist() == [20]


def test_one_vertex_is_an_element_without_length_and_none_are_no_elements():
    assert from_vertices([[5, 6, 7.0]], [3]).length.tolist() == [0]
    assert len(from_vertices(np.zeros((0, 2)), [])) == 0


@pytest.mark.parametrize(
    ("coordinates", "lines", "message"),
    [
        ([[0, 0], [np.nan, 1]], [0, 0], "lacks a coordinate"),
        ([[0, 0], [1, 1]], [1, 0], "sort the vertices by line"),
        ([[0, 0], [1, 1]], [0], "one of each"),
        ([[0], [1]], [0, 0], "give"),
    ],
)
def test_vertices_that_make_no_line_are_refused(coordinates, lines, message):
    with pytest.raises(GeometryInputError, match=message):
        from_vertices(coordinates, lines)
