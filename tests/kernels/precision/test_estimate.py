import math

import numpy as np
import pytest

from geoqa.errors import JobError
from geoqa.kernels.precision.estimate import (
    UNKNOWN,
    declared,
    likely_estimate,
    linear_estimate,
    relative_error_of_spread,
    shots_needed,
    spread_estimate,
    student,
)


def test_the_quantile_of_student_behind_the_expanded_uncertainty_of_the_end_gauge():
    # value from a third party's copy of GUM H.1: t for 99 % and 16 degrees of freedom is 2.92
    assert student(0.995, 16) == pytest.approx(2.9208, abs=5e-5)
    # value from memory (GUM G.4.1), arithmetic recomputed
    assert student(0.975, 19) == pytest.approx(2.0930, abs=5e-5)
    assert student(0.975, math.inf) == pytest.approx(1.9599640, abs=1e-7)


def test_the_band_of_a_standard_deviation_is_that_of_chi_square():
    # data of the NIST/SEMATECH e-Handbook 1.3.5.8 (GEAR.DAT): 99 degrees of freedom, s 0.006278904878,
    # chi-square quantiles 73.361080 and 128.421989
    found = spread_estimate(99 * 0.006278904878**2, 99)
    assert found.value == pytest.approx(0.006278904878, rel=1e-12)
    assert found.low == pytest.approx(0.006278904878 * math.sqrt(99 / 128.421989), rel=1e-7)
    assert found.high == pytest.approx(0.006278904878 * math.sqrt(99 / 73.361080), rel=1e-7)


def test_ten_shots_know_a_spread_to_24_percent_and_thirty_to_13():
    # own arithmetic of 1/sqrt(2(n - 1))
    assert relative_error_of_spread([10, 30]).round(3).tolist() == [0.236, 0.131]
    assert np.isinf(relative_error_of_spread(1))
    assert np.isnan(relative_error_of_spread(math.nan))
    assert [shots_needed(r) for r in (0.10, 0.2357022603955158, 0.5, 10.0)] == [51, 10, 3, 2]


def test_a_plan_for_no_error_at_all_is_refused():
    with pytest.raises(JobError, match="cannot be reached"):
        shots_needed(0.0)
    with pytest.raises(JobError, match="not between 0 and 1"):
        spread_estimate(1.0, 9, confidence=95)


def test_what_no_data_tell_is_unknown_not_zero():
    for found in (spread_estimate(0.0, 0), spread_estimate(math.nan, 3)):
        assert found is UNKNOWN
        assert math.isnan(found.value)
        assert not found.significant


def test_a_band_that_leaves_0_out_is_significant():
    assert linear_estimate(0.5, 0.1, dof=10).significant
    assert linear_estimate(-0.5, 0.1, dof=10).significant
    assert not linear_estimate(0.15, 0.1, dof=10).significant
    assert declared(0.2).significant


def test_half_the_68_percent_band_of_normal_values_is_their_sigma():
    from scipy.stats import norm

    likely = norm.ppf((np.arange(100000) + 0.5) / 100000, 3.0, 0.2)
    found = likely_estimate(3.0, likely, dof=9)
    assert found.se == pytest.approx(0.2, rel=1e-4)
    assert (found.low, found.high) == pytest.approx((3 - 1.96 * 0.2, 3 + 1.96 * 0.2), abs=1e-4)
