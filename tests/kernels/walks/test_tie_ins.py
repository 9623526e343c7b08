"""Existing work ahead of an end, by plain geometry."""

import numpy as np
import pytest

from geoqa.kernels.walks.tie_ins import ahead_of

LINE = np.array([[0.0, 0.0, 10.0], [0.0, 20.0, 10.2], [0.0, 40.0, 10.5]])


def test_the_step_is_to_the_last_leg_carried_on():
    # grade 1.5 % over the last leg, 1 % over the one before; 4 ft on
    found = ahead_of(LINE, [[0.5, 44.0, 10.7]], ahead=10, beside=2)
    assert found.step == pytest.approx([10.7 - (10.5 + 0.015 * 4)])
    assert found.share == pytest.approx([0.2])
    assert found.bend == pytest.approx([4 * 0.005 / 2])
    assert (found.along, found.across) == (pytest.approx([4.0]), pytest.approx([0.5]))


def test_only_what_lies_ahead_and_beside_counts_the_nearest_first():
    places = [[0, 47, 1], [0, 41, 2], [0, 38, 3], [3, 42, 4], [0, 55, 5], [0, 39.5, 6]]
    assert ahead_of(LINE, places, ahead=10, beside=2).nearest.tolist() == [5, 1, 0]
    assert ahead_of(LINE, [[0, 20, 1]], ahead=10, beside=2) is None
    assert ahead_of(LINE, np.zeros((0, 3)), ahead=10, beside=2) is None


def test_one_shot_is_no_line():
    found = ahead_of(LINE[-1:], [[1.0, 40.0, 10.6], [5.0, 40.0, 11.0]], ahead=10, beside=2)
    assert found.nearest.tolist() == [0]
    assert (found.step[0], found.share[0], found.bend[0]) == (pytest.approx(0.1), 0.0, 0.0)
