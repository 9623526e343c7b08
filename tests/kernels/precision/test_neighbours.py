"""The scatter of neighbours: what one shot has for itself, whatever a session or a line shares."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.precision.neighbours import neighbour_misfits, neighbour_scale

RNG = np.random.default_rng(11)


def scale(value, u=0.01, *, lines=10, group=None, reach=50.0):
    count = len(value)
    line, station = np.arange(count) % lines, 20.0 * (np.arange(count) // lines)
    group = np.zeros(count, int) if group is None else group
    return neighbour_misfits(line, station, value, np.full(count, u), group, reach=reach)


@pytest.mark.parametrize("times", [0.5, 1.0, 3.0])
def test_the_scatter_is_found_within_its_band(times):
    found = neighbour_scale(scale(times * 0.01 * RNG.normal(size=800))[1])
    assert found.low < times < found.high
    assert found.value == pytest.approx(times, rel=0.15)


def test_what_a_line_shares_and_its_slope_fall_out():
    line = np.arange(200) % 10
    _, size = scale(0.3 * line + 0.001 * (np.arange(200) // 10))
    assert size == pytest.approx(0, abs=1e-9)


def test_a_few_strays_say_nothing():
    value = 0.01 * RNG.normal(size=1000)
    plain = neighbour_scale(scale(value)[1]).value
    value[::50] += 2.0
    # 6 of 100 misfits are spoiled: the share of 0.85 is read at 0.90 of the others, 1.66 in place of 1.44
    assert neighbour_scale(scale(value)[1]).value < 1.2 * plain


def test_unequal_distances_are_weighed_and_the_misfit_is_of_unit_variance():
    row, size = neighbour_misfits([0, 0, 0], [0.0, 10.0, 40.0], [0.0, 0.0, 0.4], [0.1, 0.2, 0.3], [0, 0, 0], reach=50)
    assert row.tolist() == [1]
    assert size == pytest.approx([-0.1 / np.sqrt(0.2**2 + (0.75 * 0.1) ** 2 + (0.25 * 0.3) ** 2)])


@pytest.mark.parametrize(
    "change",
    [
        {"line": [0, 0, 1]},
        {"line": [-1, -1, -1]},
        {"group": [0, 0, 1]},
        {"value": [0.0, np.nan, 0.0]},
        {"station": [0.0, 10.0, 90.0]},
    ],
)
def test_only_near_neighbours_of_one_line_and_one_group_are_compared(change):
    given = {"line": [0, 0, 0], "station": [0.0, 10.0, 20.0], "value": [0.0] * 3, "u": [0.1] * 3, "group": [0] * 3}
    assert len(neighbour_misfits(**given, reach=50)[0]) == 1
    assert len(neighbour_misfits(**given | change, reach=50)[0]) == 0


def test_nothing_to_compare_is_unknown_and_arrays_must_fit():
    assert np.isnan(neighbour_scale([]).value)
    with pytest.raises(GeometryInputError, match="differ"):
        neighbour_misfits([0, 0], [0.0], [0.0], [0.1], [0], reach=50)
