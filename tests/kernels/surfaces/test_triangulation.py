"""Surfaces from shots: breaklines become edges, far corners no faces, and nothing is invented."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.tin_elevation import tin_elevation
from geoqa.kernels.surfaces.triangulation import crossing, triangulated


def area(made):
    a, b, c = (made.plan[made.faces[:, corner]] for corner in range(3))
    return ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2


@pytest.mark.parametrize("origin", [(0.0, 0.0), (8_253_000.0, 687_000.0)])
@pytest.mark.parametrize("seed", range(3))
def test_a_crowned_road_keeps_its_crown(origin, seed):
    # 2 % to either side of a line at E = 50: without the crown as a breakline faces would cut it off
    rng = np.random.default_rng(seed)
    along = np.arange(0, 201, 25.0)
    crown = np.column_stack([np.full(len(along), 50.0), along])
    beside = np.column_stack([rng.choice([*range(36, 49), *range(52, 65)], 60), rng.uniform(0, 200, 60)])
    corners = [[35, 0], [65, 0], [65, 200], [35, 200]]
    plan = np.concatenate([crown, beside, corners])
    high = 100 - 0.02 * np.abs(plan[:, 0] - 50)
    lines = np.column_stack([np.arange(8), np.arange(1, 9)])
    made = triangulated(plan + origin, lines, longest=500.0, shortest=0.05)
    assert not made.missed.any()
    points = np.column_stack([made.plan, (1 - made.share) * high[made.first] + made.share * high[made.second]])
    at = np.column_stack([rng.uniform(36, 64, 300), rng.uniform(1, 199, 300)])
    found, face, spread = tin_elevation(points, made.faces, *(at + origin).T)
    np.testing.assert_allclose(found, 100 - 0.02 * np.abs(at[:, 0] - 50), atol=1e-8)
    assert (face >= 0).all()
    assert np.abs(spread).max() < 1e-9
    assert area(made).sum() == pytest.approx(6000)
    assert (area(made) > 0).all()


def test_no_face_across_the_street():
    along = np.arange(0, 201, 25.0)
    plan = np.concatenate([np.column_stack([np.full(9, east), along]) for east in (0.0, 5.0, 47.0, 52.0)])
    made = triangulated(plan, np.zeros((0, 2), int), longest=30.0, shortest=0.05)
    assert area(made).sum() == pytest.approx(2 * 5 * 200)
    shape = made.plan[made.faces]
    assert (np.ptp(shape[:, :, 0], axis=1) == 5).all()


def test_what_is_put_in_lies_between_its_two_shots():
    plan = np.array([[0.0, 0.0], [100.0, 0.0], [50.0, 3.0], [50.0, -3.0]])
    made = triangulated(plan, [[0, 1]], longest=500.0, shortest=0.05)
    new = np.arange(4, len(made.plan))
    assert len(new)
    assert set(made.first[new]) == {0}
    assert set(made.second[new]) == {1}
    np.testing.assert_allclose(made.plan[new, 0], 100 * made.share[new])
    np.testing.assert_allclose(made.plan[new, 1], 0.0)
    assert area(made).sum() == pytest.approx(300)


def test_of_two_that_cross_the_later_is_missed_and_chains_do_not_cross():
    plan = np.array([[1.0, 1.0], [9.0, 9.0], [0.0, 10.0], [10.0, 0.0]])
    made = triangulated(plan, [[0, 1], [2, 3]], longest=50.0, shortest=0.05)
    assert made.missed.tolist() == [False, True]
    assert made.faces.tolist() == [[0, 1, 2], [0, 3, 1]]
    assert crossing(plan, np.array([[0, 3], [3, 1], [1, 2], [2, 0]])).tolist() == [False] * 4
    assert crossing(plan, np.array([[0, 1], [1, 0]])).tolist() == [False, True]


@pytest.mark.parametrize("plan", [np.zeros((0, 2)), [[0, 0], [1, 1]], [[0, 0], [1, 1], [2, 2], [3, 3]]])
def test_too_few_or_all_on_one_line_make_no_face(plan):
    assert len(triangulated(plan, np.zeros((0, 2), int), longest=9.0, shortest=0.1).faces) == 0


def test_the_same_places_in_any_order_make_the_same_area():
    rng = np.random.default_rng(4)
    plan = rng.uniform(0, 100, (200, 2))
    order = rng.permutation(200)
    none = np.zeros((0, 2), int)
    one, other = (area(triangulated(each, none, longest=15.0, shortest=0.1)).sum() for each in (plan, plan[order]))
    assert one == pytest.approx(other, rel=1e-12)


def test_what_cannot_be_triangulated_is_refused():
    with pytest.raises(GeometryInputError, match="is missing"):
        triangulated([[0, 0], [np.nan, 1], [2, 2]], [], longest=9.0, shortest=0.1)
    with pytest.raises(GeometryInputError, match="not among the 3"):
        triangulated([[0, 0], [3, 1], [2, 2]], [[0, 3]], longest=9.0, shortest=0.1)
