"""Stretches of neighbours that agree."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.walks.stretches import stretches


def test_a_defect_of_four_sections_is_cut_out_whatever_the_order():
    generator = np.random.default_rng(7)
    station = np.arange(0, 1000, 25.0)
    slope = np.where((station >= 200) & (station < 300), 3.8, 1.5) + generator.normal(0, 0.4, len(station))
    told = stretches(station, slope, np.full(len(station), 0.4), between=40, longest=1e4)
    assert station[told == told[station == 200][0]].tolist() == [200, 225, 250, 275]
    order = generator.permutation(len(station))
    again = stretches(station[order], slope[order], np.full(len(station), 0.4), between=40, longest=1e4)
    assert again.tolist() == told[order].tolist()


def test_sound_work_is_seldom_cut():
    cuts = 0
    for seed in range(100):
        values = np.random.default_rng(seed).normal(1.5, 0.57, 40)
        cuts += int(stretches(np.arange(40) * 25.0, values, np.full(40, 0.57), between=40, longest=1e4).max())
    # one place of 39 at chi-square 13 or more: about 39 x 0.0003 a walk, and a short stretch saves two cuts seldom
    assert cuts <= 6


def test_a_gap_ends_a_stretch_and_a_long_one_is_divided_evenly():
    told = stretches([0, 25, 50, 200, 225], [1.0] * 5, [0.5] * 5, between=60, longest=1e3)
    assert told.tolist() == [0, 0, 0, 1, 1]
    long = stretches(np.arange(0, 301, 25.0), [1.0] * 13, [0.5] * 13, between=60, longest=150)
    assert np.bincount(long).tolist() == [6, 7]
    assert stretches([0.0, 1.0], [np.nan, 1.0], [1.0, np.nan], between=1, longest=1).tolist() == [-1, -1]


def test_what_does_not_fit_is_refused():
    with pytest.raises(GeometryInputError, match="do not fit"):
        stretches([0.0], [1.0], [1.0], between=0, longest=1)
