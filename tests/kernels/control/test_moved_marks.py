"""A common shift or a turn of named marks, and when there is neither."""

import numpy as np
import pytest

from geoqa.kernels.control.moved_marks import moved_marks

GRID = np.array([[0.0, 0.0], [540.0, 90.0], [420.0, 530.0], [160.0, 680.0]]) - [-2_228_000.0, -446_000.0]


def test_a_shift_of_all_marks_and_of_all_but_one():
    found = moved_marks(GRID, GRID - [2_000_000.0, 0.0], fit=0.3)
    assert (found.answer, found.shift, found.odd) == ("shift", (-2_000_000.0, 0.0), -1)
    bad = GRID - [2_000_000.0, 0.0]
    bad[2] += 40.0
    found = moved_marks(GRID, bad, fit=0.3)
    assert (found.answer, found.shift, found.odd) == ("shift", (-2_000_000.0, 0.0), 2)


@pytest.mark.parametrize("degrees", [-30.0, 0.5, 90.0, 179.0])
def test_a_turn_has_the_sign_of_the_plan_against_the_grid(degrees):
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    plan = (GRID - GRID[0]) @ np.array([[c, s], [-s, c]]) - [5_000.0, 5_000.0]
    found = moved_marks(GRID, plan, fit=0.3)
    assert found.answer == "turned"
    assert found.turn == pytest.approx(degrees, abs=1e-9)
    assert found.worst < 1e-6


@pytest.mark.parametrize(
    ("count", "answer"), [(0, "few"), (1, "few"), (2, "disagree"), (3, "disagree"), (4, "disagree")]
)
def test_too_few_or_contradicting_marks_tell_nothing(count, answer):
    off = np.array([[0.0, 0.0], [9.0, 0.0], [0.0, 7.0], [-5.0, 3.0]])
    assert moved_marks(GRID[:count], GRID[:count] + off[:count], fit=0.3).answer == answer


def test_a_plan_in_another_unit_is_not_turned():
    assert moved_marks(GRID, GRID * 0.3048, fit=0.3).answer == "disagree"
