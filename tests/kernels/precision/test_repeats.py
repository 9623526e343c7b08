import math

import numpy as np
import pytest

from geoqa.errors import GeometryInputError, JobError
from geoqa.kernels.precision.repeats import by_gap, pairs_of, repeatability, visits_of

HOUR = 3600.0
RULES = {"close": 600.0, "independent_after": 4 * HOUR}


def occupations(points=12, sessions=4, each=2):
    """Point, session and time of shots: `each` of them two minutes apart, sessions half a day apart."""
    point = np.repeat(np.arange(points), sessions * each)
    session = np.tile(np.repeat(np.arange(sessions), each), points)
    time = session * 12 * HOUR + np.tile(np.arange(each) * 120.0, points * sessions) + point * 30.0
    return point, session, time


def simulated(draw, point, session, time, *, axes, u_common, u_random, rho):
    """Coordinates of a few million feet with the three kinds of error in them."""
    visit = np.unique(np.column_stack([point, session]), axis=0, return_inverse=True)[1].ravel()
    shared = draw.normal(0, u_common, (session.max() + 1, axes))[session]
    lasting = draw.normal(0, u_random * math.sqrt(rho), (visit.max() + 1, axes))[visit]
    own = draw.normal(0, u_random * math.sqrt(1 - rho), (point.size, axes))
    return 13_000_000 + 100.0 * point[:, None] + shared + lasting + own


@pytest.mark.parametrize("axes", [1, 2], ids=["elevation", "plan"])
@pytest.mark.long
def test_bands_hold_the_true_uncertainties_as_often_as_they_say(axes):
    draw, trials = np.random.default_rng(axes), 500
    truth = {"common": 0.02, "random": 0.025, "absolute": math.hypot(0.02, 0.025), "rho": 0.6}
    held = dict.fromkeys(truth, 0)
    point, session, time = occupations()
    visits = visits_of(point, time, session, **RULES)
    for _ in range(trials):
        values = simulated(draw, point, session, time, axes=axes, u_common=0.02, u_random=0.025, rho=0.6)
        found = repeatability(values, point, session, visits)
        for name, true in truth.items():
            band = getattr(found, name)
            held[name] += band.low <= true <= band.high
    shares = {name: count / trials for name, count in held.items()}
    assert {name: abs(share - 0.95) <= 0.03 for name, share in shares.items()} == dict.fromkeys(truth, True), shares


@pytest.mark.long
def test_bands_hold_for_repeats_with_holes_too():
    draw, trials = np.random.default_rng(31), 300
    truth = {"common": 0.03, "random": 0.02, "absolute": math.hypot(0.03, 0.02), "rho": 0.5}
    held = dict.fromkeys(truth, 0)
    for _ in range(trials):
        point, session, time = (each[draw.permutation(144)[:90]] for each in occupations(each=3))
        values = simulated(draw, point, session, time, axes=1, u_common=0.03, u_random=0.02, rho=0.5)
        found = repeatability(values, point, session, visits_of(point, time, session, **RULES))
        for name, true in truth.items():
            band = getattr(found, name)
            held[name] += band.low <= true <= band.high
    shares = {name: count / trials for name, count in held.items()}
    assert all(abs(share - 0.95) <= 0.035 for share in shares.values()), shares


def test_three_points_in_two_sessions_by_hand():
    # own arithmetic: differences 0.2, 0.3, 0.1 about 0.2; random² = (0 + 0.01 + 0.01)/2/2; the sum of squares
    # of the sessions 6 x 0.1² = 0.06 less random², over the 3 points that carry it
    point, session = np.repeat([1, 2, 3], 2), np.tile(["morning", "evening"], 3)
    visits = visits_of(point, np.tile([0.0, 8 * HOUR], 3), session, **RULES)
    found = repeatability([5.0, 5.2, 6.0, 6.3, 7.0, 7.1], point, session, visits)
    assert found.random.value == pytest.approx(math.sqrt(0.005))
    assert found.random.dof == 2
    assert found.common.value == pytest.approx(math.sqrt((0.06 - 0.005) / 3))
    assert found.absolute.value == pytest.approx(math.hypot(found.random.value, found.common.value))
    assert (found.points, found.groups, found.visits, found.close_shots) == (3, 2, 6, 0)
    assert math.isnan(found.rho.value)


def test_twelve_points_in_two_sessions_do_not_know_the_session_error_from_twelve_values():
    point, session, time = occupations(sessions=2, each=1)
    values = simulated(np.random.default_rng(3), point, session, time, axes=1, u_common=0.02, u_random=0.005, rho=0)
    found = repeatability(values, point, session, visits_of(point, time, session, **RULES))
    assert found.common.dof == 1
    assert found.common.high > 5 * found.common.value


def test_repeats_three_minutes_later_are_counted_and_prove_no_accuracy():
    point, session = np.repeat(np.arange(12), 2), np.repeat("A", 24)
    time = np.tile([0.0, 180.0], 12) + np.repeat(np.arange(12) * 400.0, 2)
    values = 1456.0 + np.random.default_rng(6).normal(0, 0.006, 24)
    visits = visits_of(point, time, session, **RULES)
    assert (visits.independent, visits.too_close) == (12, 12)
    found = repeatability(values, point, session, visits)
    assert found.near.value == pytest.approx(0.006, rel=0.5)
    for unknown in (found.random, found.common, found.absolute, found.rho):
        assert math.isnan(unknown.value)
        assert math.isnan(unknown.high)
    assert (found.points, found.visits, found.close_shots) == (0, 0, 12)


def test_close_shots_change_nothing_but_the_near_answers():
    point, session, time = occupations()
    values = simulated(np.random.default_rng(4), point, session, time, axes=2, u_common=0.02, u_random=0.02, rho=0.8)
    all_of = repeatability(values, point, session, visits_of(point, time, session, **RULES))
    alone = np.arange(point.size) % 2 == 0
    first = repeatability(
        values[alone], point[alone], session[alone], visits_of(point[alone], time[alone], session[alone], **RULES)
    )
    assert all_of.absolute == first.absolute
    assert all_of.random == first.random
    assert all_of.near.value < all_of.random.value


def test_points_seen_in_one_session_only_know_the_random_part():
    point, session, time = np.repeat([1, 2], 3), np.repeat("A", 6), np.tile([0.0, 5 * HOUR, 10 * HOUR], 2)
    found = repeatability([1.0, 1.1, 1.2, 5.0, 5.0, 5.3], point, session, visits_of(point, time, session, **RULES))
    assert found.random.value == pytest.approx(math.sqrt((0.02 + 0.06) / 4))
    assert math.isnan(found.common.value)
    assert math.isnan(found.absolute.value)


def test_a_shot_soon_after_in_another_group_is_neither_close_nor_independent():
    visits = visits_of([1, 1, 1], [0.0, 60.0, 5 * HOUR], [1, 2, 2], **RULES)
    assert visits.visit.tolist() == [0, -1, 1]
    assert (visits.independent, visits.too_close) == (2, 1)


def test_missing_times_and_values_are_left_out_and_rows_keep_their_places():
    visits = visits_of([1, 1, 2], [math.nan, 0.0, 0.0], ["a", "a", "a"], **RULES)
    assert visits.visit.tolist() == [-1, 0, 1]
    point, session, time = occupations(points=3)
    values = simulated(np.random.default_rng(2), point, session, time, axes=1, u_common=0.1, u_random=0.1, rho=0.5)
    gappy = values.copy()
    gappy[5] = math.nan
    time[5] = math.nan
    kept = np.arange(point.size) != 5
    whole = repeatability(gappy, point, session, visits_of(point, time, session, **RULES))
    cut = repeatability(
        values[kept], point[kept], session[kept], visits_of(point[kept], time[kept], session[kept], **RULES)
    )
    assert whole.absolute == cut.absolute
    assert whole.rho == cut.rho
    assert repeatability([], [], [], visits_of([], [], [], **RULES)).visits == 0


def test_the_order_of_rows_does_not_matter():
    point, session, time = occupations(points=4)
    values = simulated(np.random.default_rng(2), point, session, time, axes=2, u_common=0.1, u_random=0.1, rho=0.5)
    shuffled = np.random.default_rng(0).permutation(point.size)
    one = repeatability(values, point, session, visits_of(point, time, session, **RULES))
    p, s, t = point[shuffled], session[shuffled], time[shuffled]
    other = repeatability(values[shuffled], p, s, visits_of(p, t, s, **RULES))
    assert other.absolute.value == pytest.approx(one.absolute.value)
    assert other.rho.high == pytest.approx(one.rho.high)


def test_differences_grow_with_the_time_between_where_errors_last():
    point, session, time = occupations(points=200, sessions=2)
    values = simulated(np.random.default_rng(5), point, session, time, axes=2, u_common=0.0, u_random=0.02, rho=0.7)
    pairs = pairs_of(point, time, *values.T, np.full(point.size, math.nan))
    assert pairs.gap.size == 200 * 6
    table = by_gap(pairs, [0, 600, 14400, 86400])
    assert table.count_h.tolist() == [400, 0, 800]
    assert table.count_v.tolist() == [0, 0, 0]
    # own arithmetic: a difference of two shots has variance 2 u² (1 - rho)
    assert table.u_h[0] == pytest.approx(0.02 * math.sqrt(0.3), rel=0.1)
    assert table.u_h[2] == pytest.approx(0.02, rel=0.1)
    assert np.isnan(table.u_h[1])
    assert np.isnan(table.u_v).all()


def test_pairs_are_later_minus_earlier_whatever_the_order_of_rows():
    found = pairs_of([7, 7], [100.0, 40.0], [2.0, 1.0], [0.0, 0.0], [5.0, math.nan])
    assert (found.earlier.tolist(), found.later.tolist(), found.easting.tolist()) == ([1], [0], [1.0])
    assert np.isnan(found.elevation[0])
    assert pairs_of([7, 8], [0, 1], [1, 2], [1, 2], [1, 2]).gap.size == 0


def test_rules_that_contradict_themselves_are_refused():
    with pytest.raises(JobError, match="stay below independent_after"):
        visits_of([1], [0.0], [1], close=600.0, independent_after=600.0)
    with pytest.raises(JobError, match="do not rise"):
        by_gap(pairs_of([1, 1], [0, 1], [0, 0], [0, 0], [0, 0]), [0, 0])
    with pytest.raises(GeometryInputError, match="differ in length"):
        visits_of([1, 2], [0.0], [1], **RULES)
    with pytest.raises(GeometryInputError, match="differ in length"):
        pairs_of([1, 2], [0.0], [1], [1], [1])
    with pytest.raises(GeometryInputError, match="do not fit"):
        repeatability([1.0], [1, 2], [1, 1], visits_of([1, 2], [0, 0], [1, 1], **RULES))
