"""What errors of neighbours have in common."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.run_means import LASTING
from geoqa.kernels.drainage.errors_along import (
    ErrorsAlong,
    error_covariance,
    lasting_at_least,
    level_pairs,
)


def test_a_session_shares_and_a_shot_of_none_does_not():
    made = error_covariance([0.02] * 3, [0.05] * 3, [0, 0, -1])
    assert made[0, 1] == pytest.approx(0.0025)
    assert made[0, 2] == made[2, 1] == 0
    assert np.diag(made) == pytest.approx([0.0029] * 3)


def test_what_lasts_falls_with_time_and_needs_one():
    made = error_covariance([0.02] * 3, [0.0] * 3, [0, 0, 0], minutes=[0, LASTING, np.nan], lasting=0.5)
    assert made[0, 1] == pytest.approx(0.5 * 0.0004 / np.e)
    assert made[0, 2] == 0
    assert np.diag(made) == pytest.approx([0.0004] * 3)
    with pytest.raises(GeometryInputError):
        error_covariance([0.02], [0.0, 0.0], [0])


def walk(rng, share, count=400, apart=0.5):
    held = np.exp(-apart / LASTING)
    step = rng.normal(0, np.sqrt(1 - held**2), count)
    carried = np.zeros(count)
    carried[0] = rng.normal()
    for nth in range(1, count):
        carried[nth] = held * carried[nth - 1] + step[nth]
    return 0.02 * (np.sqrt(share) * carried + np.sqrt(1 - share) * rng.normal(0, 1, count))


@pytest.mark.parametrize("share", [0.0, 0.4, 0.8])
def test_the_share_that_lasts_is_hardly_ever_taken_too_large(share):
    rng = np.random.default_rng(2)
    same, at = np.zeros(400, dtype=int), np.arange(400)
    seen = [lasting_at_least(same, at, walk(rng, share), np.full(400, 0.02), same, at * 0.5) for _ in range(40)]
    assert np.mean(np.array(seen) > share + 1e-9) <= 0.15
    assert np.mean(seen) > share - 0.25


def test_without_times_or_neighbours_nothing_lasts():
    same = np.zeros(30, dtype=int)
    wave = 0.03 * np.sin(np.arange(30) / 20)
    assert lasting_at_least(same, np.arange(30), wave, np.full(30, 0.02), same, np.full(30, np.nan)) == 0
    assert lasting_at_least(np.arange(30), np.arange(30), wave, np.full(30, 0.02), same, np.arange(30)) == 0


def line(rng, count, lasting, groups):
    """Places of one to three shots of some sessions, and the table of covariances of the same places."""
    start = np.append(0, np.cumsum(rng.choice([1, 1, 1, 2, 3], count)))
    shots = int(start[-1])
    own, shared = rng.uniform(0.01, 0.03, shots), rng.choice([0.0, 0.02, 0.05], groups)
    group = rng.integers(-1, groups, shots)
    minutes = np.where(rng.random(shots) < 0.1, np.nan, np.arange(shots) / 3)
    weight = rng.uniform(0.5, 1.0, shots)
    weight /= np.repeat(np.add.reduceat(weight, start[:-1]), np.diff(start))
    errors = ErrorsAlong.of_shots(
        own, shared[group], group, minutes=minutes, lasting=lasting, start=start, weight=weight
    )  # fmt: skip
    share = np.zeros((count, shots))
    share[np.repeat(np.arange(count), np.diff(start)), np.arange(shots)] = weight
    table = error_covariance(own, shared[group], group, minutes=minutes, lasting=lasting)
    return errors, share @ table @ share.T


@pytest.mark.parametrize("lasting", [0.0, 0.6])
@pytest.mark.parametrize("groups", [1, 3])
def test_a_few_numbers_a_shot_tell_what_the_whole_table_does(lasting, groups):
    rng = np.random.default_rng(groups)
    for count in (3, 40):
        errors, table = line(rng, count, lasting, groups)
        one, other = np.divmod(np.arange(count**2), count)
        assert np.abs(errors.between(one, other).reshape(count, count) - table).max() < 1e-12
        assert errors.variance() == pytest.approx(np.diag(table), abs=1e-12)
        assert errors.part(1, count).variance() == pytest.approx(np.diag(table)[1:], abs=1e-12)
        share = rng.normal(size=count)
        assert errors.of_sum(np.arange(count), share) == pytest.approx(share @ table @ share, abs=1e-12)
        z, width = rng.normal(0, 0.05, count), 2.0
        spread = np.sqrt(np.maximum(np.diag(table)[:, None] + np.diag(table) - 2 * table, 0.0))
        near = np.abs(z[:, None] - z) <= width * spread
        assert level_pairs(errors, z, width) == near[1:-1].sum()
