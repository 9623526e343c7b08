"""Levels in time: truth is what was put in."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.levels_in_time import levels_in_time, untold

U = 0.022


def day(*parts, each=40, seed=0):
    """Numbers of three lines shot one after the other; `parts` are level and shots of it."""
    rng = np.random.default_rng(seed)
    truth = np.concatenate([np.full(count, level) for level, count in parts])
    return truth + rng.normal(0, U, len(truth)), np.full(len(truth), U), np.arange(len(truth)) // each


@pytest.mark.parametrize("seed", range(8))
def test_a_rod_changed_twice_is_three_levels(seed):
    found = levels_in_time(*day((0.0, 50), (0.11, 40), (-0.13, 30), seed=seed), least=0.05)
    assert found.level == pytest.approx([0.0, 0.11, -0.13], abs=0.02)
    assert np.abs(found.begin - [0, 50, 90]).max() <= 2
    assert found.u == pytest.approx(1.2533 * U / np.sqrt([50, 40, 30]), rel=0.1)


def test_noise_is_one_level():
    wrong = sum(len(levels_in_time(*day((0.03, 120), seed=seed), least=0.05).level) > 1 for seed in range(200))
    assert wrong == 0


@pytest.mark.parametrize("seed", range(8))
def test_a_reach_or_a_line_that_is_built_off_is_no_level(seed):
    for parts in (
        ((0.0, 50), (-0.27, 12), (0.0, 58)),
        ((0.0, 40), (0.15, 40), (0.0, 40)),
        ((0.0, 50), (0.3, 5), (0.0, 65)),
    ):
        found = levels_in_time(*day(*parts, seed=seed), least=0.05)
        assert len(found.level) == 1
        assert found.lines.tolist() == [3]


@pytest.mark.parametrize("seed", range(8))
def test_a_level_at_an_end_comes_back_or_stays(seed):
    for parts, stays in (
        (((0.0, 100), (-0.2, 20)), [False, True]),
        (((0.15, 20), (0.0, 100)), [True, False]),
        (((0.0, 90), (-0.2, 27), (0.0, 3)), [False, False]),
        (((0.0, 3), (0.15, 20), (0.0, 97)), [False, False]),
    ):
        found = levels_in_time(*day(*parts, seed=seed), least=0.05)
        assert untold(found, 0.04).tolist() == stays


def test_one_stray_at_the_end_is_no_coming_back():
    value, u, line = day((0.0, 100), (-0.2, 20))
    value[-1] = 0.0
    assert untold(levels_in_time(value, u, line, least=0.05), 0.04).tolist() == [False, True]


def test_of_nothing_and_of_few_there_is_no_step():
    assert len(levels_in_time([], [], [], least=0.05).level) == 0
    assert levels_in_time([0.1, 0.2, 0.1], [U] * 3, [0, 0, 0], least=0.05).level.tolist() == [0.1]


def test_unlike_lengths_are_refused():
    with pytest.raises(GeometryInputError, match="one row a shot"):
        levels_in_time([0.1], [U, U], [0], least=0.05)
