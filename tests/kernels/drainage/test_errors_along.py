"""What errors of neighbours have in common."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.run_means import LASTING
from geoqa.kernels.drainage.errors_along import error_covariance, lasting_at_least


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
