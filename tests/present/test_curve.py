"""The order along the curve."""

import numpy as np
import pytest

from geoqa.present.map.curve import BITS, hilbert_order


@pytest.mark.parametrize("power", [1, 2, 3, 5])
def test_neighbours_on_the_curve_are_neighbours_on_the_ground(power):
    # the property that makes a Hilbert curve: it visits every cell once, each step to an adjoining cell
    side = 2**power
    column, row = (each.ravel() for each in np.meshgrid(np.arange(side), np.arange(side)))
    # one point in each cell of the coarse grid, the corners spanning the whole square
    scale = (2**BITS - 1) / (side - 1)
    order = hilbert_order(column * scale, row * scale)
    steps = np.abs(np.diff(column[order])) + np.abs(np.diff(row[order]))
    assert sorted(order) == list(range(side * side))
    assert set(steps) == {1}


def test_places_that_are_not_known_come_last_and_keep_their_order():
    nan = np.nan
    order = hilbert_order([nan, 5.0, nan, 0.0], [1.0, 5.0, nan, 0.0])
    assert order.tolist() == [3, 1, 0, 2]


def test_one_place_and_no_place_can_be_ordered():
    assert hilbert_order([7.0], [7.0]).tolist() == [0]
    assert hilbert_order([], []).tolist() == []
