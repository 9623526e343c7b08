"""The ellipse of the next difference: Hotelling's factor by another path, and how often it holds."""

import numpy as np
import pytest
from scipy import stats

from geoqa.errors import GeometryInputError, JobError
from geoqa.kernels.tilt.ellipse import next_ellipse


def test_axes_of_four_differences_by_hand():
    # variances 0.08/3 along the east and 0.02/3 along the north; factor 2 · 3 · 5 / (4 · 2) times F(2, 2) = 19
    found = next_ellipse([0.2, -0.2, 0.0, 0.0], [0.0, 0.0, 0.1, -0.1])
    assert [found.centre_e, found.centre_n] == pytest.approx([0, 0])
    assert [found.major, found.minor] == pytest.approx([np.sqrt(0.08 / 3 * 3.75 * 19), np.sqrt(0.02 / 3 * 3.75 * 19)])
    assert found.direction == pytest.approx(90)


@pytest.mark.parametrize("azimuth", [0.0, 30.0, 135.0])
def test_the_direction_is_an_azimuth(azimuth):
    along, across = np.array([3.0, -3.0, 1.0, -1.0, 0.0]), np.array([0.1, 0.1, -0.2, 0.0, 0.0])
    a = np.radians(azimuth)
    found = next_ellipse(along * np.sin(a) + across * np.cos(a), along * np.cos(a) - across * np.sin(a))
    straight = next_ellipse(across, along)
    assert (found.direction - straight.direction) % 180 == pytest.approx(azimuth)
    assert [found.major, found.minor] == pytest.approx([straight.major, straight.minor])


def test_of_many_differences_the_axes_are_those_of_the_normal_distribution():
    values = np.random.default_rng(1).normal(0, 1, (2, 200_000))
    found = next_ellipse(*values)
    assert [found.major, found.minor] == pytest.approx([np.sqrt(stats.chi2.ppf(0.95, 2))] * 2, rel=0.01)


def test_it_holds_the_next_difference_as_often_as_it_says():
    draw, held = np.random.default_rng(2), 0
    for _ in range(2000):
        e, n = draw.normal(0, 1, (2, 6)) * [[2.0], [0.5]]
        found = next_ellipse(e[:5], n[:5])
        a = np.radians(found.direction)
        east, north = e[5] - found.centre_e, n[5] - found.centre_n
        along, across = east * np.sin(a) + north * np.cos(a), east * np.cos(a) - north * np.sin(a)
        held += (along / found.major) ** 2 + (across / found.minor) ** 2 <= 1
    assert held / 2000 == pytest.approx(0.95, abs=0.015)


def test_two_differences_have_a_centre_and_no_axes():
    found = next_ellipse([1.0, 3.0, np.nan], [0.0, 2.0, 0.0])
    assert [found.centre_e, found.centre_n, found.count] == [2.0, 1.0, 2]
    assert np.isnan([found.major, found.minor, found.direction]).all()


def test_words_that_mean_nothing_are_refused():
    with pytest.raises(JobError, match="between 0 and 1"):
        next_ellipse([0.0], [0.0], confidence=95)
    with pytest.raises(GeometryInputError, match="differ in length"):
        next_ellipse([0.0], [0.0, 1.0])
