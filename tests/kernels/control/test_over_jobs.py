"""Columns that values need: what is planted is found, and nothing is proven more often than is said."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.control.over_jobs import asked_in_turn


def sessions(seed, *, days=12, marks=5, noise=0.01, heavy=False):
    """Values of every mark on every day, each day with an error of its own; and the questions when which mark moved."""
    draw = np.random.default_rng(seed)
    day, mark = np.repeat(np.arange(days), marks), np.tile(np.arange(marks), days)
    own = draw.standard_t(4, size=len(day)) / np.sqrt(2) if heavy else draw.normal(size=len(day))
    values = own * noise + 0.05 * draw.normal(size=days)[day]
    asked = [(each, cut) for each in range(marks) for cut in range(2, days - 1)]
    columns = np.column_stack([(mark == each) & (day >= cut) for each, cut in asked]).astype(float)
    rows = [np.flatnonzero(mark == each) for each, _ in asked]
    return values, day, np.eye(marks)[mark], columns, rows, asked


def test_a_step_is_least_squares():
    values, day, beside, columns, rows, asked = sessions(1)
    place = asked.index((2, 6))
    values = values + 0.05 * columns[:, place]
    found = asked_in_turn(values, day, beside, columns, rows=rows)
    assert [asked[each][0] for each in found.order] == [2]
    best = found.order[0]
    whole = np.column_stack([columns[:, best], beside, np.eye(12)[day]])
    fitted, *_ = np.linalg.lstsq(whole, values, rcond=None)
    assert found.size[best] == pytest.approx(fitted[0])
    left = values - whole @ fitted
    assert found.left == pytest.approx(left, abs=1e-9)
    assert found.spread == pytest.approx(np.sqrt((left**2).sum() / (60 - 12 - 4 - 1)))


def test_two_that_moved_are_both_found_and_not_a_third():
    values, day, beside, columns, rows, asked = sessions(4)
    values = values + 0.06 * columns[:, asked.index((0, 5))] - 0.05 * columns[:, asked.index((3, 8))]
    found = asked_in_turn(values, day, beside, columns, rows=rows)
    assert sorted(asked[each] for each in found.order) == [(0, 5), (3, 8)]
    assert found.size[list(found.order)] == pytest.approx([0.06, -0.05], abs=0.02)


@pytest.mark.long
@pytest.mark.parametrize("heavy", [False, True])
def test_where_there_is_nothing_little_is_proven(heavy):
    """At most 5 % of batches, and no more than 7 where errors have heavy tails: 400 draws know it to about 1 %."""
    proven = sum(
        bool(asked_in_turn(*made[:4], rows=made[4]).order)
        for made in (sessions(seed, days=8, marks=4, heavy=heavy) for seed in range(400))
    )
    assert proven / 400 <= (0.07 if heavy else 0.055)


def test_a_mark_that_spreads_more_than_the_others_is_held_by_its_own_spread():
    wrong = 0
    for seed in range(30):
        values, day, beside, columns, rows, _ = sessions(seed, days=8)
        values = values + np.random.default_rng(seed + 900).normal(size=len(values)) * 0.05 * beside[:, 1]
        wrong += bool(asked_in_turn(values, day, beside, columns, rows=rows).order)
    assert wrong <= 3


def test_what_cannot_be_told_is_no_number():
    values, day, beside, columns, rows, _ = sessions(1, days=4, marks=1)
    found = asked_in_turn(values, day, beside, columns, rows=rows)
    assert found.order == ()
    assert np.isnan(found.t).all()


def test_shapes_and_missing_values_are_refused():
    with pytest.raises(GeometryInputError, match="one row a value"):
        asked_in_turn([1.0], [0, 1], np.zeros((2, 0)), np.zeros((2, 1)), rows=[[0]])
    with pytest.raises(GeometryInputError, match="missing"):
        asked_in_turn([np.nan, 1.0], [0, 1], np.zeros((2, 0)), np.zeros((2, 1)), rows=[[0]])
