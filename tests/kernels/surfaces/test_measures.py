"""Lengths and areas whose answer is known, and their change by finite differences."""

import numpy as np
import pytest

from geoqa.kernels.precision.combination import combined
from geoqa.kernels.surfaces.measures import area_of, felt_by, length_of

PARCEL = np.array([(1000, 1000), (1300, 1000), (1300, 1150), (1150, 1150), (1150, 1250), (1000, 1250)], float)
"""An L-shaped parcel: 60,000 square feet, 1.377410 acres of 43,560 square feet, 1,100 ft round it."""


@pytest.mark.parametrize("origin", [(0.0, 0.0), (8_253_000.0, 687_000.0), (2_228_500.0, 446_000.0)])
def test_the_parcel_in_either_order(origin):
    ring = PARCEL + origin
    assert area_of(ring).value == pytest.approx(60_000, abs=1e-6)
    assert area_of(ring[::-1]).value == pytest.approx(-60_000, abs=1e-6)
    assert area_of(ring).value / 43_560 == pytest.approx(1.377410, abs=5e-7)
    assert length_of(np.concatenate([ring, ring[:1]])).value == pytest.approx(1100, abs=1e-6)


@pytest.mark.parametrize("measure", [area_of, length_of])
def test_the_gradient_is_what_a_small_move_does(measure):
    rng = np.random.default_rng(1)
    ring = rng.uniform(0, 50, (7, 2))
    found = measure(ring).gradient
    for row in range(7):
        for axis in range(2):
            step = np.zeros_like(ring)
            step[row, axis] = 1e-5
            change = (measure(ring + step).value - measure(ring - step).value) / 2e-5
            assert found[row, axis] == pytest.approx(change, abs=1e-6)


def test_a_shift_of_all_shots_changes_neither():
    np.testing.assert_allclose(area_of(PARCEL).gradient.sum(axis=0), 0.0)
    np.testing.assert_allclose(length_of(PARCEL).gradient.sum(axis=0), 0.0)


def test_nothing_and_a_shot_twice_measure_nothing():
    assert area_of([]).value == 0
    assert length_of([[1, 1], [1, 1], [4, 5]]).value == 5


def test_the_parts_are_those_of_numbers_of_few_shots():
    rng = np.random.default_rng(3)
    weights, random, common = rng.normal(0, 5, 30), rng.uniform(0, 0.1, 30), rng.uniform(0, 0.1, 30)
    group = rng.integers(-1, 4, 30)
    expected = combined(weights[None], random[None], common[None], group[None])
    found = felt_by(weights, random, common, group)
    assert found == (pytest.approx(expected.u_random[0]), pytest.approx(expected.u_common[0]))
    assert np.isnan(felt_by([1.0, 0.0], [np.nan, 0.1], [0.0, 0.0], [0, 0])[0])
    assert felt_by([1.0, 0.0], [0.1, np.nan], [0.0, 0.0], [-1, -1]) == (0.1, 0.0)
