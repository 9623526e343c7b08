"""Planes through measured points: a known plane comes back, and nothing is said beyond the points."""

import numpy as np
import pytest

from geoqa.kernels.utilities.surface_over import over


def test_a_plane_comes_back():
    rng = np.random.default_rng(2)
    points = rng.uniform(0, 100, (60, 2)) + np.array([2.2e6, 4.4e5])
    plane = 1460 - 0.006 * (points[:, 0] - 2.2e6) + 0.02 * (points[:, 1] - 4.4e5)
    places = rng.uniform(20, 80, (30, 2)) + np.array([2.2e6, 4.4e5])
    found = over(points, places, longest=200.0)
    there = found.corner[:, 0] >= 0
    level = (found.weight * plane[found.corner]).sum(axis=1)[there]
    known = (1460 - 0.006 * (places[:, 0] - 2.2e6) + 0.02 * (places[:, 1] - 4.4e5))[there]
    assert there.sum() >= 28
    assert level == pytest.approx(known, abs=1e-8)
    assert found.weight[there].sum(axis=1) == pytest.approx(np.ones(there.sum()))
    assert (found.weight >= -1e-9).all()


def test_long_edges_lines_and_places_outside_say_nothing():
    square = [[0, 0], [50, 0], [50, 50], [0, 50]]
    assert over(square, [[25, 20]], longest=40.0).corner.tolist() == [[-1, -1, -1]]
    assert over(square, [[60, 20], [np.nan, 1]], longest=400.0).corner[:, 0].tolist() == [-1, -1]
    assert over([[0, 0], [1, 1], [2, 2]], [[1, 1]], longest=40.0).corner[0, 0] == -1
    assert over([[0, 0]], [[0, 0]], longest=40.0).corner[0, 0] == -1
