"""Reaches, weights of a slope, and turns of a design."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.baseline.profile import Profile, profile_at
from geoqa.kernels.drainage.falls import fall_reaches, slope_weights, turns_of


def reaches(station, breaks=(), length=50.0):
    first, last = fall_reaches(station, breaks=list(breaks), length=length)
    return list(zip(first.tolist(), last.tolist(), strict=True))


@pytest.mark.parametrize("seed", range(5))
def test_a_slope_is_that_of_a_weighted_straight_line(seed):
    rng = np.random.default_rng(seed)
    at, u = np.sort(rng.uniform(0, 100, 6)), rng.uniform(0.01, 0.03, 6)
    z = 0.004 * at + rng.normal(0, u)
    weight = slope_weights(at, u)
    slope, covariance = np.polyfit(at, z, 1, w=1 / u, cov="unscaled")
    assert weight @ z == pytest.approx(slope[0])
    assert np.sqrt(np.sum((weight * u) ** 2)) == pytest.approx(np.sqrt(covariance[0, 0]))
    assert weight.sum() == pytest.approx(0, abs=1e-12)


def test_a_fall_of_two_shots_over_a_published_sewer():
    # 8 in, 300 ft at the minimum slope 0.40 ft per 100 ft falls 1.200 ft; 0.02 ft each gives 0.0094 % (own arithmetic)
    weight = slope_weights([0, 300], [0.02, 0.02])
    assert weight @ [100.0, 98.8] == pytest.approx(-0.004)
    assert np.hypot(*weight * 0.02) == pytest.approx(0.000094, abs=5e-7)


def test_a_shot_without_uncertainty_makes_all_alike():
    assert slope_weights([0, 50, 100], [0.0, 0.02, np.nan]).tolist() == slope_weights([0, 50, 100], [1, 1, 1]).tolist()


@pytest.mark.parametrize("given", [([5.0], [1.0]), ([5.0, 5.0], [1, 1]), ([0, 1], [1])])
def test_a_slope_needs_two_places(given):
    with pytest.raises(GeometryInputError):
        slope_weights(*given)


def test_reaches_share_their_ends_and_leave_no_shot_out():
    assert reaches([0, 25, 50, 75, 100]) == [(0, 2), (2, 4)]
    assert reaches([0, 25, 50, 75]) == [(0, 2), (2, 3)]
    assert reaches([0, 25, 50, 60]) == [(0, 3)]
    assert reaches([0, 10]) == [(0, 1)]
    assert reaches([0]) == []


def test_no_reach_crosses_a_break():
    assert reaches([0, 25, 50, 75, 100], [75.0]) == [(0, 2), (2, 3), (3, 4)]
    assert reaches([0, 25, 50, 75, 100], [60.0]) == [(0, 2), (3, 4)]
    assert reaches([0, 25, 50], [-10.0, 0.0, 50.0, 99.0]) == [(0, 2)]


def test_a_chorded_parabola_turns_once_at_its_low_point_and_breaks_nowhere():
    # the published curve of chapter 25, mirrored: low point 47+03.333
    sag = Profile(station=[4300, 4670, 5000], elevation=2 * 853.48 - np.array([842.38, 853.48, 845.56]),
                  curve_in=[0, 300, 0], curve_out=[0, 300, 0])  # fmt: skip
    station = np.arange(4303.333, 4990, 10.0)
    turns = turns_of(station, profile_at(sag, station)[0], change=0.005)
    assert turns.low == pytest.approx([4703.333], abs=0.01)
    assert turns.high.tolist() == []
    assert turns.breaks.tolist() == turns.low.tolist()


def test_level_bottoms_breaks_and_unknown_elevations():
    assert turns_of([0, 100, 200, 300], [1.0, 0.0, 0.0, 1.0], change=0.005).low.tolist() == [150.0]
    assert turns_of([0, 100, 200], [10.0, 9.0, 7.0], change=0.005).breaks.tolist() == [100.0]
    assert turns_of([0, 100, 200], [10.0, 9.0, 7.0], change=0.02).breaks.tolist() == []
    assert turns_of([0, 100, 200, 300], [10.0, np.nan, 9.0, 8.0], change=0.005).breaks.tolist() == [100.0, 200.0]
    assert turns_of([0.0], [1.0], change=0.1).breaks.tolist() == []
    with pytest.raises(GeometryInputError):
        turns_of([0, 0], [1, 1], change=0.1)
