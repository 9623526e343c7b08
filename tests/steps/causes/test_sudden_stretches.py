"""One line off in plan and elevation at once is a question; off in one of them alone it is the work."""

import numpy as np
import pandas as pd
import pytest

from geoqa.steps.causes.sudden_stretches import sudden_stretches
from geoqa.steps.causes.suspect_blocks import Seen

SHIFT = (0.42, -0.30, 0.35)
EACH = 40
HELD = slice(52, 75)
U = 0.054
NO_CHECK = np.array([], int)


def day(*, lines=3, each=EACH, order=None):
    """Lines to the north, 30 ft apart, shot one after the other, or in the given order of line and place."""
    order = [(line, place) for line in range(lines) for place in range(each)] if order is None else order
    count = len(order)
    shots = pd.DataFrame({"shot_key": [f"s{n}" for n in range(count)], "session": "A", "source": "a"})
    shots["time"] = pd.Timestamp("2026-05-12T14:00Z") + pd.to_timedelta(np.arange(count) * 30, unit="s")
    shots["initialization"] = pd.Series([None] * count, dtype="str")
    matches = pd.DataFrame({"shot_key": shots["shot_key"], "design": [f"L{line}" for line, _ in order], "chosen": True})
    matches["station"] = [12.5 * place for _, place in order]
    return shots.astype({"shot_key": "str", "session": "str"}), {"line_matches": matches}


def sight(count, acts, *, seed=1, shift=SHIFT):
    rng = np.random.default_rng(seed)
    moved = np.zeros((count, 3))
    moved[acts] = shift
    return Seen(
        row=np.tile(np.arange(count), 2),
        direction=np.repeat([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0]], count, axis=0),
        residual=np.append(moved[:, 0], moved[:, 2]) + rng.normal(0.0, 0.045, 2 * count),
        u=np.full(2 * count, U),
    )


def found_in(shots, layers, seen, checked=NO_CHECK, taken=None):
    free = np.zeros(len(shots), bool) if taken is None else taken
    return sudden_stretches(shots, layers, seen, checked, taken=free, unit=1.0)


@pytest.mark.parametrize("seed", range(6))
def test_a_stretch_of_one_line_off_both_ways_is_one_question_with_its_shots_and_numbers(seed):
    shots, layers = day()
    (one,) = found_in(shots, layers, sight(120, HELD, seed=seed), np.array([0, 119]))
    assert one.cause == "work-or-survey"
    assert np.flatnonzero(one.acts).tolist() == list(range(52, 75))
    assert one.subject == "shots s52 to s74"
    assert one.size[[0, 2]] == pytest.approx([0.42, 0.35], abs=0.04)


@pytest.mark.parametrize("shift", [(0.4, 0.0, 0.0), (0.0, 0.3, -0.2), (0.0, 0.0, 0.62), (0.0, 0.0, 0.0)])
@pytest.mark.parametrize("seed", range(6))
def test_what_is_off_in_plan_or_in_elevation_alone_is_the_work(shift, seed):
    shots, layers = day()
    assert found_in(shots, layers, sight(120, HELD, seed=seed, shift=shift)) == []


@pytest.mark.parametrize("seed", range(6))
def test_what_tapers_or_is_off_over_other_shots_in_plan_than_in_elevation_is_the_work(seed):
    shots, layers = day()
    slow = sight(120, slice(0, 0), seed=seed)
    taper = 0.4 * (1 - np.abs(np.linspace(-1, 1, 23)))
    slow.residual[52:75] += taper
    slow.residual[172:195] -= taper
    assert found_in(shots, layers, slow) == []
    apart = sight(120, HELD, seed=seed, shift=(0.4, 0.0, 0.0))
    apart.residual[120 + 62 : 120 + 80] += 0.35
    assert found_in(shots, layers, apart) == []


@pytest.mark.parametrize("seed", range(4))
def test_another_line_shot_in_the_same_minutes_says_that_it_is_the_work(seed):
    shots, layers = day(order=[(line, place) for place in range(60) for line in range(2)])
    one_line = np.arange(40, 90, 2)
    assert found_in(shots, layers, sight(120, one_line, seed=seed)) == []
    (both,) = found_in(shots, layers, sight(120, slice(40, 90), seed=seed))
    assert both.acts.sum() == 50


def test_a_check_inside_says_that_it_is_the_work_and_one_outside_does_not():
    shots, layers = day()
    seen = sight(120, HELD)
    assert found_in(shots, layers, seen, np.array([60])) == []
    assert len(found_in(shots, layers, seen, np.array([51, 75]))) == 1


@pytest.mark.parametrize("also", [True, False])
def test_two_shots_again_settle_it(also):
    order = [(line, place) for line in range(3) for place in range(EACH)] + [(1, 15), (1, 25)]
    shots, layers = day(order=order)
    acts = np.r_[52:75, 120:122] if also else np.r_[52:75]
    shots.loc[120:, "session"] = "B"
    assert len(found_in(shots, layers, sight(122, acts))) == (0 if also else 1)


def test_where_the_log_names_initializations_or_another_cause_acts_nothing_is_asked():
    shots, layers = day()
    seen, taken = sight(120, HELD), np.zeros(120, bool)
    taken[HELD] = True
    assert found_in(shots, layers, seen, taken=taken) == []
    assert found_in(shots.assign(initialization="A1"), layers, seen) == []


def test_a_shot_past_the_end_of_its_line_goes_with_those_beside_it():
    shots, layers = day()
    seen = sight(120, slice(80, 120))
    there = ~np.isin(seen.row, [80, 119])
    seen = Seen(row=seen.row[there], direction=seen.direction[there], residual=seen.residual[there], u=seen.u[there])
    (one,) = found_in(shots, layers, seen)
    assert np.flatnonzero(one.acts).tolist() == list(range(80, 120))
    assert one.variant == "shots s80 to s119, off in plan and elevation at once"
    assert np.abs(one.shift[[80, 119], 2] - 0.35).max() < 0.04


def test_a_session_that_is_off_as_a_whole_does_not_step():
    shots, layers = day(lines=1)
    seen = sight(EACH, slice(0, EACH))
    assert found_in(shots, layers, seen) == []
    shots, layers = day(order=[(0, place) for place in range(EACH)] + [(7, 0)])
    seen = sight(EACH, slice(0, EACH))  # the last of them is a good check
    assert len(found_in(shots, layers, seen, np.array([EACH]))) == 1


@pytest.mark.parametrize(("count", "asked"), [(1, 1), (2, 2), (3, 0)])
def test_where_most_lines_of_a_session_are_off_each_in_its_way_nothing_is_asked(count, asked):
    shots, layers = day(lines=5)
    seen = sight(200, slice(0, 0))
    for line, (across, up) in enumerate([(0.3, 0.25), (-0.4, -0.3), (0.5, 0.45)][:count]):
        mine = slice(80 * line, 80 * line + 40)
        seen.residual[mine] += across
        seen.residual[200:][mine] += up
    assert len(found_in(shots, layers, seen)) == asked


def test_of_four_shots_nothing_is_asked():
    shots, layers = day()
    assert found_in(shots, layers, sight(120, slice(52, 56))) == []


@pytest.mark.long
def test_false_questions_are_rare():
    asked = 0
    for seed in range(60):
        shots, layers = day()
        asked += len(found_in(shots, layers, sight(120, slice(0, 0), seed=seed)))
    assert asked == 0
