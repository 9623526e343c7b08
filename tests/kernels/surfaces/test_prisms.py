"""Volumes by closed forms: boxes, wedges, a pyramid; and their change with the elevations."""

import numpy as np
import pytest
from scipy.spatial import Delaunay

from geoqa.kernels.surfaces.prisms import between


def mesh(rng, count, high, *, size=60.0):
    """Random triangulation of a square, with the elevation given by a function of place."""
    inner = rng.uniform(1, size - 1, (count, 2))
    plan = np.concatenate([inner, [[0, 0], [size, 0], [size, size], [0, size]]])
    return np.column_stack([plan, high(*plan.T)]), Delaunay(plan).simplices


@pytest.mark.parametrize("origin", [(0.0, 0.0), (8_253_000.0, 687_000.0)])
@pytest.mark.parametrize("seed", range(3))
def test_a_box_and_a_wedge_over_any_triangulation(origin, seed):
    rng = np.random.default_rng(seed)
    move = np.array([*origin, 1400.0])
    low, low_faces = mesh(rng, 40, lambda e, n: 0.02 * e - 0.01 * n)
    high, faces = mesh(rng, 30, lambda e, n: 0.02 * e - 0.01 * n + 0.5)
    box = between(high + move, faces, low + move, low_faces)
    assert box.above == pytest.approx(0.5 * 3600, rel=1e-8)
    assert box.below == pytest.approx(0, abs=1e-6)
    assert box.area == pytest.approx(3600, rel=1e-9)
    assert box.own_area == pytest.approx(3600, rel=1e-9)
    assert box.weight_above.sum() == pytest.approx(3600, rel=1e-9)
    # rises 0.05 over the other from E = 20 on: wedges of 40 and of 20 ft
    high[:, 2] = low_plane(high) + 0.05 * (high[:, 0] - 20)
    wedge = between(high + move, faces, low + move, low_faces)
    assert wedge.above == pytest.approx(0.05 * 40**2 / 2 * 60, rel=1e-7)
    assert wedge.below == pytest.approx(0.05 * 20**2 / 2 * 60, rel=1e-7)
    assert wedge.area_above == pytest.approx(40 * 60, rel=1e-7)


def low_plane(points):
    return 0.02 * points[:, 0] - 0.01 * points[:, 1]


def test_a_pyramid_and_what_a_level_plane_leaves_of_it():
    points = np.array([[0, 0, 0], [10, 0, 0], [10, 10, 0], [0, 10, 0], [5, 5, 6]], float)
    faces = [[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]]
    ground = [[-5, -5, 0], [15, -5, 0], [15, 15, 0], [-5, 15, 0]]
    square = [[0, 1, 2], [0, 2, 3]]
    raised = [[east, north, 3.0] for east, north, _ in ground]
    found = between(points, faces, ground, square)
    assert found.above == pytest.approx(10 * 10 * 6 / 3)
    assert found.area == pytest.approx(100)
    half = between(points, faces, raised, square)
    assert half.above == pytest.approx(5 * 5 * 3 / 3)  # the tip above half its height
    assert half.below == pytest.approx(100 * 3 - (200 - 25))
    other = between(raised, square, points, faces)
    assert (other.above, other.below) == (pytest.approx(half.below), pytest.approx(half.above))
    assert other.own_area == pytest.approx(400)


def test_the_weights_are_what_a_small_rise_does():
    rng = np.random.default_rng(5)
    low, low_faces = mesh(rng, 15, lambda e, n: 0.3 * np.sin(e / 9))
    high, faces = mesh(rng, 12, lambda e, n: 0.3 * np.cos(n / 8))
    found = between(high, faces, low, low_faces)
    assert found.above > 10
    assert found.below > 10
    for row in range(len(high)):
        up, down = high.copy(), high.copy()
        up[row, 2] += 1e-5
        down[row, 2] -= 1e-5
        one, two = (between(each, faces, low, low_faces) for each in (up, down))
        assert found.weight_above[row] == pytest.approx((one.above - two.above) / 2e-5, abs=1e-3)
        assert found.weight_below[row] == pytest.approx((one.below - two.below) / 2e-5, abs=1e-3)


def test_where_only_one_is_nothing_lies_between_and_walls_are_ignored():
    one, two = [[0, 0, 1], [9, 0, 1], [0, 9, 1]], [[20, 0, 1], [29, 0, 1], [20, 9, 1]]
    apart = between(one, [[0, 1, 2]], two, [[0, 1, 2]])
    assert (apart.above, apart.below, apart.area) == (0, 0, 0)
    assert apart.own_area == pytest.approx(40.5)
    wall = [*one, [4.5, 0, 8]]
    same = between(wall, [[0, 1, 2], [0, 1, 3]], [[0, 0, 0], [9, 0, 0], [0, 9, 0]], [[0, 1, 2]])
    assert same.above == pytest.approx(40.5)
    assert between(np.zeros((0, 3)), np.zeros((0, 3), int), one, [[0, 1, 2]]).above == 0


def test_the_uncertainty_of_a_volume_holds_what_simulation_shows():
    rng = np.random.default_rng(8)
    low, low_faces = mesh(rng, 10, lambda e, n: 0 * e)
    high, faces = mesh(rng, 30, lambda e, n: 0 * e + 0.6)
    found = between(high, faces, low, low_faces)
    weight = found.weight_above - found.weight_below
    random, common = 0.03, 0.02
    u = np.hypot(random * np.sqrt((weight**2).sum()), common * abs(weight.sum()))
    within = 0
    for _ in range(60):
        seen = high.copy()
        seen[:, 2] += rng.normal(0, random, len(high)) + rng.normal(0, common)
        made = between(seen, faces, low, low_faces)
        within += abs(made.above - made.below - 0.6 * 3600) <= 1.96 * u
    assert 51 <= within <= 60  # 57 of 60 are expected; the bounds leave one in a thousand
