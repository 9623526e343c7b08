import itertools
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.run_means import means_of_runs
from geoqa.kernels.design.runs import _maximal_segments, find_runs
from geoqa.kernels.judging.verdict import OUT, judge

NAN = np.nan


def runs_on_one_line(deviation, limit=0.08, u=0.02, spacing=25.0, **options):
    station = np.arange(len(deviation)) * spacing
    options = {"lower": -limit, "upper": limit, "reach_between": 50.0} | options
    return find_runs(np.zeros(len(deviation), int), station, deviation, np.full(len(deviation), u), **options)


def maximal_by_definition(score):
    """The best segment, shortest first, then the same left and right of it."""
    if not len(score) or max(score) <= 0:
        return []
    best = None
    for first in range(len(score)):
        for last in range(first, len(score)):
            total = sum(score[first : last + 1])
            if best is None or (total, first - last) > (best[0], best[1] - best[2]):
                best = (total, first, last)
    _, first, last = best
    left = maximal_by_definition(score[:first])
    right = [(a + last + 1, b + last + 1) for a, b in maximal_by_definition(score[last + 1 :])]
    return [*left, (first, last), *right]


@pytest.mark.long
@settings(deadline=None, max_examples=300)
@given(st.lists(st.integers(-40, 30), max_size=18))
def test_segments_are_the_maximal_ones_by_definition(numbers):
    # thirds of a unit would tie; a little distinct weight on each makes the best segment unique
    score = np.array(numbers, float) + np.random.default_rng(3).normal(0, 1e-3, len(numbers))
    begins = np.zeros(len(score), bool)
    if len(score):
        begins[0] = True
    first, last, total = _maximal_segments(score, begins)
    assert list(zip(first.tolist(), last.tolist(), strict=True)) == maximal_by_definition(score.tolist())
    assert total == pytest.approx([score[a : b + 1].sum() for a, b in zip(first, last, strict=True)])


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(-320, 320).map(lambda n: n / 64), st.booleans()), max_size=40))
def test_segments_of_parts_are_those_of_each_part_alone(rows):
    # sixty-fourths add up exactly, so that no score vanishes beside the running sum of another part
    score = np.array([value for value, _ in rows]) if rows else np.zeros(0)
    begins = np.array([begin for _, begin in rows], bool) if rows else np.zeros(0, bool)
    if len(score):
        begins[0] = True
    together = set(zip(*(x.tolist() for x in _maximal_segments(score, begins)[:2]), strict=True))
    apart = set()
    bounds = [*np.flatnonzero(begins), len(score)]
    for start, stop in itertools.pairwise(bounds):
        first, last, _ = _maximal_segments(score[start:stop], begins[start:stop] & (np.arange(stop - start) == 0))
        apart |= {(int(a) + start, int(b) + start) for a, b in zip(first, last, strict=True)}
    assert together == apart


def test_a_sag_of_four_is_one_run_and_out_by_its_mean():
    deviation = np.array([0, 0, -0.32, -0.24, -0.18, -0.13, 0, 0])
    found = runs_on_one_line(deviation)
    assert found.row.tolist() == [2, 3, 4, 5]
    assert found.side.tolist() == [-1]
    members = deviation[found.row]
    mean = means_of_runs(found.run, members, np.full(4, 0.02), np.full(4, 0.02), np.zeros(4))
    assert mean.mean == pytest.approx([-0.2175])
    assert np.hypot(mean.u_random, mean.u_common) == pytest.approx([np.hypot(0.01, 0.02)])
    assert judge(mean.mean, lower=-0.08, upper=0.08, u=np.hypot(mean.u_random, mean.u_common)).verdict.tolist() == [OUT]


def test_five_shots_to_one_side_are_one_run():
    deviation = np.array([0.01, -0.01, 0.16, 0.15, 0.17, 0.16, 0.16, 0.0])
    found = runs_on_one_line(deviation, limit=0.10)
    assert found.row.tolist() == [2, 3, 4, 5, 6]
    assert found.side.tolist() == [1]


def test_a_run_is_found_before_any_single_shot_could_be_out():
    deviation = np.array([0.0, 0.07, 0.075, 0.07, 0.08, 0.0])
    assert (judge(deviation, lower=-0.08, upper=0.08, u=0.028).verdict != OUT).all()
    assert runs_on_one_line(deviation).row.tolist() == [1, 2, 3, 4]


@pytest.mark.parametrize(
    "deviation",
    [
        [0.3, 0.3],  # too few
        [0.3, 0.0, 0.0, 0.0, 0.3],  # two gross errors do not draw sound shots in
        [0.05, 0.05, 0.05],  # too little
        [0.2, -0.2, 0.2, -0.2],  # neighbours that do not agree
        [NAN, 0.3, 0.3, NAN],
        [],
    ],
)
def test_no_run_where_neighbours_do_not_agree(deviation):
    assert runs_on_one_line(np.array(deviation, float)).row.size == 0


def test_a_shot_on_the_other_side_ends_a_run():
    deviation = np.array([0.2] * 30 + [-0.2] * 3 + [0.2] * 30)
    found = runs_on_one_line(deviation)
    assert np.bincount(found.run).tolist() == [30, 3, 30]
    assert found.side.tolist() == [1, -1, 1]


def test_a_gap_or_another_line_ends_a_run():
    deviation = np.full(8, 0.2)
    station = np.array([0, 25, 50, 75, 150, 175, 200, 225.0])
    found = find_runs(np.zeros(8, int), station, deviation, 0.02, lower=-0.08, upper=0.08, reach_between=50)
    assert np.bincount(found.run).tolist() == [4, 4]
    line = np.array([0, 0, 0, 1, 1, 1, 1, 1])
    found = find_runs(line, np.arange(8.0), deviation, 0.02, lower=-0.08, upper=0.08, reach_between=50)
    assert np.bincount(found.run).tolist() == [3, 5]


def test_a_missing_number_is_passed_over_and_ends_nothing():
    found = runs_on_one_line(np.array([0.2, 0.2, NAN, 0.2]))
    assert found.row.tolist() == [0, 1, 3]


def test_the_order_of_rows_does_not_matter():
    rng = np.random.default_rng(5)
    line, station = rng.integers(0, 5, 400), rng.integers(0, 60, 400) * 10.0
    deviation = rng.normal(0, 0.06, 400)

    def members(order):
        found = find_runs(
            line[order], station[order], deviation[order], 0.02, lower=-0.08, upper=0.08, reach_between=50
        )
        return {frozenset(order[found.row[found.run == run]].tolist()) for run in range(len(found.side))}

    assert members(np.arange(400)) == members(rng.permutation(400))
    assert members(np.arange(400))


def test_a_good_neighbour_is_no_member_of_a_bad_run():
    bad = [-0.12, -0.115, -0.125, -0.12, -0.12]
    for around in ([0.0, *bad, -0.042, 0.0], [0.0, -0.042, *bad, 0.0], [-0.045, *bad, -0.045]):
        found = runs_on_one_line(np.array(around))
        assert np.array(around)[found.row].tolist() == bad


def test_a_shoulder_beyond_the_limit_stays_a_member():
    sag = [-0.09, -0.32, -0.4, -0.32, -0.09]
    assert runs_on_one_line(np.array([0.0, *sag, 0.0])).row.tolist() == [1, 2, 3, 4, 5]


def test_a_run_that_would_be_too_short_without_its_neighbour_keeps_it():
    assert runs_on_one_line(np.array([0.0, 0.2, 0.2, 0.05, 0.0])).row.tolist() == [1, 2, 3]


def test_bad_shots_on_either_side_of_good_ones_are_two_runs():
    apart = [0.2] * 4 + [0.05] * 4 + [0.2] * 4
    found = runs_on_one_line(np.array(apart))
    assert np.bincount(found.run).tolist() == [4, 4]


@pytest.mark.parametrize("u", [0.0566, 0.08, 0.12])
@pytest.mark.parametrize("shots", [3, 4])
def test_a_short_deep_sag_is_a_run_however_large_u_is(u, shots):
    deep = [0.0] * 3 + [-0.5] * shots + [0.0] * 3
    found = runs_on_one_line(np.array(deep), u=u)
    assert found.row.tolist() == list(range(3, 3 + shots))


def test_two_gross_errors_are_no_run_where_u_is_large():
    assert runs_on_one_line(np.array([0.0, 0.9, 0.0, 0.9, 0.0, 0.0]), u=0.06).row.size == 0


def test_a_side_without_a_limit_has_no_runs():
    deviation = np.full(5, -0.5)
    assert runs_on_one_line(deviation, lower=-np.inf).row.size == 0
    assert runs_on_one_line(deviation, lower=NAN, upper=NAN).row.size == 0
    assert runs_on_one_line(deviation, lower=0.01, upper=0.08).row.size == 0
    assert runs_on_one_line(deviation).row.size == 5


def test_an_exact_number_finds_runs_too():
    assert runs_on_one_line(np.array([0, 0.09, 0.09, 0.09, 0]), u=0.0).row.tolist() == [1, 2, 3]


def test_sound_work_gives_next_to_no_run_that_is_out(record_property):
    """Shots 25 apart on lines of 40, limit 0.08, u 0.02 random and 0.02 common per 200 shots: 400,000 shots."""
    rng = np.random.default_rng(2)
    count = 400_000
    group = np.arange(count) // 200
    deviation = rng.normal(0, 0.02, count) + rng.normal(0, 0.02, group.max() + 1)[group]
    line, station = np.arange(count) // 40, (np.arange(count) % 40) * 25.0
    found = find_runs(line, station, deviation, 0.02, lower=-0.08, upper=0.08, reach_between=50)
    rows = found.row
    means = means_of_runs(found.run, deviation[rows], np.full(len(rows), 0.02), np.full(len(rows), 0.02), group[rows])
    verdict = judge(means.mean, lower=-0.08, upper=0.08, u=np.hypot(means.u_random, means.u_common)).verdict
    record_property("runs per 1,000 sound shots", float(1000 * len(verdict) / count))
    record_property("runs that are out, per 1,000 sound shots", float(1000 * (verdict == OUT).sum() / count))
    assert (verdict == OUT).sum() < count / 1000 / 10
    assert len(verdict) < count / 100


@pytest.mark.long
def test_a_million_shots_take_seconds():
    rng = np.random.default_rng(4)
    count = 1_000_000
    deviation = rng.normal(0.02, 0.03, count)
    started = time.perf_counter()
    find_runs(
        np.arange(count) // 100, np.arange(count) * 5.0, deviation, 0.02, lower=-0.08, upper=0.08, reach_between=50
    )
    assert time.perf_counter() - started < 8


def test_what_does_not_fit_is_refused():
    with pytest.raises(GeometryInputError, match="give one for each shot"):
        find_runs([0, 0], [1.0], [0.1, 0.2, 0.3], 0.02, lower=-1, upper=1, reach_between=50)
    with pytest.raises(GeometryInputError, match="give positive numbers"):
        runs_on_one_line(np.zeros(3), reach_between=0)
