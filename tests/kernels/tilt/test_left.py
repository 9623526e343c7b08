"""What fitted effects leave by class, against chance and against planted shifts."""

import numpy as np
import pytest

from geoqa.kernels.tilt.left import left_by_class


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
