"""Both parts as large as the data show them: which evidence moves which part, and what moves none."""

import numpy as np
import pandas as pd
import pytest

from geoqa.kernels.precision.estimate import UNKNOWN, spread_estimate
from geoqa.steps.precision.believed import Seen, believed
from geoqa.steps.precision.budget import GENERAL, LOGGED
from geoqa.steps.precision.stated_parts import Stated

COUNT = 400
SIZES = np.random.default_rng(3).normal(size=COUNT)
HALF = 0.01


def stated(origin=LOGGED, *, random=HALF, common=HALF, scaled=1.0, lean=0.0):
    own = np.full(COUNT, random * scaled)
    lean = np.broadcast_to(lean, COUNT)
    return Stated(
        random=np.hypot(own, lean), own=own, scaled=scaled, common=np.full(COUNT, common),
        origin=np.full(COUNT, origin), origin_common=np.full(COUNT, origin), leans=lean > 0,
    )  # fmt: skip


def seen(times=1.0, *, repeats=None, shift=None, u=0.005, widened=1.0, together=0.0, axes=1, line=0):
    """Neighbours scatter so many times as stated; four sessions, the last one without a check."""
    shift = np.full((4, axes), np.nan) if shift is None else np.array(shift, float).reshape(4, axes)
    known = UNKNOWN if repeats is None else spread_estimate(20 * repeats**2, 20)
    return Seen(
        row=np.arange(COUNT), size=np.broadcast_to(times, COUNT) * SIZES, repeats=known, visits=18,
        line=np.broadcast_to(line, COUNT), lines=tuple("KLMNOPQRST"),
        session=np.arange(COUNT) % 4, names=pd.Index(list("ABCD")), shift=shift,
        u=np.where(np.isnan(shift), np.nan, u), widened=np.full(COUNT, widened), together=np.full(COUNT, together),
    )  # fmt: skip


def test_honest_numbers_stay_as_stated():
    for origin in (LOGGED, GENERAL):
        found = believed(stated(origin), seen(repeats=0.98))
        assert found.random == pytest.approx(HALF)
        assert found.common == pytest.approx(HALF)
        assert found.off == ()


@pytest.mark.parametrize("origin", [LOGGED, GENERAL])
def test_neighbours_prove_a_random_part_too_small_whoever_states_it(origin):
    found = believed(stated(origin), seen(2.0, repeats=1.9))
    assert found.random == pytest.approx(2 * HALF, rel=0.12)
    assert found.compared == COUNT


def test_work_that_wobbles_is_no_proof_where_repeats_exclude_it():
    free = believed(stated(GENERAL), seen(3.0)).random[0]
    held = believed(stated(GENERAL), seen(3.0, repeats=0.7)).random[0]
    assert free == pytest.approx(3 * HALF, rel=0.12)
    assert held == pytest.approx(max(1.0, spread_estimate(20 * 0.7**2, 20).high) * HALF)


def test_errors_that_last_are_seen_by_repeats_alone_and_a_log_gives_way_to_them():
    lasting = seen(0.3, repeats=2.0)
    # 4 degrees of freedom for the log, 20 for the repeats
    assert believed(stated(), lasting).random == pytest.approx(np.sqrt((4 + 20 * 4) / 24) * HALF)
    assert believed(stated(GENERAL), lasting).random == pytest.approx(HALF)


def test_what_repeats_made_too_large_gives_way_to_neighbours_that_agree_with_them():
    found = believed(stated(scaled=1.5), seen(0.72, repeats=0.8))
    assert found.random == pytest.approx(HALF)


def test_what_is_random_of_a_logs_number_is_not_shared():
    found = believed(stated(), seen(np.sqrt(2.0), repeats=1.4, shift=[0.001, -0.001, 0.0, np.nan]))
    whole = np.hypot(found.random, found.common)
    assert (whole >= np.sqrt(2) * HALF * 0.9999).all()
    assert found.common.max() < 0.5 * HALF
    # a declared part is a person's word
    assert believed(stated(GENERAL), seen(np.sqrt(2.0), repeats=1.4)).common == pytest.approx(HALF)


def test_a_declared_0_is_not_believed_against_sessions_that_are_off():
    found = believed(stated(GENERAL, common=0.0), seen(shift=[0.05, -0.04, 0.03, np.nan]))
    assert found.common[:3] == pytest.approx([0.05, 0.04, 0.03], rel=0.05)
    assert found.common[3] > 0.04  # nobody looked: as the others, and more
    assert found.off == ("A", "B", "C")


@pytest.mark.parametrize("origin", [LOGGED, GENERAL])
def test_sessions_off_by_chance_change_nothing(origin):
    found = believed(stated(origin), seen(shift=[0.009, -0.007, 0.011, np.nan]))
    assert found.common == pytest.approx(HALF)


def test_a_logs_half_gives_way_sooner_than_a_persons_word():
    # the squares over their variances add up to 7.6 of 3 degrees of freedom: 5 in 100
    doubtful = seen(shift=[0.02, -0.02, 0.012, np.nan])
    assert believed(stated(LOGGED), doubtful).off == ("A", "B", "C")
    assert believed(stated(GENERAL), doubtful).off == ()


def test_a_log_proven_too_good_without_any_check_stays_in_halves():
    found = believed(stated(), seen(3.0))
    assert found.common == pytest.approx(found.random)


def test_leaning_shots_have_a_scatter_of_their_own():
    lean = np.where(np.arange(COUNT) < 200, 0.02, 0.0)
    found = believed(stated(GENERAL, lean=lean), seen(np.where(lean > 0, 4.0, 1.0), repeats=1.0))
    assert found.random[0] == pytest.approx(4 * np.hypot(HALF, 0.02), rel=0.15)
    assert found.random[-1] == pytest.approx(HALF)


def test_what_control_shows_holds_where_neither_neighbours_nor_repeats_exclude_it():
    assert believed(stated(GENERAL), seen(0.3, repeats=2.0, widened=1.8)).random == pytest.approx(1.8 * HALF)
    assert believed(stated(GENERAL), seen(1.0, repeats=1.0, widened=1.8)).random[0] < 1.2 * HALF
    assert believed(stated(GENERAL), seen(together=0.04)).common == pytest.approx(0.04)


LINE = 4 * (np.arange(COUNT) // 40)  # ten lines of forty shots, in session A as far as their number says


def test_a_line_that_scatters_widely_has_a_part_of_its_own_and_leaves_that_of_the_others():
    wide = np.isin(LINE, (8, 12, 16))
    found = believed(stated(GENERAL), seen(np.where(wide, 12.0, 1.0), line=LINE))
    assert found.random[~wide] == pytest.approx(HALF)
    assert found.random[wide].mean() == pytest.approx(12 * HALF, rel=0.15)
    assert found.wide == (8, 12, 16)
    assert found.compared == COUNT - 120
    assert seen(line=LINE).pass_of(8) == ("M", "A")


def test_what_repeats_exclude_is_not_taken_from_such_a_line_either():
    found = believed(stated(GENERAL), seen(np.where(LINE >= 24, 12.0, 1.0), repeats=0.9, line=LINE))
    assert found.random.max() == pytest.approx(spread_estimate(20 * 0.9**2, 20).high * HALF)


@pytest.mark.parametrize("times", [1.0, 3.0])
def test_what_all_lines_share_is_learned_of_all_and_a_line_alone_is_the_job(times):
    for line in (LINE, 0):
        found = believed(stated(GENERAL), seen(times, line=line))
        assert found.wide == ()
        assert found.random == pytest.approx(HALF if times == 1.0 else 3.0 * HALF, rel=0.12)


def test_wide_lines_in_the_majority_are_the_work_of_this_job():
    assert believed(stated(GENERAL), seen(np.where(LINE >= 12, 5.0, 1.0), line=LINE)).wide == ()
