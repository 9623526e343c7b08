"""A median with a band of ranks: the sign test's own table, worked out from coin tosses."""

import math

import numpy as np
import pytest

from geoqa.errors import JobError
from geoqa.kernels.tilt.pace import median_estimate


def widest_rank(count, confidence=0.95):
    """Largest k for which fewer than k heads in `count` tosses are rarer than half the doubt."""
    rank, tail = 0, 0.0
    while True:
        tail += math.comb(count, rank) / 2**count
        if tail > (1 - confidence) / 2:
            return rank
        rank += 1


@pytest.mark.parametrize(("count", "rank"), [(5, 0), (6, 1), (8, 1), (9, 2), (20, 6), (25, 8)])
def test_ends_are_the_ranks_of_the_sign_test(count, rank):
    assert widest_rank(count) == rank  # as in any table of the sign test
    found = median_estimate(np.arange(count)[::-1])
    assert found.value == (count - 1) / 2
    expected = (rank - 1, count - rank) if rank else (-np.inf, np.inf)
    assert (found.low, found.high) == expected
    assert found.dof == count - 1


def test_a_stray_value_moves_neither_the_median_nor_the_lower_end():
    calm, stray = (median_estimate([20, 21, 22, 23, 24, 25, 26, 27, last]) for last in (28, 900))
    assert (calm.value, calm.low, calm.high) == (stray.value, stray.low, stray.high) == (24, 21, 27)


def test_missing_values_are_left_out_and_none_tell_nothing():
    assert median_estimate([np.nan, 3.0]).value == 3.0
    assert np.isnan(median_estimate([np.nan]).value)
    with pytest.raises(JobError, match="between 0 and 1"):
        median_estimate([1.0], confidence=95)
