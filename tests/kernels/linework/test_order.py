"""Gaps, turns back and crossings of planted lines."""

import numpy as np
import pytest
import shapely

from geoqa.kernels.linework.order import crossings, long_legs, swings, turns, zig_zags


def test_a_stated_gap_counts_alone():
    assert long_legs([10, 30, 31], greatest=30.0).tolist() == [False, False, True]


def test_close_shots_on_a_curve_do_not_make_tangents_gaps():
    legs = [50, 50, *[2.0] * 12, 50, 48, 50]
    assert not long_legs(legs, least=5.0).any()
    assert long_legs([*legs, 170], least=5.0).tolist() == [False] * len(legs) + [True]


def test_two_gaps_of_one_line_are_both_found_and_a_short_line_with_a_curve_has_none():
    legs = np.array([25.0] * 6 + [160.0] + [25.0] * 3 + [200.0])
    assert np.flatnonzero(long_legs(legs, least=5.0)).tolist() == [6, 10]
    assert not long_legs([40, 13, 13, 13, 35], least=5.0).any()


@pytest.mark.parametrize("legs", [[25, 25, 200], [1, 1, 1, 1, 4.9, 1], []])
def test_few_legs_and_short_ones_are_no_gaps(legs):
    assert not long_legs(legs, least=5.0).any()


def test_turns_are_known_between_two_legs():
    assert turns([[0, 0], [0, 5]]).tolist() == pytest.approx([np.nan] * 2, nan_ok=True)
    assert turns([[0, 0], [3, 0], [3, 0], [3, 4]])[1:3].tolist() == pytest.approx([np.nan] * 2, nan_ok=True)


RUN = np.column_stack([np.arange(0.0, 200.0, 25.0), np.zeros(8)])


@pytest.mark.parametrize("turned", [0, 37, 180, 271])
def test_two_exchanged_shots_are_found_whatever_the_direction(turned):
    order = [0, 1, 2, 4, 3, 5, 6, 7]
    c, s = np.cos(np.radians(turned)), np.sin(np.radians(turned))
    places = RUN[order] @ np.array([[c, s], [-s, c]]) + [2e6, 5e5]
    assert zig_zags(places).tolist() == [3]


def test_corners_and_the_nose_of_an_island_are_no_zig_zags():
    corner = [[0, 0], [40, 0], [40, 40], [41, 40], [41, 0], [0, -0.5]]
    nose = [[0, 0], [30, 0], [31, 1], [30, 2], [0, 2]]
    spur = [[0, 0], [30, 0], [30, 20], [30, 0], [60, 0]]
    assert [zig_zags(each).tolist() for each in (corner, nose, spur, RUN)] == [[], [], [], []]


def test_a_figure_of_eight_crosses_itself_once_and_a_box_never():
    eight = [[0, 0], [10, 10], [10, 0], [0, 10]]
    assert crossings(eight).tolist() == [[0, 2]]
    assert crossings([[0, 0], [10, 0], [10, 10], [0, 10]], closed=True).tolist() == []


def test_the_leg_that_closes_a_line_can_cross_it():
    places = [[0, 0], [10, 0], [10, 10], [5, -5]]
    assert crossings(places).tolist() == [[0, 2]]
    hook = [[0, 0], [0, 10], [10, 10], [10, 5], [-5, 5]]
    assert crossings(hook, closed=True).tolist() == [[0, 3]]
    assert crossings([[0, 0], [10, 0], [10, 10], [20, 10], [20, 6]], closed=True).tolist() == [[1, 4]]


def test_lines_that_touch_do_not_cross():
    assert crossings([[0, 0], [10, 0], [10, 10], [5, 10], [5, 0]]).tolist() == []
    assert crossings([[0, 0], [1, 1]]).tolist() == []


@pytest.mark.parametrize("forward", [0.0, 1.0, 3.0])
def test_lines_that_wander_cross_where_every_pair_of_legs_is_asked(forward):
    """Against the library that asks each pair; lines that mostly go on are those that a short cut answers."""
    rng = np.random.default_rng(int(forward))
    for _ in range(60):
        places = np.cumsum(rng.normal((forward, 0.0), 1.0, (9, 2)), axis=0)
        legs = shapely.linestrings(np.stack([places[:-1], places[1:]], axis=1))
        pairs = [(i, k) for i in range(8) for k in range(i + 2, 8) if legs[i].crosses(legs[k])]
        assert crossings(places).tolist() == [list(each) for each in pairs]


def test_what_is_shot_from_side_to_side_swings():
    assert swings([[5.0 * (at % 2), 20.0 * at] for at in range(8)])
    assert not swings([[5.0 * (at % 2), 20.0 * at] for at in range(5)])
    assert not swings([[0.0, 20.0 * at] for at in range(8)])
