"""How far it is from one passing space to the next."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.walks.passing import between_passing_spaces


def test_a_walk_that_is_wide_throughout_has_no_stretch():
    found = between_passing_spaces(np.arange(5) * 50.0, [6.0] * 5, [0.03] * 5, wide=5.0)
    assert (found.longest, found.least, found.most, found.u) == (0.0, 0.0, 0.0, 0.0)


def test_a_narrow_walk_counts_from_end_to_end_and_a_passing_space_parts_it():
    at = np.arange(0, 401, 50.0)
    narrow = np.full(len(at), 4.0)
    assert between_passing_spaces(at, narrow, np.full(9, 0.03), wide=5.0).longest == 400
    narrow[3] = 5.5
    found = between_passing_spaces(at[::-1], narrow[::-1], np.full(9, 0.03), wide=5.0)
    assert (found.longest, found.start, found.end, found.u) == (250.0, 150.0, 400.0, 0.0)


def test_a_section_in_doubt_makes_a_band():
    found = between_passing_spaces([0, 100, 200], [4.0, 4.99, 4.0], [0.03] * 3, wide=5.0)
    assert (found.least, found.longest, found.most) == (100.0, 200.0, 200.0)
    assert found.u == pytest.approx(100 / 1.6448536269514722)


def test_no_width_is_refused():
    with pytest.raises(GeometryInputError, match="no section"):
        between_passing_spaces([0.0], [np.nan], [1.0], wide=5.0)
