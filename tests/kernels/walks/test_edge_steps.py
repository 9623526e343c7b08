"""A step of one edge, told from a tilt of both, a bump, and chance."""

import numpy as np
import pytest

from geoqa.kernels.walks.edge_steps import Edge, edge_of, step_of

AT = np.arange(0.0, 400.0, 20.0)
U = 0.02


def edge(lift, seed, grade=0.01):
    noise = np.random.default_rng(seed).normal(0, U, len(AT))
    return Edge(station=AT, level=grade * AT + lift + noise, u=np.full(len(AT), U))


@pytest.mark.parametrize("rise", [0.25, -0.25])
def test_where_one_edge_steps_and_how_much(rise):
    for seed in range(10):
        own, other = edge(rise * (AT > 190), seed), edge(0.0, 100 + seed)
        step = step_of(own, other)
        assert (step.before, step.back) == (9, -1)
        assert step.rise == pytest.approx(rise, abs=4 * U * np.sqrt(2 * 2 / 10))
        assert step_of(other, own) is None


def test_work_that_comes_back_says_where():
    step = step_of(edge(0.3 * ((AT > 110) & (AT < 230)), 1), edge(0.0, 2))
    assert (step.before, step.back) == (5, 11)


def test_a_tilt_of_both_a_rise_over_several_shots_and_chance_are_no_steps():
    for seed in range(10):
        tilt = 0.15 * (AT > 190)
        assert step_of(edge(tilt, seed), edge(-tilt, 100 + seed)) is None
        assert step_of(edge(0.0, seed), edge(0.0, 100 + seed)) is None
        assert step_of(edge(0.6 * np.clip((AT - 100) / 120, 0, 1), seed), edge(0.0, 100 + seed)) is None


def test_too_few_shots_tell_nothing():
    short = Edge(station=AT[:3], level=np.array([0.0, 0.0, 0.5]), u=np.full(3, U))
    assert step_of(short, edge(0.0, 1)) is None
    assert step_of(edge(0.0, 1), Edge(station=AT[:1], level=np.zeros(1), u=np.full(1, U))) is None
    known, rows = edge_of(AT, np.where(AT > 0, AT, np.nan), np.full(len(AT), U))
    assert rows.tolist() == list(range(1, len(AT)))
    assert known.station[0] == 20.0
