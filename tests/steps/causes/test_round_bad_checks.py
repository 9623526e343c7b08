"""A check shot off alone is a bad shot; with its neighbours in time off by the same it shows what moved them."""

import numpy as np
import pandas as pd
import pytest

from geoqa.steps.causes.named_causes import Named
from geoqa.steps.causes.round_bad_checks import WITH_CHECK, round_bad_checks, without_explained
from geoqa.steps.causes.suspect_blocks import Block, Seen

SHIFT = np.array([0.31, -0.25, 0.40])
COUNT, CHECK = 80, 40


def day():
    key = pd.Series([f"s{n}" for n in range(COUNT)], dtype="str")
    time = pd.Timestamp("2026-05-12T14:00Z") + pd.to_timedelta(np.arange(COUNT) * 30, unit="s")
    return pd.DataFrame({"shot_key": key, "session": "A", "source": "a", "time": time})


def sight(moved, *, seed=1, shift=SHIFT):
    feature = np.delete(np.arange(COUNT), CHECK)
    off = np.zeros((COUNT, 3))
    off[moved] = shift
    noise = np.random.default_rng(seed).normal(0.0, 0.04, 2 * len(feature))
    return Seen(
        row=np.tile(feature, 2),
        direction=np.repeat([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0]], len(feature), axis=0),
        residual=np.append(off[feature, 0], off[feature, 2]) + noise,
        u=np.full(2 * len(feature), 0.05),
    )


def bad(row=CHECK, size=SHIFT):
    acts = np.arange(COUNT) == row
    return Named(
        cause="bad-shot", variant=f"check shot {row} alone is off", subject=str(row), acts=acts,
        doubtful=np.zeros(COUNT, bool), shift=np.where(acts[:, None], size, 0.0), size=size,
        u_size=np.array([0.02, 0.02, 0.04]), prior=0.02,
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("moved", [slice(28, 60), slice(36, 52), slice(CHECK, 60), slice(20, CHECK)])
def test_neighbours_off_by_what_the_check_is_off_are_one_block_with_it(seed, moved):
    named = [bad()]
    (one,) = round_bad_checks(day(), sight(moved, seed=seed), named)
    assert one.cause == WITH_CHECK
    there = np.flatnonzero(one.acts)
    assert CHECK in there
    wanted = set(range(COUNT)[moved]) | {CHECK}
    assert len(set(there.tolist()) ^ wanted) <= 1
    assert without_explained(named, [one]) == []


@pytest.mark.parametrize("seed", range(6))
def test_a_check_off_alone_stays_a_bad_shot(seed):
    named = [bad()]
    assert round_bad_checks(day(), sight(slice(0, 0), seed=seed), named) == []
    assert without_explained(named, []) == named


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("shift", [(-0.31, 0.25, -0.40), (0.0, 0.0, -0.25), (0.05, 0.0, 0.1)])
def test_neighbours_that_are_off_otherwise_are_the_work(seed, shift):
    assert round_bad_checks(day(), sight(slice(30, 55), seed=seed, shift=shift), [bad()]) == []


def test_work_that_is_off_by_the_same_at_another_time_is_no_part_of_it():
    assert round_bad_checks(day(), sight(slice(60, 80)), [bad()]) == []


def test_no_doubt_is_left_about_shots_of_which_a_block_tells():
    rod = Named(
        cause="rod", variant="", subject="session A", acts=np.arange(COUNT) > 60, doubtful=np.arange(COUNT) > 30,
        shift=np.zeros((COUNT, 3)), size=SHIFT, u_size=np.zeros(3), prior=0.02,
    )  # fmt: skip
    acts = (np.arange(COUNT) > 35) & (np.arange(COUNT) < 60)
    block = Block(cause="unchecked", variant="", subject="", acts=acts, shift=np.zeros((COUNT, 3)), size=SHIFT,
                  u_size=np.zeros(3), log_odds=9.0)  # fmt: skip
    (left,) = without_explained([rod], [block])
    assert np.flatnonzero(left.doubtful & ~left.acts).tolist() == [*range(31, 36), 60]
