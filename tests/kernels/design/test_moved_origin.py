"""One shift that brings shots onto a design is found; where several do, or none, none is."""

import numpy as np
import pytest

from bench.extent import extent
from geoqa.kernels.design.moved_origin import moved_origin, on_design

BEND = np.array([[0.0, 0, 300, 20], [300, 20, 420, 260], [420, 260, 300, 420]])
ASKED = {"cell": 4.0, "near": 1.0}


def along(pieces, count, seed=1, noise=0.05):
    rng = np.random.default_rng(seed)
    row, share = np.arange(count) % len(pieces), rng.uniform(size=(count, 1))
    return pieces[row, :2] + share * (pieces[row, 2:] - pieces[row, :2]) + rng.normal(0, noise, (count, 2))


def zeros(count):
    return np.zeros(count, dtype=int)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("shift", [(-1_234.5, 678.25), (-2_000_000.25, 3.0), (40.0, -11.0)])
def test_a_shift_is_found_within_its_uncertainty(seed, shift):
    found = moved_origin(along(BEND, 45, seed) - shift, zeros(45), BEND, zeros(3), **ASKED)
    assert found.answer == "found"
    assert found.on == found.of == 45
    assert np.hypot(*np.subtract(found.shift, shift)) < 5 * found.u < 0.2


def test_whole_thousands_are_told_exactly():
    found = moved_origin(along(BEND, 45) - [-2_000_000.0, 0.0], zeros(45), BEND, zeros(3), **ASKED)
    assert (found.answer, found.shift, found.u) == ("round", (-2_000_000.0, 0.0), 0.0)


def test_a_layout_that_repeats_itself_has_several():
    pieces = np.concatenate([BEND, BEND - [900.0, 0, 900, 0]])
    assert moved_origin(along(BEND, 45) - [77.0, 5.0], zeros(45), pieces, zeros(6), **ASKED).answer == "several"


def test_another_shape_and_another_kind_have_none():
    turned = BEND[:, [1, 0, 3, 2]] * [1.0, -1, 1, -1]
    assert moved_origin(along(BEND, 45), zeros(45), turned, zeros(3), **ASKED).answer == "none"


def test_points_hold_a_shift_along_a_straight_line_where_enough_of_them_speak():
    line = np.array([[0.0, 0, 500, 0]])
    wells = np.array([[each, 12.0, each, 12.0] for each in (13.0, 77, 190, 263, 391, 420, 488, 31, 222, 345)])
    pieces, kinds = np.concatenate([line, wells]), np.r_[0, np.ones(10, int)]
    at = np.concatenate([along(line, 15), wells[:, :2]]) - [300.0, 40.0]
    found = moved_origin(at, np.r_[zeros(15), np.ones(10, int)], pieces, kinds, **ASKED)
    assert found.answer == "found"
    assert found.shift == pytest.approx((300.0, 40.0), abs=0.05)
    assert moved_origin(at[:15], zeros(15), line, zeros(1), **ASKED).answer == "several"


def test_a_drawn_thing_far_from_the_rest_and_a_kind_without_design_do_no_harm():
    stray = np.concatenate([BEND, [[-9e6, 0.0, -9e6, 1.0]]])
    found = moved_origin(along(BEND, 45) - [700.0, 0.0], zeros(45), stray, zeros(4), **ASKED)
    assert found.shift == pytest.approx((700.0, 0.0), abs=0.1)
    wild = np.concatenate([along(BEND, 45), [[3e6, -2e6], [50.0, 50.0]]]) - [700.0, 0.0]
    found = moved_origin(wild, np.r_[zeros(46), 3], stray, zeros(4), **ASKED)
    assert found.shift == pytest.approx((700.0, 0.0), abs=0.1)
    assert found.of == 45
    assert moved_origin(wild[:8], zeros(8) + 2, BEND, zeros(3), **ASKED).answer == "none"
    assert on_design([[0.0, 0.0]], [7], BEND, zeros(3), near=1.0).tolist() == [False]


@pytest.mark.score
def test_no_wrong_shift_is_found_over_many_streets():
    """Streets with lines alike, a few shots off: what is found is right, and what is straight is left alone."""
    wrong, found, streets = 0, 0, extent(100, of_a_change=50)
    for seed in range(streets):
        rng = np.random.default_rng(seed)
        bend, count = rng.choice([0.0, 0.02, 0.15, 0.5]), int(rng.integers(12, 150))
        east = np.linspace(0.0, rng.uniform(300, 2_000), 40)
        north = bend * 200 * np.sin(east / rng.uniform(100, 400))
        lines = [np.column_stack([east, north + off]) for off in (0.0, 0.5, 6.0, 30.0)]
        pieces = np.concatenate([np.hstack([each[:-1], each[1:]]) for each in lines])
        kinds = np.repeat([0, 1, 2, 0], 39)
        row, share = rng.integers(0, len(pieces), count), rng.uniform(size=(count, 1))
        at = pieces[row, :2] + share * (pieces[row, 2:] - pieces[row, :2]) + rng.normal(0, 0.06, (count, 2))
        at[rng.uniform(size=count) < 0.1] += rng.normal(0, 3.0, 2)
        shift = rng.uniform(-3_000, 3_000, 2)
        answer = moved_origin(at - shift, kinds[row], pieces, kinds, cell=4.0, near=1.0)
        if answer.answer in ("found", "round"):
            found += 1
            wrong += np.hypot(*np.subtract(answer.shift, shift)) > max(5 * answer.u, 0.1)
    assert wrong == 0
    assert found > streets // 5
