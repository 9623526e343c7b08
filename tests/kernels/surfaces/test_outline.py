"""Outlines of surfaces with holes, two parts and no faces."""

import numpy as np
import pytest
from scipy.spatial import Delaunay

from geoqa.kernels.surfaces.outline import in_outline, outer_edges


@pytest.mark.parametrize("origin", [(0.0, 0.0), (8_253_000.0, 687_000.0)])
def test_a_hole_lies_within_and_what_is_beside_does_not(origin):
    rng = np.random.default_rng(2)
    corners = rng.uniform(0, 100, (500, 2))
    faces = Delaunay(corners).simplices
    middle = corners[faces].mean(axis=1)
    kept = faces[np.hypot(*(middle - 50).T) > 20]
    places = np.array([[50.0, 50.0], [50.0, 20.0], [150.0, 50.0], [-1.0, -1.0]])
    assert in_outline(corners + origin, kept, places + origin).tolist() == [True, True, False, False]


def test_what_lies_between_two_parts_lies_in_none():
    corners = np.array([[0, 0], [9, 0], [0, 9], [20, 0], [29, 0], [20, 9]], float)
    assert in_outline(corners, [[0, 1, 2], [3, 4, 5]], [[1.0, 1.0], [12.0, 1.0], [21.0, 1.0]]).tolist() == [1, 0, 1]


def test_a_closed_surface_has_no_outer_edge_and_none_has_none():
    assert len(outer_edges([[0, 1, 2], [0, 1, 3], [1, 2, 3], [0, 2, 3]])) == 0
    assert len(outer_edges(np.zeros((0, 3), int))) == 0
    assert not in_outline(np.zeros((0, 2)), np.zeros((0, 3), int), [[1.0, 1.0]]).any()
