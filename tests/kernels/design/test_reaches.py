"""Gaps in the evidence along lines."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.reaches import gaps


def rows(found):
    return list(zip(found.line.tolist(), found.start.tolist(), found.end.tolist(), found.length.tolist(), strict=True))


def test_reaches_longer_than_the_spacing_are_found_at_the_ends_too():
    found = gaps([30.0, 60.0, 130.0], [0, 0, 0], [0.0], [200.0], spacing=40.0)
    assert rows(found) == [(0, 60.0, 130.0, 70.0), (0, 130.0, 200.0, 70.0)]


def test_a_reach_exactly_as_long_as_the_spacing_is_no_gap():
    assert rows(gaps([25.0, 50.0, 75.0], [0, 0, 0], [0.0], [100.0], spacing=25.0)) == []


def test_a_line_without_evidence_is_one_gap_however_short():
    assert rows(gaps([], [], [10.0, 0.0], [15.0, 90.0], spacing=25.0)) == [(0, 10.0, 15.0, 5.0), (1, 0.0, 90.0, 90.0)]


def test_missing_stations_unmatched_shots_and_shots_past_the_ends_are_no_evidence():
    found = gaps([np.nan, 5.0, -3.0, 20.5], [0, -1, 0, 0], [0.0], [20.0], spacing=100.0)
    assert rows(found) == [(0, 0.0, 20.0, 20.0)]


def test_every_line_may_have_its_own_spacing_and_an_unknown_one_judges_only_emptiness():
    found = gaps([50.0, 50.0, 50.0], [0, 1, 2], [0.0] * 4, [100.0] * 4, spacing=[49.0, 50.0, np.nan, np.nan])
    assert rows(found) == [(0, 0.0, 50.0, 50.0), (0, 50.0, 100.0, 50.0), (3, 0.0, 100.0, 100.0)]


def test_a_line_with_a_missing_end_is_not_judged():
    assert rows(gaps([5.0], [0], [0.0, np.nan], [np.nan, 9.0], spacing=1.0)) == []


def test_no_lines_have_no_gaps():
    assert rows(gaps([], [], [], [], spacing=1.0)) == []


lines_of_shots = st.lists(st.tuples(st.integers(0, 2), st.floats(0, 100)), max_size=30)


@given(lines_of_shots, st.floats(1, 120), st.randoms())
def test_gaps_are_those_of_walking_along_each_line(shots, spacing, random):
    expected = []
    for line in range(3):
        own = sorted(station for of, station in shots if of == line)
        stops = [0.0, *own, 100.0]
        expected += [(line, a, b, b - a) for a, b in itertools.pairwise(stops) if b - a > spacing + 1e-8 or not own]
    random.shuffle(shots)
    found = gaps([s for _, s in shots], [of for of, _ in shots], [0.0] * 3, [100.0] * 3, spacing=spacing)
    assert rows(found) == expected


@pytest.mark.parametrize(
    ("arguments", "spacing", "message"),
    [
        (([1.0], [0, 0], [0.0], [9.0]), 1.0, r"\(1,\) stations have \(2,\) line rows"),
        (([1.0], [0], [0.0], [9.0, 9.0]), 1.0, r"\(1,\) line starts have \(2,\) ends"),
        (([1.0], [1], [0.0], [9.0]), 1.0, "names line row 1, but there are 1 lines; rows count from 0"),
        (([1.0], [0], [0.0], [9.0]), 0.0, "must be a positive length"),
        (([1.0], [0], [0.0], [9.0]), [1.0, 2.0], "one for all lines or one for each"),
    ],
)
def test_arrays_that_do_not_fit_are_refused(arguments, spacing, message):
    with pytest.raises(GeometryInputError, match=message):
        gaps(*arguments, spacing=spacing)
