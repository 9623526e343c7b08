"""Places along a leg of 3, 4, 5 and along a quarter circle, by school geometry."""

import math

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.along_elements import chords, elevation_along, point_at, points_along
from geoqa.kernels.design.element_making import from_bulges, from_vertices

LEGS = from_vertices([[0, 0, 7.0], [3, 4, 7.5], [3, 14, 8.5]], [0, 0, 0], start_station=100.0)
# a quarter turn to the right round (10, 0), from heading north to heading east
QUARTER = from_bulges([[0, 0, 5.0], [10, 10, 6.0]], [-math.tan(math.pi / 8), 0], [0, 0])


def test_stations_on_legs():
    found = point_at(LEGS, 0, [100.0, 102.5, 110.0, 115.0])
    assert found.easting.tolist() == pytest.approx([0, 1.5, 3, 3])
    assert found.northing.tolist() == pytest.approx([0, 2, 9, 14])
    assert found.elevation.tolist() == pytest.approx([7.0, 7.25, 8.0, 8.5])
    north_east = math.degrees(math.atan2(3, 4))
    assert found.azimuth.tolist() == pytest.approx([north_east, north_east, 0, 0])


@pytest.mark.parametrize("degrees", [0, 30, 45, 60, 90])
def test_stations_on_a_quarter_circle(degrees):
    angle = math.radians(degrees)
    found = point_at(QUARTER, 0, [10 * angle])
    assert found.easting[0] == pytest.approx(10 - 10 * math.cos(angle))
    assert found.northing[0] == pytest.approx(10 * math.sin(angle))
    assert found.azimuth[0] == pytest.approx(degrees)
    assert found.elevation[0] == pytest.approx(5 + degrees / 90)


def test_what_lies_beyond_or_on_no_line_has_no_place():
    found = point_at(LEGS, [0, 0, 0, 1], [99.9, 115.1, np.nan, 105.0])
    assert np.isnan(found).all()


def test_points_along_given_elements_and_their_tangents():
    point, tangent = points_along(LEGS, np.array([0, 1]), np.array([5.0, 2.0]))
    assert point.tolist() == [pytest.approx([3, 4]), pytest.approx([3, 6])]
    assert tangent.tolist() == [pytest.approx([0.6, 0.8]), pytest.approx([0, 1])]


def test_an_elevation_known_at_one_end_holds_there_only():
    half = from_vertices([[0, 0, 7.0], [0, 10, np.nan]], [0, 0])
    assert elevation_along(half, np.array([0, 0]), np.array([0.0, 1.0])).tolist() == pytest.approx(
        [7, np.nan], nan_ok=True
    )


@pytest.mark.parametrize(("sagitta", "pieces"), [(10 * (1 - math.cos(math.pi / 8)), 2), (0.76, 3)])
def test_chords_of_an_arc_stray_by_the_sagitta_at_most(sagitta, pieces):
    # r (1 - cos of half a piece's angle): 0.7612 for two pieces of 45 degrees, on a radius of 10
    drawn = chords(QUARTER, max_sagitta=sagitta)
    assert len(drawn.coordinates) == pieces + 1
    assert np.hypot(*(drawn.coordinates - [10, 0]).T).tolist() == pytest.approx([10] * (pieces + 1))
    assert drawn.station[-1] == pytest.approx(5 * math.pi)


def test_chords_have_a_longest_length_and_refuse_none():
    assert chords(LEGS, max_length=4.0).station.tolist() == pytest.approx(
        [100, 102.5, 105, 105 + 10 / 3, 105 + 20 / 3, 115]
    )
    with pytest.raises(GeometryInputError, match="positive lengths"):
        chords(LEGS, max_sagitta=0.0)
