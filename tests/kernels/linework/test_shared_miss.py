"""A shift that whole lines share: across them, or in plan where they were drawn in opposite directions."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.linework.shared_miss import share_of, shared_miss

NORTH, SOUTH, EAST = (1.0, 0.0), (-1.0, 0.0), (0.0, -1.0)


def missed(line, value, *, directions=None, asked=None, limit=0.10):
    count = len(line)
    right = None if directions is None else np.array([directions[each] for each in line])
    asked = np.full(count, True) if asked is None else asked
    zeros, u, limits = np.zeros(count), np.full(count, 0.02), np.full(count, limit)
    return shared_miss(line, value, zeros, u, limits, asked=asked, right=right)


def test_lines_drawn_in_opposite_directions_share_a_shift_in_plan():
    rng = np.random.default_rng(3)
    line = np.repeat([0, 1, 2], 20)
    directions = {0: NORTH, 1: SOUTH, 2: EAST}
    right = np.array([directions[each] for each in line])
    found = missed(line, right @ [0.4, 0.3] + rng.normal(0, 0.02, 60), directions=directions)
    assert found.lines.tolist() == [0, 1, 2]
    assert np.isnan(found.shift)
    assert found.moved == pytest.approx([0.4, 0.3], abs=0.02)
    assert found.missed == pytest.approx(right @ found.moved)


def test_what_a_survey_off_as_much_would_show_elsewhere_follows_the_direction():
    line = np.repeat([0, 1, 2], 6)
    found = missed(line, np.where(line == 0, 0.4, 0.0), directions={0: NORTH, 1: SOUTH, 2: EAST}, asked=line == 0)
    assert found.lines.tolist() == [0]
    assert found.surveyed[[0, 6, 12]] == pytest.approx([0.4, -0.4, 0.0])


def test_lines_that_miss_each_by_an_amount_of_its_own_share_nothing():
    line = np.repeat([0, 1], 10)
    assert missed(line, np.where(line == 0, 0.4, -0.3)) is None


def test_a_part_of_a_line_is_no_whole_one():
    value = np.where(np.arange(20) < 12, 0.4, 0.0)
    assert missed(np.zeros(20, int), value) is None
    assert missed(np.zeros(20, int), np.full(20, 0.04)) is None
    assert missed(np.zeros(4, int), np.full(4, 0.4)) is None


def test_arrays_of_one_length():
    with pytest.raises(GeometryInputError, match="one row a shot"):
        shared_miss([0, 0], [0.1], [0.0], [0.02], [0.1], asked=[True])
    assert np.isnan(share_of([], [])).all()
