"""What fitted effects leave by class and by session, against chance and against planted shifts."""

import numpy as np
import pytest

from geoqa.kernels.tilt.left import each_session, left_by_class


def left(draw, *, classes=3, each=12, aside=0.0, scatter=0.01):
    lean = np.repeat(np.arange(1.0, classes + 1), each)
    values = 0.02 * lean + aside + draw.normal(0, scatter, lean.size)
    kinds = np.repeat(np.arange(classes), each)
    return left_by_class(values, lean[:, None], scatter**2 * np.eye(lean.size), kinds, dof=lean.size - 1)


def test_scatter_is_seldom_called_more_than_that():
    draw = np.random.default_rng(1)
    called = np.mean([left(draw).any() for _ in range(600)])
    assert called <= 0.02  # 1 % by the F test


@pytest.mark.parametrize("seed", range(5))
def test_a_shift_alike_in_all_classes_is_found_and_sized(seed):
    found = left(np.random.default_rng(seed), aside=0.03)
    # by hand: slope of 0.03 over 1, 2, 3 is 0.03 * 6/14, so that 0.03 * 8/14 is left at 1
    assert found[0] == pytest.approx(0.0171, abs=0.01)
    assert found[2] < 0 < found[0]


def test_one_class_can_show_nothing():
    assert left(np.random.default_rng(1), classes=1, aside=0.5).tolist() == [0.0]


def by_session(draw, *, apart=0.0, scatter=0.01):
    lean, day = np.tile([1.0, 2.0, 3.0], 12), np.repeat([0, 1], 18)
    values = (0.02 + apart * day) * lean + draw.normal(0, scatter, lean.size)
    return each_session(values, lean, scatter**2 * np.eye(lean.size), day, dof=lean.size - 1)


def test_sessions_of_one_effect_are_seldom_told_apart():
    draw = np.random.default_rng(2)
    assert np.mean([by_session(draw).size > 0 for _ in range(600)]) <= 0.02  # 1 % by the F test


@pytest.mark.parametrize("seed", range(5))
def test_an_effect_of_its_own_in_each_session_is_found_and_sized(seed):
    # by hand: 18 values of mean square 14/3 and scatter 0.01 leave 0.0011 of each effect
    assert by_session(np.random.default_rng(seed), apart=0.02) == pytest.approx([0.02, 0.04], abs=0.005)


def test_one_session_differs_from_none():
    lean = np.array([1.0, 2.0, 3.0])
    assert each_session(lean, lean, np.eye(3), np.zeros(3, dtype=int), dof=2).size == 0
