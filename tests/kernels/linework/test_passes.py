"""Passes of one string: what is shot again, what carries it on, and what looks like either and is none."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.linework.passes import LONGEST, MOST, end_to_end, going_on, passes

BESIDE = {"beside": 0.3, "one_place": 0.5}
LINE = np.column_stack([np.arange(0.0, 201.0, 20.0), np.zeros(11)])


def taken(*visits, **more):
    """Passes of places, visit by visit."""
    later = np.concatenate([[False, *[False] * (len(each) - 1)] if not n else [True, *[False] * (len(each) - 1)]
                            for n, each in enumerate(visits)])  # fmt: skip
    return passes(np.vstack(visits), later, **(BESIDE | more))


def moved(places, east, north=0.0):
    """Places shifted."""
    return places + np.array([east, north])


def arc(radius, spacing, start=0.0, degrees=90.0):
    """Places along an arc."""
    at = np.arange(start, radius * np.radians(degrees), spacing) / radius
    return radius * np.column_stack([np.sin(at), 1 - np.cos(at)])


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("same_visit", [False, True])
def test_a_whole_pass_is_told_from_its_ground(turned, same_visit):
    again = moved(LINE[:-1], 7.0, 0.05)
    again = again[::-1] if turned else again
    found = taken(np.vstack([LINE, again])) if same_visit else taken(LINE, again)
    assert found.turn.tolist() == [0] * 11 + [1] * 10
    assert not found.again.any()
    assert not found.fresh[11:].any()


@pytest.mark.parametrize("seed", range(5))
def test_scatter_of_two_passes_changes_nothing(seed):
    rng = np.random.default_rng(seed)
    found = taken(*(moved(LINE, shift) + rng.normal(0, 0.05, LINE.shape) for shift in (0.0, 8.0, -3.0)))
    assert found.turn.tolist() == [0] * 11 + [1] * 11 + [2] * 11


@pytest.mark.parametrize(("radius", "spacing"), [(25.0, 10.0), (50.0, 25.0), (500.0, 25.0)])
def test_a_curve_bulges_from_its_legs(radius, spacing):
    one = arc(radius, spacing, degrees=180.0)
    two = arc(radius, spacing, start=spacing * 0.45, degrees=170.0)
    assert taken(one, two).turn.tolist() == [0] * len(one) + [1] * len(two)


def test_a_line_carried_on_is_one():
    on = moved(LINE, 220.0)
    for visits in ((LINE, on), (LINE, moved(LINE, -220.0)), (np.vstack([LINE, on]),)):
        assert not taken(*visits).turn.any()
        assert not taken(*visits).again.any()


def test_an_overlap_of_a_few_shots_does_not_part_it():
    found = taken(LINE, np.vstack([moved(LINE[-3:], 1.0, 0.1), moved(LINE, 220.0)]))
    assert not found.turn.any()
    assert np.flatnonzero(found.again).tolist() == [11, 12]  # the third is past the end: new ground


def test_half_a_pass_that_goes_on_ends_where_new_ground_begins():
    found = taken(LINE, np.vstack([moved(LINE[5:], -3.0), moved(LINE, 220.0)]))
    assert found.turn.tolist() == [0] * 11 + [1] * 6 + [0] * 11


def test_new_ground_that_the_string_does_not_end_at_stays_with_its_pass():
    found = taken(LINE, np.vstack([LINE[::-1], LINE[1:6] * [-1.0, 1.0]]))
    assert found.turn.tolist() == [0] * 11 + [1] * 16
    assert found.fresh[11:].tolist() == [False] * 11 + [True] * 5


def test_single_places_are_no_pass_and_leave_the_line():
    found = taken(LINE, moved(LINE[[2, 5]], 0.1, 0.1))
    assert found.turn.any() == np.False_
    assert np.flatnonzero(found.again).tolist() == [11, 12]
    days = taken(LINE, LINE[[2]], LINE[[8]], LINE[[5]])
    assert days.again.sum() == 3


def test_two_shots_in_the_wrong_order_are_left_in_the_string():
    swapped = LINE[[0, 1, 2, 4, 3, 5, 6, 7, 8, 9, 10]]
    assert not taken(swapped).again.any()
    assert not taken(swapped).turn.any()


@pytest.mark.parametrize("shift", [-9.0, -0.2, 0.0, 0.2, 2.0])
@pytest.mark.parametrize("places", [1, 2, 3])
def test_a_crew_that_steps_back_shoots_places_again(places, shift):
    line = np.vstack([LINE, moved(LINE[-1 - places : -1], shift, 0.05), moved(LINE, 220.0)])
    found = taken(line)
    assert not found.turn.any()
    assert np.flatnonzero(found.again).tolist() == list(range(11, 11 + places))


@pytest.mark.parametrize("shift", [-9.0, -0.2, 0.0, 0.2, 2.0])
def test_after_a_pass_of_a_few_places_the_line_goes_on(shift):
    found = taken(np.vstack([LINE, moved(LINE[-5:-1], shift, 0.05), moved(LINE, 220.0)]))
    assert found.turn.tolist() == [0] * 11 + [1] * 4 + [0] * 11


@pytest.mark.parametrize("seed", range(5))
def test_scatter_does_not_hide_a_step_back(seed):
    east = np.array([*range(6, 190, 20), 148, 168, 188, 208, 228, 248, 230, 251, 268, 288], float)
    rng = np.random.default_rng(seed)
    found = taken(np.column_stack([east, np.zeros(len(east))]) + rng.normal(0, 0.05, (len(east), 2)))
    assert np.flatnonzero(found.again).tolist() == [10, 11, 16]


@pytest.mark.parametrize(("radius", "spacing"), [(25.0, 10.0), (50.0, 25.0), (500.0, 25.0)])
@pytest.mark.parametrize("share", [0.0, 0.4])
@pytest.mark.parametrize("places", [1, 2, 3])
def test_a_step_back_on_a_curve(radius, spacing, share, places):
    line = arc(radius, spacing, degrees=90.0 if radius > 100 else 250.0)
    at = spacing / radius * (5 - places + share + np.arange(places))
    back = radius * np.column_stack([np.sin(at), 1 - np.cos(at)])
    found = taken(np.vstack([line[:6], back, line[6:]]))
    assert np.flatnonzero(found.again).tolist() == list(range(6, 6 + places))


def test_a_step_back_at_the_end_of_a_line_and_in_a_later_visit():
    found = taken(np.vstack([LINE, [[163.0, 0.0], [184.0, 0.0]]]))
    assert np.flatnonzero(found.again).tolist() == [11, 12]
    on = moved(LINE, 220.0)
    found = taken(LINE, np.vstack([on[:6], on[4:6] - 9.0 * np.array([1.0, 0.0]), on[6:]]))
    assert np.flatnonzero(found.again).tolist() == [17, 18]


@pytest.mark.parametrize(
    "line",
    [
        [[40, 0], [80, 0], [60, 0], [100, 0], [120, 0]],  # two in the wrong order
        [[40, 0], [100, 0], [60, 0], [80, 0], [120, 0]],  # one too early
        [[40, 0], [100, 0], [80, 0], [60, 0], [120, 0]],  # three the wrong way round
        [[40, 0], [60, 0], [60, 20], [60, 0], [80, 0], [100, 0]],  # a spur, and on
        [[40, 0], [60, 0], [60, 20], [60, 40], [60, 20], [60, 0], [80, 0], [100, 0]],  # a longer one
        [[40, 0], [60, 0], [60, 20], [60, 40], [60, 20], [40, 20], [20, 20]],  # and off it to the side
        [[40, 0], [60, 0], [80, 0], [60, 0], [60, 20], [60, 40]],  # past a corner, and back to it
        [[40, 0], [60, 0], [80, 0], [60, 0]],  # the last one, and back
        [[40, 0], [60, 0], [80, 0], [60, 0], [40, 0]],  # and farther
        [[40, 0], [40, 8], [60, 8], [60, 0], [80, 0], [80, 8], [100, 8]],  # to and fro
        [[40, 0], [60, 0], [60, 0.6], [40, 0.6], [20, 0.6]],  # both faces of a thin thing
    ],
)
def test_what_looks_like_a_step_back_and_is_none(line):
    found = taken(np.vstack([[[-20.0, 0.0], [0.0, 0.0], [20.0, 0.0]], np.array(line, float)]))
    assert not found.again.any()
    assert not found.turn.any()


def test_two_in_the_wrong_order_among_uneven_ones_are_left():
    rng = np.random.default_rng(11)
    dropped = 0
    for at in rng.integers(1, 17, 100):
        east = np.cumsum(rng.uniform(10, 30, 20))
        east[[at, at + 1]] = east[[at + 1, at]]
        dropped += taken(np.column_stack([east, np.zeros(20)]) + rng.normal(0, 0.04, (20, 2))).again.any()
    assert dropped <= 3


@pytest.mark.parametrize("places", [2, 3])
def test_lengths_count_a_step_back_once(places):
    rng = np.random.default_rng(places)
    for at in rng.integers(6, 16, 50):
        east = np.cumsum(rng.uniform(15, 25, 20))
        back = np.sort(east[at - places : at] + rng.uniform(-5, 5, places))
        line = np.concatenate([east[: at + 1], back, east[at + 1 :]])
        line = np.column_stack([line, np.zeros(len(line))]) + rng.normal(0, 0.04, (len(line), 2))
        found = taken(line)
        legs = np.hypot(*np.diff(line[~found.again & (found.turn == 0)], axis=0).T)
        assert legs.sum() == pytest.approx(east[-1] - east[0], abs=1.0)


def test_an_outline_comes_back_to_its_beginning():
    ring = np.array([[0, 0], [20, 0], [40, 0], [40, 20], [20, 20], [0, 20], [0, 0]], float)
    for visits in ((ring,), (ring[:-1], ring[-1:])):
        found = taken(*visits)
        assert not found.again.any()
        assert not found.turn.any()
    assert taken(ring, moved(ring, 0.2)).turn[7:].tolist()[:3] == [1, 1, 1]


def test_both_sides_of_a_curb_under_one_name_are_no_pass():
    found = taken(np.vstack([LINE, moved(LINE[::-1], 0.0, 0.5)]))
    assert not found.turn.any()


def test_what_fills_a_gap_is_no_pass():
    found = taken(np.delete(LINE, [4, 5, 6], axis=0), LINE[4:7])
    assert not found.turn.any()
    assert not found.again.any()


def test_a_gap_of_the_first_pass_does_not_part_the_second():
    found = taken(np.delete(LINE, [4, 5, 6], axis=0), moved(LINE, 3.0))
    assert found.turn.tolist() == [0] * 8 + [1] * 11


def test_shots_in_no_order_are_left_alone():
    shuffled = np.random.default_rng(3).permutation(np.column_stack([np.arange(0.0, 801.0, 20.0), np.zeros(41)]))
    assert not taken(shuffled).turn.any()
    assert not taken(shuffled).again.any()


def test_passes_beyond_the_most_are_one():
    found = taken(*[moved(LINE, 0.5 * n) for n in range(MOST + 3)])
    assert found.turn.max() == MOST
    assert (found.turn == MOST).sum() == 3 * len(LINE)


def test_a_name_of_too_many_shots_is_left_as_it_is():
    many = np.column_stack([np.tile(np.arange(0.0, 20.0), LONGEST // 20 + 1), np.zeros(20 * (LONGEST // 20 + 1))])
    assert not passes(many, np.zeros(len(many), dtype=bool), **BESIDE).turn.any()


def test_lines_that_never_turn_back_are_not_looked_at():
    back = np.vstack([LINE, LINE[::-1]])
    bend = arc(100.0, 16.0)
    begin = [0, 11, 11 + len(bend)]
    places = np.vstack([LINE, bend, back])
    assert going_on(places, begin, one_place=0.5).tolist() == [True, True, False]
    assert going_on(np.vstack([LINE, LINE[4:]]), [0], one_place=0.5).tolist() == [False]


@pytest.mark.parametrize("turned", [False, True])
def test_the_way_back_of_another_day_is_joined_at_its_end(turned):
    one, two = LINE[::-1], moved(LINE, 220.0)[::-1]
    two = two[::-1] if turned else two
    order = end_to_end(np.vstack([one, two]), [*[False] * 11, True, *[False] * 10], one_place=0.5)
    east = np.vstack([one, two])[order][:, 0]
    assert np.all(np.diff(east) == -20.0)


def test_what_lies_at_neither_end_stays_behind():
    far = moved(LINE, 5000.0)
    order = end_to_end(np.vstack([LINE, far]), [*[False] * 11, True, *[False] * 10], one_place=0.5)
    assert order.tolist() == list(range(22))


def test_places_that_are_none_are_refused():
    with pytest.raises(GeometryInputError, match="none missing"):
        passes([[0, np.nan], [1, 1]], [False, False], **BESIDE)
