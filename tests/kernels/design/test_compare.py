"""Distances of whole lines against published unit-test values, and overlaps that can be reckoned by hand."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.compare import line_distance, share_inside

FAR = np.array([13_000_000.0, 300_000.0])


# Values from the unit tests of GEOS (libgeos/geos, tests/unit/algorithm/distance,
# DiscreteHausdorffDistanceTest.cpp and DiscreteFrechetDistanceTest.cpp), densified there by half.
@pytest.mark.parametrize(
    ("first", "second", "densify", "hausdorff", "frechet"),
    [
        ([(0, 0), (2, 1)], [(0, 0), (2, 0)], None, 1.0, 1.0),
        ([(0, 0), (2, 0)], [(0, 1), (1, 2), (2, 1)], None, 2.0, 2.23606797749979),
        ([(0, 0), (100, 0)], [(0, 0), (50, 50), (100, 0)], None, 50.0, 70.7106781186548),
        ([(0, 0), (100, 0)], [(0, 0), (50, 50), (100, 0)], 50.0, 50.0, 50.0),
        ([(1, 1), (2, 2)], [(1, 4), (2, 3)], None, 2.23606797749979, 3.0),
    ],
)
def test_distances_are_those_of_the_published_unit_tests(first, second, densify, hausdorff, frechet):
    got = line_distance(first, second, densify=densify)
    np.testing.assert_allclose(got, (hausdorff, frechet), rtol=0, atol=1e-12)
    moved = line_distance(np.array(first) + FAR, np.array(second) + FAR, densify=densify)
    np.testing.assert_allclose(moved, got, rtol=0, atol=1e-8)


def test_sparse_vertices_hide_a_distance_until_they_are_densified():
    # own example: the valley of one line lies 30 below the other, which has no vertex there
    roof, valley = [(0, 0), (100, 0)], [(0, 0), (0, 0.5), (50, -30), (100, 0)]
    crossed = [(0, 30), (100, -30)]
    assert line_distance(roof, crossed).hausdorff == pytest.approx(30.0)
    assert line_distance(roof, valley).frechet > 50
    assert line_distance(roof, valley, densify=0.5).frechet == pytest.approx(30.0, abs=0.5)


@pytest.mark.parametrize("lost", [[], [[0, np.nan], [1, 1]]])
def test_a_line_that_is_missing_has_no_distance_and_no_share(lost):
    good = [[0, 0], [1, 1]]
    assert np.isnan(line_distance(good, lost)).all()
    assert np.isnan(line_distance(lost, good)).all()
    assert np.isnan(share_inside(lost, good, width=1.0))
    assert np.isnan(share_inside(good, lost, width=1.0))
    assert np.isnan(share_inside([[1, 1], [1, 1]], good, width=1.0))


def test_a_single_vertex_is_a_point():
    assert line_distance([[3, 4]], [[0, 0]]) == (5.0, 5.0)
    assert np.isnan(share_inside([[3, 4]], [[0, 0], [1, 0]], width=1.0))


# own examples, exact
@pytest.mark.parametrize(("width", "share"), [(1.0, 0.25), (2.0, 0.50), (3.0, 0.75), (4.5, 1.0)])
def test_the_share_of_a_slanting_line_grows_with_the_width(width, share):
    assert share_inside([[0, 0], [100, 4]], [[0, 0], [100, 0]], width=width) == pytest.approx(share, abs=1e-12)


@pytest.mark.parametrize(("width", "share"), [(0.4, 0.0), (1.0, 60.5 / 101.5), (2.5, 1.0)])
def test_the_share_of_a_stepping_line_is_that_of_its_legs(width, share):
    step = np.array([[0, 0.5], [60, 0.5], [60, 2], [100, 2]])
    got = share_inside(step + FAR, np.array([[0, 0], [100, 0]]) + FAR, width=width)
    assert got == pytest.approx(share, abs=1e-9)


def test_what_runs_past_the_reference_is_outside():
    assert share_inside([[-10, 0], [110, 0]], [[0, 0], [100, 0]], width=5.0) == pytest.approx(100 / 120)


def test_a_stretch_walked_twice_counts_twice():
    there_and_back = [[0, 0], [50, 0], [0, 0], [0, 20]]
    assert share_inside(there_and_back, [[0, 0], [100, 0]], width=10.0) == pytest.approx(110 / 120)


def test_lengths_that_mean_nothing_are_refused():
    line = [[0, 0], [1, 1]]
    with pytest.raises(GeometryInputError, match=r"densified to 0\.0; give a positive length"):
        line_distance(line, line, densify=0.0)
    with pytest.raises(GeometryInputError, match=r"width nan has no inside"):
        share_inside(line, line, width=np.nan)
    with pytest.raises(GeometryInputError, match=r"shape \(2, 3\); give \(k, 2\)"):
        line_distance([[0, 0, 0], [1, 1, 1]], line)
