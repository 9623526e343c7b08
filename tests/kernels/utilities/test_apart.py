"""Crossings and distances of lines, held against shapely and against hand-worked places."""

import numpy as np
import pytest
import shapely

from geoqa.kernels.utilities.apart import beside, crossings


def test_crossings_are_those_of_another_library():
    rng = np.random.default_rng(3)
    for _ in range(30):
        one, other = np.cumsum(rng.normal(size=(2, 7, 2)), axis=1)
        found = crossings(one, other)
        theirs = shapely.get_coordinates(shapely.intersection(shapely.LineString(one), shapely.LineString(other)))
        mine = np.column_stack([found.easting, found.northing])
        assert len(mine) == len(theirs)
        for axis in (0, 1):
            assert np.sort(mine[:, axis]) == pytest.approx(np.sort(theirs[:, axis]), abs=1e-9)


def test_a_crossing_at_a_common_point_is_told_once():
    found = crossings([[0, 0], [5, 0], [10, 0]], [[5, -5], [5, 0], [5, 5]])
    assert found.easting.tolist() == [5.0]
    assert len(crossings([[0, 0], [10, 0]], [[10, -5], [10, 0]]).easting) == 1


def test_parallel_lines_do_not_cross():
    assert not len(crossings([[0, 0], [10, 0]], [[0, 1], [10, 1]]).easting)
    assert not len(crossings([[0, 0], [10, 0]], [[2, 0], [20, 0]]).easting)


def test_distances_are_those_of_another_library():
    rng = np.random.default_rng(4)
    line = np.column_stack([np.arange(8) * 10.0, rng.normal(size=8)])
    points = np.column_stack([rng.uniform(2, 68, 60), rng.normal(scale=20, size=60)])
    found = beside(points, line)
    there = found.leg >= 0
    theirs = shapely.distance(shapely.points(points), shapely.LineString(line))
    assert found.distance[there] == pytest.approx(theirs[there])
    assert there.sum() > 50


def test_what_lies_past_an_end_lies_beside_nothing():
    found = beside([[-1.0, 3.0], [5.0, 3.0], [21.0, 3.0]], [[0, 0], [10, 0], [20, 0]])
    assert found.leg.tolist() == [-1, 0, -1]
    assert found.across[1].tolist() == [0.0, 1.0]
    assert beside([[1.0, 1.0]], [[0, 0]]).leg.tolist() == [-1]
