"""Where points lie beside one element: against the circle and the right triangle."""

import math

import numpy as np
import pytest
import shapely

from geoqa.kernels.design.element_making import from_bulges, from_vertices
from geoqa.kernels.design.nearest_on_element import beside, distance_squared, prepare

LEG = prepare(from_vertices([[0, 0, 10.0], [30, 40, 20.0]], [0, 0], start_station=100.0))
QUARTER = prepare(from_bulges([[0, 0], [10, 10]], [-math.tan(math.pi / 8), 0], [0, 0]))  # round (10, 0), to the right
CORNER = prepare(from_vertices([[0, 0], [0, 10], [10, 10]], [0, 0, 0]))


def at(courses, *points, row=0):
    east, north = np.array(points, dtype=float).T
    rows = np.full(len(points), row)
    return beside(courses, rows, east, north), distance_squared(courses, rows, east, north)


def test_beside_a_leg_of_three_four_five():
    # 25 along is (15, 20); right of it is (0.8, -0.6)
    found, squared = at(LEG, (15 + 4, 20 - 3), (15 - 0.8, 20 + 0.6))
    assert found.station.tolist() == pytest.approx([125, 125])
    assert found.offset.tolist() == pytest.approx([5, -1])
    assert found.elevation.tolist() == pytest.approx([15, 15])
    assert found.azimuth.tolist() == pytest.approx([math.degrees(math.atan2(3, 4))] * 2)
    assert found.along.tolist() == [0, 0]
    assert squared.tolist() == pytest.approx([25, 1])


def test_past_the_ends_of_a_leg():
    # 5 beyond the end and 2 to the right, 10 before the start and on it
    found, squared = at(LEG, (30 + 3 + 1.6, 40 + 4 - 1.2), (-6, -8))
    assert found.station.tolist() == pytest.approx([150, 100])
    assert found.offset.tolist() == pytest.approx([2, 0], abs=1e-12)
    assert found.along.tolist() == pytest.approx([5, -10])
    assert found.end.tolist() == [1, -1]
    assert squared.tolist() == pytest.approx([29, 100])
    assert found.distance.tolist() == pytest.approx([math.sqrt(29), 10])


@pytest.mark.parametrize("radius", [4.0, 9.99, 10.0, 12.0, 25.0])
@pytest.mark.parametrize("degrees", [1, 45, 89])
def test_beside_an_arc_the_offset_is_the_difference_of_radii(degrees, radius):
    angle = math.radians(degrees)
    found, squared = at(QUARTER, (10 - radius * math.cos(angle), radius * math.sin(angle)))
    assert found.station[0] == pytest.approx(10 * angle)
    assert found.offset[0] == pytest.approx(10 - radius, abs=1e-12)  # the centre lies right
    assert found.azimuth[0] == pytest.approx(degrees)
    assert squared[0] == pytest.approx((10 - radius) ** 2, abs=1e-12)


def test_off_the_sweep_of_an_arc_its_nearer_end_counts():
    found, squared = at(QUARTER, (-1, -3), (14, 11))
    assert found.along.tolist() == pytest.approx([-3, 4])
    assert found.offset.tolist() == pytest.approx([-1, -1])
    assert squared.tolist() == pytest.approx([10, 17])


def test_outside_a_corner_the_side_is_that_of_both_legs():
    # the corner turns right at (0, 10): north-west of it is left, as far as the corner is
    found, _ = at(CORNER, (-3, 14))
    assert found.station.tolist() == [10]
    assert found.offset.tolist() == [-5]
    assert found.along.tolist() == [0]


def test_distances_agree_with_an_independent_library_at_coordinates_of_millions():
    draw, origin = np.random.default_rng(2), np.array([13_000_000.0, 300_000.0])
    ends = draw.uniform(0, 100, (20, 2, 2))
    courses = prepare(from_vertices((ends + origin).reshape(-1, 2), np.repeat(np.arange(20), 2)))
    points = draw.uniform(0, 100, (20, 2))
    squared = distance_squared(courses, np.arange(20), *(points + origin).T)
    truth = [shapely.LineString(leg).distance(shapely.Point(point)) for leg, point in zip(ends, points, strict=True)]
    assert np.sqrt(squared).tolist() == pytest.approx(truth, abs=1e-7)
