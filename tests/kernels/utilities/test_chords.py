"""Pipes against their chord: a parabola's sag in closed form, and legs that rise."""

import numpy as np
import pytest

from geoqa.kernels.utilities.chords import from_chord, reversals


@pytest.mark.parametrize("azimuth", [0.0, 80.0, 211.0])
def test_the_sag_of_a_parabola(azimuth):
    """4 f t (1 - t) under its chord, f in the middle, whatever the direction and the grade."""
    t = np.linspace(0, 1, 9)
    run = 246.45 * t
    east, north = np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))
    points = np.column_stack([2.2e6 + run * east, 4.4e5 + run * north, 1450 - 0.005 * run - 4 * 0.22 * t * (1 - t)])
    found = from_chord(np.zeros(9, int), points)
    assert found.vertical == pytest.approx(-4 * 0.22 * t * (1 - t), abs=1e-9)
    assert found.share == pytest.approx(t)


def test_lines_are_kept_apart():
    found = from_chord([0, 0, 1, 1, 1], [[0, 0, 0], [1, 0, 1], [0, 0, 5], [5, 0, 6], [10, 0, 5]])
    assert found.vertical.tolist() == pytest.approx([0, 0, 0, 1, 0])
    assert found.first.tolist() == [0, 0, 2, 2, 2]


def test_a_line_of_one_place_says_nothing():
    assert np.isnan(from_chord([0, 0], [[0, 0, 1], [0, 0, 2]]).share).all()


def test_a_rise_within_the_noise_is_none():
    line, u = [0] * 4, [0.02] * 4
    assert reversals(line, [10, 9.9, 9.95, 9.6], u, falls=[1] * 4).tolist() == [False] * 4
    assert reversals(line, [10, 9.7, 9.85, 9.6], u, falls=[1] * 4).tolist() == [False, True, False, False]
    assert reversals([0], [10.0], [0.02], falls=[1]).tolist() == [False]
