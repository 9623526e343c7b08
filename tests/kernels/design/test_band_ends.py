"""Round ends against buffers."""

import numpy as np
import pytest
import shapely

from geoqa.kernels.design.band import bands
from geoqa.kernels.design.band_ends import round_end
from geoqa.kernels.design.element_making import from_bulges, from_vertices

BEND = np.array([[0, 0], [40, 0], [60, 30], [55, 80]], dtype=float)


def test_quarters_have_the_area_of_their_own_width():
    quarters = round_end(np.zeros(2), np.array([0.6, 0.8]), left=2.0, right=0.5, max_sagitta=1e-6)
    assert [each.area for each in quarters] == pytest.approx([np.pi * 4 / 4, np.pi * 0.25 / 4], rel=1e-4)
    assert len(round_end(np.zeros(2), np.array([0.6, 0.8]), left=2.0, right=0.0, max_sagitta=1e-6)) == 1


def test_an_even_band_with_round_ends_is_the_buffer():
    (band,) = bands(from_vertices(BEND, [0] * 4), 4.0, 4.0, max_sagitta=1e-4, round_ends=True)
    assert band.symmetric_difference(shapely.LineString(BEND).buffer(4.0, quad_segs=256)).area < 0.02


def test_each_side_goes_round_with_its_own_width():
    (band,) = bands(from_vertices([[0, 0], [0, 50]], [0, 0]), 1.0, 3.0, max_sagitta=1e-5, round_ends=True)
    assert band.area == pytest.approx(50 * 4 + np.pi / 2 * (1 + 9), rel=1e-5)
    inside = [(2.9, 25), (2, 52), (2, -2), (-0.7, 50.6), (-0.7, -0.6)]
    outside = [(-1.1, 25), (-0.8, 50.8), (-0.8, -0.8), (2.3, 52.3), (2.3, -2.3)]
    assert shapely.contains_xy(band, inside).all()
    assert not shapely.contains_xy(band, outside).any()


def test_the_end_of_an_arc_goes_on_in_the_direction_of_the_arc():
    quarter = from_bulges([[0, 0], [10, 10]], [-np.tan(np.pi / 8), 0], [0, 0])
    (band,) = bands(quarter, 1.0, 1.0, max_sagitta=1e-5, round_ends=True)
    assert band.area == pytest.approx(np.pi / 4 * (11**2 - 9**2) + np.pi, rel=1e-4)
    assert shapely.contains_xy(band, [(10.9, 10), (0, -0.9)]).all()


def test_a_closed_line_has_no_ends_and_a_line_without_length_no_band():
    square = from_vertices([[0, 0], [0, 30], [30, 30], [0, 0], [9, 9]], [0] * 4 + [1])
    flat, rounded = (bands(square, 1.0, 1.0, round_ends=each) for each in (False, True))
    assert rounded[0].equals(flat[0])
    assert rounded[1].is_empty
