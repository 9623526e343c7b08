"""The scatter of neighbours: what one shot has for itself, whatever a session or a line shares."""

import time

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.precision.neighbours import neighbour_misfits, neighbour_scale, widely_scattered

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


def errors(kind, generator, shape):
    """Of unit variance: white, of Student's t with 3 degrees of freedom, or AR(1) of 0.95 along each line."""
    if kind == "t3":
        return generator.standard_t(3, size=shape) / np.sqrt(3.0)
    made = generator.normal(size=shape)
    if kind == "AR(1)":
        for nth in range(1, shape[1]):
            made[:, nth] = 0.95 * made[:, nth - 1] + np.sqrt(1 - 0.95**2) * made[:, nth]
    return made


def found_in(values):
    lines, shots = values.shape
    line, station = np.repeat(np.arange(lines), shots), np.tile(20.0 * np.arange(shots), lines)
    row, size = neighbour_misfits(line, station, values.ravel(), np.ones(line.size), 0 * line, reach=50)
    return widely_scattered(size, line[row]).tolist(), size, line[row]


@pytest.mark.parametrize("kind", ["white", "t3", "AR(1)"])
@pytest.mark.parametrize("times", [1.0, 3.0])
def test_hardly_a_line_of_honest_work_is_taken_by_itself(kind, times):
    """Of 300 jobs of one kind and size; with three lines of twelve shots, t3 and u stated a third, it is 1 in 100."""
    drawn = (np.random.default_rng([seed, len(kind)]) for seed in range(300))
    assert sum(bool(found_in(times * errors(kind, each, (12, 14)))[0]) for each in drawn) <= 1


@pytest.mark.parametrize("kind", ["white", "t3", "AR(1)"])
@pytest.mark.parametrize("seed", range(5))
def test_lines_that_spoil_the_scatter_of_all_are_named_and_it_is_as_without_them(kind, seed):
    generator = np.random.default_rng([seed, len(kind)])
    values = errors(kind, generator, (12, 20))
    values[[2, 5, 9]] += 12.0 * generator.normal(size=(3, 20))
    named, size, line = found_in(values)
    assert named == [2, 5, 9]
    sound = np.delete(values, named, axis=0)
    assert neighbour_scale(size[~np.isin(line, named)]).value == neighbour_scale(found_in(sound)[1]).value


def test_a_line_too_small_to_spoil_anything_a_slip_and_a_job_of_one_line_are_not_named():
    values = errors("white", np.random.default_rng(2), (40, 14))
    values[3] *= 12.0
    assert found_in(values)[0] == []
    slips = errors("white", np.random.default_rng(3), (4, 14))
    slips[:, 7] += 20.0
    assert found_in(slips)[0] == []
    assert found_in(12.0 * values[:1])[0] == []
    with pytest.raises(GeometryInputError, match="differ"):
        widely_scattered([1.0], [1, 2])


def test_thousands_of_lines_are_not_looked_through_one_by_one():
    """Ten thousand lines of a hundred misfits, as a season has them, in any order; three thousand scatter widely."""
    rng = np.random.default_rng(6)
    line = rng.permutation(np.repeat(np.arange(10_000), 100))
    size = rng.normal(size=len(line)) * np.where(line < 3000, 9.0, 1.0)
    begun = time.process_time()
    assert widely_scattered(size, line).tolist() == list(range(3000))
    assert time.process_time() - begun < 5.0
