"""What lines share, told apart from chance: planted shifts, waves and noise."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.linework.shift import FEW, NARROWER, RANDOM, WAVING, WIDER, moved_in_plan, proven_shift, rest_of


def verdicts(deviation, u=0.02):
    return rest_of(np.zeros(len(deviation), int), deviation, np.full(len(deviation), u)).verdict.tolist()


def test_the_rest_of_planted_lines():
    rng = np.random.default_rng(11)
    noise = rng.normal(0, 0.02, 60)
    assert verdicts(0.12 + noise) == [RANDOM]
    assert verdicts(0.12 + 4 * noise) == [WIDER]
    assert verdicts(noise / 4) == [NARROWER]
    assert verdicts(0.06 * np.sin(np.arange(60) / 6) + noise) == [WAVING]
    assert verdicts(noise[:5]) == [FEW]


def test_chance_is_seldom_called_otherwise():
    rng = np.random.default_rng(2)
    line = np.repeat(np.arange(500), 12)
    found = rest_of(line, rng.normal(0.05, 0.02, len(line)), np.full(len(line), 0.02)).verdict
    assert (found != RANDOM).mean() < 0.05  # two tests of 1 % each, one of them two-sided


def test_several_lines_one_shot_and_unknown_uncertainty():
    rest = rest_of([0, 1, 1], [0.1, 0.0, 0.2], [0.0, 0.0, 0.0])
    assert rest.verdict.tolist() == [FEW, FEW]
    assert rest.spread.tolist() == pytest.approx([np.nan, 0.1414213562], nan_ok=True)
    assert verdicts(np.random.default_rng(4).normal(0, 9, 20), u=0.0) == [RANDOM]
    with pytest.raises(GeometryInputError):
        rest_of([1, 0], [0, 0], [1, 1])


def test_many_lines_ask_for_more_of_each():
    assert proven_shift([0.05], [0.025]).tolist() == [True]
    assert proven_shift([0.05] + [0.0] * 19, [0.025] * 20).tolist() == [False] * 20
    assert proven_shift([np.nan, 1.0], [np.nan, 0.1]).tolist() == [False, True]


def test_a_planted_shift_is_found_on_lines_of_several_directions_and_not_on_parallel_ones():
    bearing = np.array([0, 40, 90, 130, 200, 270.0] * 5)
    right = np.column_stack([np.cos(np.radians(bearing)), -np.sin(np.radians(bearing))])
    noise = np.random.default_rng(8).normal(0, 0.01, len(bearing))
    found = moved_in_plan(right @ [0.08, -0.05] + noise, bearing, np.full(len(bearing), 0.01))
    assert found.shift == pytest.approx([0.08, -0.05], abs=0.01)
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx([0.0026, 0.0026], abs=0.0005)
    assert np.isnan(moved_in_plan([0.1] * 4, [12.0, 12.0, 192.0, 13.0], [0.01] * 4).shift).all()
    assert np.isnan(moved_in_plan([], [], []).shift).all()
