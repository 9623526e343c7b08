import itertools
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.matching import assign, choose, string_penalty

SCALE = 0.5  # a plausible error of construction, in feet


def costs_between_two_lines(offsets, apart=2.0):
    """Shots at given distances from line 0, beside a parallel line 1."""
    offsets = np.asarray(offsets, float)
    cost = np.column_stack([offsets, apart - offsets]) ** 2 / SCALE**2
    point = np.repeat(np.arange(len(offsets)), 2)
    return point, np.tile([0, 1], len(offsets)), cost.ravel()


def test_between_lines_2_ft_apart_the_right_one_is_chosen():
    point, line, cost = costs_between_two_lines([0.0, 0.1, -0.3, 1.9, 2.2])
    found = choose(point, cost)
    assert line[found.chosen].tolist() == [0, 0, 0, 1, 1]
    assert not found.ambiguous.any()


def test_a_shot_midway_is_ambiguous_and_never_silently_the_nearest():
    point, _, cost = costs_between_two_lines([0.99, 1.0, 1.01])
    found = choose(point, cost)
    assert not found.chosen.any()
    assert found.ambiguous.all()


@given(st.lists(st.lists(st.floats(0, 50), min_size=1, max_size=4), max_size=8))
def test_odds_sum_to_one_and_at_most_one_is_chosen(shots):
    point = np.repeat(np.arange(len(shots)), [len(each) for each in shots])
    cost = np.array([value for each in shots for value in each])
    found = choose(point, cost)
    for shot in range(len(shots)):
        mine = point == shot
        assert found.odds[mine].sum() == pytest.approx(1)
        assert found.chosen[mine].sum() == (0 if found.ambiguous[mine].all() else 1)
        assert found.odds[mine] == pytest.approx(
            np.exp(-cost[mine] / 2 + cost[mine].min() / 2) / np.exp(-cost[mine] / 2 + cost[mine].min() / 2).sum()
        )


def test_a_rival_that_gives_the_same_numbers_is_no_rival():
    # two lines meet end to end: same offset, same elevation from either
    found = choose([0, 0], [1.0, 1.0], values=[[0.10, 55.0], [0.101, 55.0]], alike=0.005)
    assert found.chosen.tolist() == [True, False]
    found = choose([0, 0], [1.0, 1.0], values=[[0.10, 55.0], [0.10, 56.0]], alike=0.005)
    assert found.ambiguous.all()
    found = choose([0, 0], [1.0, 1.0], values=[[0.10, np.nan], [0.10, np.nan]], alike=0.005)
    assert found.chosen.tolist() == [True, False]


def test_the_string_decides_for_a_shot_midway():
    point, line, cost = costs_between_two_lines([0.1, 0.0, 1.0, -0.1])
    together = cost + string_penalty(point, line, cost, np.zeros(8, int))
    assert line[choose(point, together).chosen].tolist() == [0, 0, 0, 0]


def test_the_string_never_overrules_a_shot_that_lies_on_the_other_line():
    point, line, cost = costs_between_two_lines([0.0] * 9 + [2.0])
    together = cost + string_penalty(point, line, cost, np.zeros(20, int))
    assert line[choose(point, together).chosen].tolist() == [0] * 9 + [1]


def test_shots_without_a_string_carry_no_penalty():
    point, line, cost = costs_between_two_lines([0.0, 1.0])
    assert string_penalty(point, line, cost, np.full(4, -1)).tolist() == [0] * 4
    assert string_penalty(point, line, cost, [3, 3, 4, 4]).tolist() == [0] * 4


def test_a_string_that_crosses_from_one_line_to_the_next_keeps_both():
    # line 1 begins where line 0 ends; each shot has its own line as only candidate, or both
    point, line, cost = [0, 1, 2, 2, 3, 4], [0, 0, 0, 1, 1, 1], [0.0, 0.0, 0.1, 30.0, 0.0, 0.0]
    together = cost + string_penalty(point, line, cost, [7] * 6)
    found = choose(point, together)
    assert np.array(line)[found.chosen].tolist() == [0, 0, 0, 1, 1]


@settings(deadline=None, max_examples=150)
@given(st.integers(1, 4), st.integers(1, 4), st.integers(0, 10_000))
def test_the_assignment_is_the_cheapest_of_all(shots, places, seed):
    rng = np.random.default_rng(seed)
    table = rng.uniform(0, 12, (shots, places))
    there = rng.random((shots, places)) < 0.7
    there[np.arange(shots), rng.integers(0, places, shots)] = True
    closed = rng.random(places) < 0.2
    repeat = 5.0

    def total(choice):
        if not all(there[row, to] for row, to in enumerate(choice)):
            return np.inf
        owned = len({to for to in choice if not closed[to]})
        return sum(table[row, to] for row, to in enumerate(choice)) + repeat * (shots - owned)

    options = list(itertools.product(range(places), repeat=shots))
    costs = np.array([total(each) for each in options])
    shot, place = np.nonzero(there)
    taken, odds = assign(shot, place, table[shot, place], repeat=repeat, closed=closed[place])
    assert shot[taken].tolist() == list(range(shots))
    assert total(place[taken].tolist()) == pytest.approx(costs.min())
    for row in np.flatnonzero(taken):
        elsewhere = [each[shot[row]] != place[row] for each in options]
        rivals = costs[elsewhere].min(initial=np.inf)
        assert odds[row] == pytest.approx(1 / (1 + np.exp((costs.min() - rivals) / 2)))
    assert np.isnan(odds[~taken]).all()


def pairs_on_a_line(shots, places):
    shot, place = (grid.ravel() for grid in np.meshgrid(np.arange(len(shots)), np.arange(len(places)), indexing="ij"))
    return shot, place, (np.asarray(shots)[shot] - np.asarray(places)[place]) ** 2 / SCALE**2


def test_two_shots_between_two_places_are_told_apart_together():
    shot, place, cost = pairs_on_a_line([0.3, 1.2], [0.0, 2.0])
    taken, odds = assign(shot, place, cost, repeat=6.0)
    assert place[taken].tolist() == [0, 1]
    assert (odds[taken] > 0.95).all()


def test_repeats_of_one_place_are_no_question():
    shot, place, cost = pairs_on_a_line([0.1, 0.2, -0.1], [0.0])
    taken, odds = assign(shot, place, cost, repeat=6.0)
    assert place[taken].tolist() == [0, 0, 0]
    assert odds[taken].tolist() == [1, 1, 1]
    # nor are they pushed to a neighbour that nobody shot
    shot, place, cost = pairs_on_a_line([0.1, 0.2], [0.0, 3.0])
    taken, odds = assign(shot, place, cost, repeat=6.0)
    assert place[taken].tolist() == [0, 0]
    assert (odds[taken] > 0.95).all()


def test_one_shot_midway_between_two_places_is_an_even_choice():
    taken, odds = assign([0, 0], [0, 1], [4.0, 4.0], repeat=6.0)
    assert taken.sum() == 1
    assert odds[taken] == pytest.approx([0.5])


def test_a_large_cluster_is_told_apart_shot_by_shot():
    shot, place, cost = pairs_on_a_line(np.arange(60.0) * 3, np.arange(60.0) * 3)
    taken, odds = assign(shot, place, cost, repeat=6.0)
    assert (shot[taken] == place[taken]).all()
    assert taken.sum() == 60
    assert (odds[taken] > 0.99).all()


def test_nothing_to_match_is_no_error():
    assert choose([], []).odds.size == 0
    assert string_penalty([], [], [], []).size == 0
    assert assign([], [], [], repeat=1.0)[0].size == 0


def test_what_does_not_fit_is_refused():
    with pytest.raises(GeometryInputError, match="sorted by shot"):
        choose([1, 0], [0.0, 0.0])
    with pytest.raises(GeometryInputError, match="no cost missing"):
        choose([0, 0], [0.0, np.nan])
    with pytest.raises(GeometryInputError, match="a string in each row"):
        string_penalty([0], [0], [0.0], [0, 1])
    with pytest.raises(GeometryInputError, match="no cost missing"):
        assign([0], [0], [np.nan], repeat=1.0)


@pytest.mark.long
def test_a_million_candidates_take_seconds():
    rng = np.random.default_rng(6)
    count = 1_000_000
    point = np.sort(rng.integers(0, 600_000, count))
    line, cost = rng.integers(0, 50, count), rng.exponential(3, count)
    started = time.process_time()
    choose(point, cost + string_penalty(point, line, cost, point // 40))
    assert time.process_time() - started < 8
