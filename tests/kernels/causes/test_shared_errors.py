"""Covariances with shared parts, written out by hand, and the change points of a group."""

import numpy as np
import pytest

from geoqa.kernels.causes.shared_errors import covariance, onsets


def test_shared_parts_stand_off_the_diagonal_and_only_within_their_group():
    # 0.3² + 0.4² = 0.25 on the diagonal; 0.4² between the two of one session; the third shares with nobody
    made = covariance([0.3, 0.3, 0.3], [([0, 0, 1], [0.4, 0.4, 0.0])])
    assert made.ravel() == pytest.approx([0.25, 0.16, 0, 0.16, 0.25, 0, 0, 0, 0.09])


def test_members_of_no_group_share_nothing_and_a_missing_part_is_none():
    assert covariance([1.0, 1.0], [([-1, -1], [2.0, 2.0])]).tolist() == [[1, 0], [0, 1]]
    assert covariance([1.0, 1.0], [([0, 0], [2.0, np.nan])]).tolist() == [[5, 0], [0, 1]]


def test_two_sharings_add_up():
    made = covariance([1.0, 1.0], [([0, 0], [2.0, 3.0]), ([0, 1], [4.0, 5.0])])
    assert made.tolist() == [[1 + 4 + 16, 6], [6, 1 + 9 + 25]]


def test_the_scatter_of_drawn_errors_is_that_of_the_covariance():
    draw, group = np.random.default_rng(3), np.array([0, 0, 1])
    common, own = draw.normal(0, 0.4, (200_000, 2))[:, group], draw.normal(0, 0.3, (200_000, 3))
    assert np.cov((common + own).T) == pytest.approx(covariance([0.3] * 3, [(group, [0.4] * 3)]), abs=3e-3)


def test_every_end_of_a_group_may_have_changed_in_the_order_of_time():
    found = [(name, first, np.flatnonzero(mask).tolist()) for name, first, mask in onsets([4, 4, 4, -1], [2, 3, 1, 0])]
    assert found == [(4, 2, [0, 1, 2]), (4, 0, [0, 1]), (4, 1, [1])]
    assert list(onsets([-1, -1], [0, 1])) == []
