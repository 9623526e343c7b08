"""What lines lie off by together: one built off moves it little, and its u holds what it says."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.shared_level import shared_level


def test_one_line_built_off_and_a_missing_number_move_it_little():
    line = np.repeat(np.arange(5), 6)
    deviation = np.where(line == 3, 0.60, 0.10)
    deviation[2] = np.nan
    found = shared_level(line, deviation, np.full(30, 0.02))
    assert (found.shift, found.lines, found.shots) == (0.10, 5, 29)
    assert found.share == 1.0  # 0.60 is nearer to 0.10 than to 0


@pytest.mark.parametrize("lines", [3, 5, 8])
def test_its_band_holds_the_shift(lines):
    rng = np.random.default_rng(lines)
    held = []
    for _ in range(400):
        line = np.repeat(np.arange(lines), 9)
        built = rng.normal(0, 0.02, lines)[line]
        found = shared_level(line, 0.1 + built + rng.normal(0, 0.02, len(line)), np.full(len(line), 0.02))
        held.append(abs(found.shift - 0.1) < 1.96 * found.u)
    assert np.mean(held) > 0.90


def test_nothing_is_nothing_and_lengths_must_agree():
    found = shared_level([0], [np.nan], [0.02])
    assert np.isnan(found.shift)
    assert (found.lines, found.shots) == (0, 0)
    with pytest.raises(GeometryInputError, match="one row a shot"):
        shared_level([0, 1], [0.1], [0.02])
