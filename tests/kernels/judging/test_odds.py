"""Odds between the work and its measurement, against Bayes by hand and by simulation."""

import numpy as np
import pytest
from scipy import stats

from geoqa.kernels.judging.odds import MOST, alike, chance, marked, odds, witnessed


def test_the_ratio_is_that_of_two_normal_densities():
    value = np.linspace(-0.3, 0.3, 13)
    expected = stats.norm.pdf(value, 0.15, 0.04) / stats.norm.pdf(value, 0.0, 0.06)
    made = alike(value, expected=0.15, u_alike=0.04, u_sound=0.06)
    inside = (expected < MOST) & (expected > 1 / MOST)
    assert inside.sum() > 5
    assert made[inside] == pytest.approx(expected[inside])


def test_one_number_is_not_believed_beyond_all_measure_and_a_missing_one_says_nothing():
    assert alike([5.0, -5.0], expected=5.0, u_alike=0.1, u_sound=0.1).tolist() == pytest.approx([MOST, 1 / MOST])
    assert alike([np.nan, 0.1], expected=0.2, u_alike=[0.1, np.nan], u_sound=0.1).tolist() == [1.0, 1.0]


def test_what_is_weighed_is_bayes_rule():
    weights = np.array([0.01, 0.002, 0.0005, 0.0005])
    logs = np.log(np.random.default_rng(5).uniform(0.01, 1.0, (7, 3, 4)))
    made = odds(weights, logs)
    whole = weights * np.exp(logs.sum(axis=1))
    assert chance(made.total) == pytest.approx(whole[:, 0] / whole.sum(axis=1))
    assert made.total == pytest.approx(made.prior + made.parts.sum(axis=1))
    assert np.exp(made.prior) == pytest.approx(0.01 / 0.003)


def test_the_order_of_evidence_moves_the_parts_and_never_the_sum():
    logs = np.log(np.random.default_rng(6).uniform(0.01, 1.0, (4, 3, 4)))
    one, other = odds([1, 1, 1, 1], logs), odds([1, 1, 1, 1], logs[:, ::-1])
    assert one.total == pytest.approx(other.total)
    assert not np.allclose(one.parts, other.parts[:, ::-1])


def test_a_neighbour_that_is_off_speaks_for_the_work_and_a_sound_one_for_the_shot():
    told = witnessed([[1e4, 1e4], [1e-4, 1e-4]], [[0.6, 0.0], [0.6, 0.0]], by_itself=[1e4, 1e-3], usual=0.01)
    assert told[0, 0] - told[0, 1] == pytest.approx(np.log(0.6 / 0.01), abs=0.02)
    assert told[1, 0] - told[1, 1] == pytest.approx(np.log(0.4), abs=0.02)


def test_a_mark_of_the_record_is_weighed_by_how_usual_it_is():
    told = marked([1.0, 0.0, np.nan], usual=0.1, caused=0.2)
    assert np.exp(told[0]).tolist() == pytest.approx([0.1, 0.28, 0.1, 0.1])
    assert np.exp(told[1]).tolist() == pytest.approx([0.9, 0.72, 0.9, 0.9])
    assert told[2].tolist() == [0.0] * 4


def test_odds_of_simulated_shots_hold():
    """Shots off by work or by blunder, with two neighbours each: of those said nine in ten, nine in ten are work."""
    draw = np.random.default_rng(8)
    count, u, size = 40_000, 0.03, 0.2
    work = draw.random(count) < 0.6
    goes_on = draw.random((count, 2)) < np.where(work, 0.5, 0.02)[:, None]
    values = np.where(goes_on, size, 0.0) + draw.normal(0.0, u, (count, 2))
    told = [
        witnessed(
            np.column_stack(2 * [alike(side, expected=size, u_alike=u, u_sound=u)]),
            np.tile([0.5 - 0.5 * 0.02 / 0.98, 0.0], (count, 1)),
            by_itself=alike(side, expected=size, u_alike=u, u_sound=u),
            usual=0.02,
        )
        for side in values.T
    ]
    p = chance(odds([0.6, 0.4], np.stack(told, axis=1)).total)
    for low, high in ((0.0, 0.5), (0.5, 0.95), (0.95, 1.0)):
        mine = (p >= low) & (p < high)
        if mine.sum() > 100:
            assert work[mine].mean() == pytest.approx(p[mine].mean(), abs=0.02)
