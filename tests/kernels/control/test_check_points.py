"""Which rows count as check points, and how they are spread: 20 % a quadrant, 10 % of the diagonal apart.

Both are of FGDC-STD-007.3-1998, 3-C.3, values from memory.
"""

import numpy as np
import pytest

from geoqa.kernels.control.check_points import checkpoints, point_spread


def test_each_reason_leaves_a_row_out_once_and_the_first_of_a_mark_counts():
    found = checkpoints(
        ["A", "A", "B", "C", "D", "E", "F"],
        better=[True, True, False, True, True, True, True],
        independent=[True, True, False, False, True, True, True],
        held=[False, False, False, False, True, False, False],
        site_fit=[False, False, False, False, False, True, False],
        repeat=[False] * 6 + [True],
    )
    assert found.counted.tolist() == [True] + [False] * 6
    assert found.left_out == {
        "not better known": 1, "not independent": 1, "held": 1, "part of the site fit": 1, "repeated shot": 1,
        "same point again": 1,
    }  # fmt: skip


def test_a_mark_whose_first_row_is_out_counts_with_its_second():
    assert checkpoints(["A", "A"], better=True, repeat=[True, False]).counted.tolist() == [False, True]
    assert checkpoints([], better=True).counted.tolist() == []


def test_a_three_by_four_rectangle_has_a_diagonal_of_five():
    found = point_spread([0.1, 2.9, 2.9, 0.1], [0.1, 0.1, 3.9, 3.9], extent=(0, 0, 3, 4))
    assert found.diagonal == 5.0
    assert found.share.tolist() == [0.25] * 4
    assert found.closest == pytest.approx(2.8)
    assert found.quadrants_met
    assert found.spacing_met


@pytest.mark.parametrize(("apart", "met"), [(0.49, False), (0.51, True)])
def test_two_points_nearer_than_a_tenth_of_the_diagonal_are_too_near(apart, met):
    found = point_spread([1.0, 1.0 + apart], [1.0, 1.0], extent=(0, 0, 3, 4))
    assert found.closest == pytest.approx(apart)
    assert found.spacing_met == met


def test_four_in_one_quadrant_and_two_in_each_other_leave_just_twenty_percent():
    e, n = [3, 3, 3, 3, 1, 1, 1, 1, 3, 3], [3, 3, 3, 3, 3, 3, 1, 1, 1, 1]
    found = point_spread(e, n, extent=(0, 0, 4, 4))
    assert found.share.tolist() == [0.4, 0.2, 0.2, 0.2]  # north-east, north-west, south-west, south-east
    assert found.quadrants_met
    less = point_spread(e[:-1], n[:-1], extent=(0, 0, 4, 4))  # one of nine in the south-east
    assert less.share.tolist() == pytest.approx([4 / 9, 2 / 9, 2 / 9, 1 / 9])
    assert not less.quadrants_met


def test_a_missing_place_is_left_out_and_one_point_has_no_neighbour():
    found = point_spread([1.0, np.nan], [1.0, 2.0], extent=(0, 0, 2, 2))
    assert np.isnan(found.closest)
    assert not found.spacing_met
    assert np.isnan(point_spread([], []).share).all()
