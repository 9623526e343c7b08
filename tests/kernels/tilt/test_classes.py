"""Robust sizes by class of tilt: medians over those of the normal distribution, 1.1774 and 0.6745 sigma."""

import numpy as np
import pytest
from scipy import stats

from geoqa.errors import GeometryInputError, JobError
from geoqa.kernels.tilt.classes import tilt_classes

PLAN, LEVEL = stats.rayleigh.median(), stats.halfnorm.median()


def test_sizes_of_two_classes_by_hand():
    found = tilt_classes([10, 11, 12, 30], [0.02, 0.04, 0.9, 0.10], [0.01, -0.03, 0.5, 0.05], edges=[0, 20, 40])
    assert found.count.tolist() == [3, 1]
    assert found.u_h.tolist() == pytest.approx([0.04 / PLAN, 0.10 / PLAN])
    assert found.u_v.tolist() == pytest.approx([0.03 / LEVEL, 0.05 / LEVEL])
    assert found.largest.tolist() == [12, 30]
    assert found.largest_h.tolist() == [0.9, 0.10]
    assert found.largest_v.tolist() == [0.5, 0.05]


def test_the_band_of_nine_sizes_ends_at_the_second_of_either_side():
    # fewer than 2 heads in 9 tosses: 10/512 = 0.0195, no more than half of 5 %
    sizes = np.arange(1, 10) / 100
    found = tilt_classes(np.full(9, 10.0), sizes, -sizes, edges=[0, 20])
    assert [found.u_h_low[0], found.u_h_high[0]] == pytest.approx([0.02 / PLAN, 0.08 / PLAN])
    assert [found.u_v_low[0], found.u_v_high[0]] == pytest.approx([0.02 / LEVEL, 0.08 / LEVEL])
    few = tilt_classes(np.full(5, 10.0), sizes[:5], sizes[:5], edges=[0, 20])
    assert [few.u_h_low[0], few.u_h_high[0]] == [0, np.inf]


def test_a_class_begins_at_its_edge_and_ends_before_the_next():
    found = tilt_classes([0.0, 19.9, 20.0, 40.0, -1.0, np.nan], [1.0] * 6, [1.0] * 6, edges=[0, 20, 40])
    assert found.count.tolist() == [2, 1]


def test_a_class_without_shots_tells_nothing():
    found = tilt_classes([10.0], [np.nan], [0.1], edges=[0, 20, 40])
    assert np.isnan(found.u_h).all()
    assert np.isnan(found.u_v).tolist() == [False, True]


def test_normal_errors_come_back_as_their_sigma():
    draw = np.random.default_rng(6)
    plan = np.hypot(*draw.normal(0, 0.03, (2, 40_000)))
    found = tilt_classes(np.full(40_000, 10.0), plan, draw.normal(0, 0.05, 40_000), edges=[0, 20])
    assert [found.u_h[0], found.u_v[0]] == pytest.approx([0.03, 0.05], rel=0.02)


def test_edges_that_do_not_rise_and_columns_that_do_not_fit_are_refused():
    with pytest.raises(JobError, match="do not rise"):
        tilt_classes([], [], [], edges=[0, 20, 20])
    with pytest.raises(GeometryInputError, match="differ in length"):
        tilt_classes([1.0], [1.0, 2.0], [1.0])
