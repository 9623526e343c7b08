"""Elevations of a surface against planes, another library's interpolation, and by hand at edges and overlaps."""

import numpy as np
import pytest
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.tin_elevation import tin_elevation, tin_grade

SQUARE = [[0.0, 0.0, 100.0], [100.0, 0.0, 101.0], [0.0, 100.0, 102.0], [100.0, 100.0, 103.0]]
FACES = [[0, 1, 2], [1, 3, 2]]


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("origin", [(0.0, 0.0), (13_000_000.0, 445_000.0)])
def test_a_plane_gives_the_plane(seed, origin):
    random = np.random.default_rng(seed)
    plan = random.uniform(0, 500, (60, 2))
    a, b, c = random.normal(0, 0.1, 3)
    faces = Delaunay(plan).simplices
    points = np.column_stack([plan + origin, 1400 + a + b * plan[:, 0] + c * plan[:, 1]])
    at = plan[random.choice(60, 40)] * 0.5 + plan[random.choice(60, 40)] * 0.5
    elevation, face, spread = tin_elevation(points, faces, at[:, 0] + origin[0], at[:, 1] + origin[1])
    np.testing.assert_allclose(elevation, 1400 + a + b * at[:, 0] + c * at[:, 1], atol=1e-8)
    assert (face >= 0).all()
    assert np.abs(spread).max() < 1e-8


def test_a_rough_surface_agrees_with_another_librarys_interpolation():
    random = np.random.default_rng(7)
    plan, high = random.uniform(0, 300, (200, 2)), random.uniform(0, 30, 200)
    mesh = Delaunay(plan)
    at = random.uniform(-30, 330, (500, 2))
    elevation, face, _ = tin_elevation(np.column_stack([plan, high]), mesh.simplices, *at.T)
    np.testing.assert_allclose(elevation, LinearNDInterpolator(mesh, high)(at), atol=1e-9)
    np.testing.assert_array_equal(face, mesh.find_simplex(at))
    assert np.isnan(elevation).any()


def test_edges_corners_holes_and_missing_places():
    elevation, face, spread = tin_elevation(SQUARE, FACES[:1], [50, 0, 0, 80, np.nan], [50, 0, 50, 80, 1])
    np.testing.assert_array_equal(elevation, [101.5, 100, 101, np.nan, np.nan])
    assert face.tolist() == [0, 0, 0, -1, -1]
    np.testing.assert_array_equal(spread, [0, 0, 0, np.nan, np.nan])


def test_faces_over_each_other_are_seen():
    points = [*SQUARE, [0.0, 0.0, 110.0], [100.0, 0.0, 111.0], [0.0, 100.0, 112.0]]
    elevation, face, spread = tin_elevation(points, [*FACES, [4, 5, 6]], [10.0, 90.0], [10.0, 90.0])
    np.testing.assert_allclose(elevation, [100.3, 102.7])
    assert face.tolist() == [0, 1]
    np.testing.assert_allclose(spread, [10.0, 0.0])


def test_a_wall_has_no_elevation_and_nothing_is_nothing():
    wall = [[0.0, 0.0, 1.0], [10.0, 0.0, 1.0], [5.0, 0.0, 9.0]]
    assert np.isnan(tin_elevation(wall, [[0, 1, 2]], [5.0], [0.0])[0]).all()
    assert np.isnan(tin_elevation(SQUARE, np.zeros((0, 3), int), [5.0], [5.0])[0]).all()
    assert len(tin_elevation(SQUARE, FACES, [], [])[0]) == 0


def test_what_cannot_be_a_surface_is_refused():
    with pytest.raises(GeometryInputError, match="names a point that is not among the 4"):
        tin_elevation(SQUARE, [[0, 1, 4]], [1.0], [1.0])
    with pytest.raises(GeometryInputError, match="has no place or no elevation"):
        tin_elevation([[0.0, 0.0, np.nan]], [[0, 0, 0]], [1.0], [1.0])


MINIMAL = [[0.0, 0.0, 100.0], [100.0, 0.0, 101.0], [0.0, 100.0, 102.0]]
"""Easting, northing, elevation of z = 100 + 0.01 E + 0.02 N, whose axes differ: a swapped order shows."""


@pytest.mark.parametrize("origin", [(0.0, 0.0), (8_253_000.0, 687_000.0), (553_000.0, 1_055_000.0)])
def test_the_minimal_surface_tells_east_from_north(origin):
    points = np.array(MINIMAL)
    points[:, :2] += origin
    at = np.array([[50.0, 25.0], [25.0, 50.0]]) + origin
    elevation, _, _ = tin_elevation(points, [[0, 1, 2]], at[:, 0], at[:, 1])
    np.testing.assert_allclose(elevation, [101.0, 101.25], atol=1e-9)
    np.testing.assert_allclose(tin_grade(points, [[0, 1, 2]], [0]), [[0.01, 0.02]], rtol=1e-7)


def test_the_grade_of_a_wall_is_not_known():
    wall = [[0.0, 0.0, 1.0], [10.0, 0.0, 1.0], [5.0, 0.0, 9.0]]
    assert np.isnan(tin_grade(wall, [[0, 1, 2]], [0, -1])).all()


def test_the_lowest_face_holds_a_shared_edge_in_any_order():
    rng = np.random.default_rng(3)
    plan = rng.uniform(0, 100, (400, 2))
    faces = rng.permutation(Delaunay(plan).simplices)
    points = np.column_stack([plan, rng.normal(0, 1, 400)])
    _, face, spread = tin_elevation(points, faces, plan[:, 0], plan[:, 1])
    first = [np.flatnonzero((faces == corner).any(axis=1))[0] for corner in range(400)]
    assert face.tolist() == first
    assert spread.max() < 1e-8
