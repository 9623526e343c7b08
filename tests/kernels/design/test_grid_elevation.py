"""Bilinear elevations of a grid, against another library's interpolator and surfaces whose elevation is known."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.grid_elevation import grid_elevation, grid_places

DRAW = np.random.default_rng(11)


def test_between_centres_it_is_what_another_interpolator_gives():
    grid = DRAW.normal(100, 5, (13, 17))
    row, column = DRAW.uniform([0, 0], [12, 16], (500, 2)).T
    expected = RegularGridInterpolator((np.arange(13.0), np.arange(17.0)), grid)(np.column_stack([row, column]))
    np.testing.assert_allclose(grid_elevation(column, row, grid), expected, rtol=0, atol=1e-12)


@settings(max_examples=30)
@given(
    a=st.floats(-3, 3), b=st.floats(-3, 3), d=st.floats(-3, 3), e=st.floats(-3, 3),
    corner=st.tuples(st.floats(-1e6, 3e6), st.floats(-1e6, 3e6)),
)  # fmt: skip
def test_a_place_goes_to_the_cell_whose_centre_it_is_in_grids_that_are_turned_and_sheared(a, b, d, e, corner):
    area = a * e - b * d
    if abs(area) < 0.1:
        return
    transform = np.array([a, b, corner[0], d, e, corner[1]])
    cells = np.array([[0, 0], [3, 0], [0, 7], [2.25, 5.5], [-4, 1]])
    matrix = np.array([[a, b], [d, e]])
    places = (cells + 0.5) @ matrix.T + corner
    np.testing.assert_allclose(grid_places(places, transform), cells, atol=1e-6)


def test_a_place_at_a_centre_asks_that_cell_alone_also_where_its_last_digit_is_not_there():
    grid = np.full((3, 3), np.nan)
    grid[1, 1] = 7.0
    transform = [0.1, 0, 2_228_000.3, 0, -0.1, 444_000.7]
    places = [[2_228_000.3 + 0.15, 444_000.7 - 0.15], [2_228_000.3 + 0.1501, 444_000.7 - 0.15]]
    found = grid_elevation(*grid_places(places, transform).T, grid)
    assert found[0] == 7.0
    assert np.isnan(found[1])


def test_the_corner_is_where_the_outer_centres_are_and_nothing_is_known_beyond():
    grid = [[1.0, 2.0], [3.0, 4.0]]
    at = np.array([[0, 0], [1, 1], [1, 0], [-1e-6, 0], [1 + 1e-6, 0], [0, 1.5], [np.nan, 0]])
    found = grid_elevation(at[:, 0], at[:, 1], grid)
    np.testing.assert_array_equal(found, [1, 4, 2, np.nan, np.nan, np.nan, np.nan])


def test_one_cell_and_no_places():
    assert grid_elevation([0.0], [0.0], [[5.0]]).tolist() == [5.0]
    assert grid_elevation([], [], [[5.0]]).shape == (0,)
    assert grid_places(np.zeros((0, 2)), [1, 0, 0, 0, -1, 0]).shape == (0, 2)


@pytest.mark.parametrize("transform", [[1, 0, 0, 0, 0, 0], [1, 2, 0, 2, 4, 0], [np.nan, 0, 0, 0, 1, 0]])
def test_cells_without_area_are_refused(transform):
    with pytest.raises(GeometryInputError, match="need an area"):
        grid_places([[0, 0]], transform)
