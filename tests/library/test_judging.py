"""Verdicts on columns, against the normal and the noncentral chi-square distribution of another library, and counts."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

import geoqa
from geoqa.errors import JobError, LayerError, QuantityError

VALUES = pd.Series([0.0, 0.16, 0.09, None, -0.16], index=["a", "b", "b", "d", "e"])
LIMITS = {"lower": -0.1, "upper": 0.1, "u": 0.02}


def test_verdicts_probabilities_and_excess():
    found = geoqa.judge(VALUES, **LIMITS)
    assert found["verdict"].tolist() == ["IN", "OUT", "UNDECIDED", "NO_DATA", "OUT"]
    inside = norm.cdf(0.1, VALUES, 0.02) - norm.cdf(-0.1, VALUES, 0.02)
    np.testing.assert_allclose(found["p_conform"], inside, atol=1e-12)
    np.testing.assert_allclose(found["excess"], (VALUES.abs() - 0.1) / 0.02)


def test_probability_that_a_position_conforms_is_the_share_of_draws_that_do():
    rng = np.random.default_rng(7)
    distances = np.array([0.1, 0.27, 0.33])
    draws = distances[:, None] + rng.normal(0, 0.05, (3, 200_000)) + 1j * rng.normal(0, 0.05, (3, 200_000))
    found = geoqa.judge_radial(distances, limit="0.3 ft", u="0.05 ft", unit="ft")
    np.testing.assert_allclose(found["p_conform"], (np.abs(draws) <= 0.3).mean(axis=1), atol=0.005)
    assert geoqa.judge_radial([0.0, 0.27, 0.5, None], limit=0.3, u=0.02)["verdict"].tolist() == [
        "IN",
        "UNDECIDED",
        "OUT",
        "NO_DATA",
    ]


def test_the_index_is_kept_and_the_values_never_changed():
    before = VALUES.copy(deep=True)
    pd.testing.assert_index_equal(geoqa.judge(VALUES, **LIMITS).index, VALUES.index)
    pd.testing.assert_series_equal(VALUES, before)
    assert geoqa.judge(VALUES.to_numpy(), **LIMITS).index.equals(pd.RangeIndex(5))
    assert len(geoqa.judge(VALUES.iloc[:0], **LIMITS)) == len(geoqa.judge([], **LIMITS)) == 0
    assert geoqa.judge(0.16, **LIMITS)["verdict"].tolist() == ["OUT"]


def test_limits_may_be_lengths_columns_arrays_or_none():
    found = geoqa.judge(VALUES, **LIMITS)
    lengths = geoqa.judge(VALUES, lower="-0.1 ft", upper=geoqa.Length.parse("1.2 in"), u=0.02, unit="ft")
    pd.testing.assert_frame_equal(lengths, found)
    columns = {name: pd.Series(value, index=VALUES.index) for name, value in LIMITS.items()}
    pd.testing.assert_frame_equal(geoqa.judge(VALUES, **columns), found)
    pd.testing.assert_frame_equal(
        geoqa.judge(VALUES, **{name: column.to_list() for name, column in columns.items()}), found
    )
    low = geoqa.judge(VALUES, lower=-0.1, upper=None, u=0.02)
    assert low["verdict"].tolist() == ["IN", "IN", "IN", "NO_DATA", "OUT"]
    assert geoqa.judge(VALUES, lower=None, upper=None, u=0.02)["verdict"].eq("NO_DATA").all()
    assert geoqa.judge(VALUES, lower=-0.1, upper=0.1, u=None)["verdict"].eq("NO_DATA").all()


def test_whole_and_nullable_numbers_are_numbers():
    assert geoqa.judge(pd.Series([0, 3, None], dtype="Int64"), lower=-1, upper=1, u=0)["verdict"].tolist() == [
        "IN",
        "OUT",
        "NO_DATA",
    ]
    assert geoqa.judge([None, None], **LIMITS)["verdict"].tolist() == ["NO_DATA"] * 2


def test_rules():
    just = [0.105, 0.13, 0.06, 0.095]
    assert geoqa.judge(just, **LIMITS, rule="simple")["verdict"].tolist() == ["OUT", "OUT", "IN", "IN"]
    assert geoqa.judge(just, **LIMITS, rule="guard 1")["verdict"].tolist() == [
        "UNDECIDED",
        "UNDECIDED",
        "IN",
        "UNDECIDED",
    ]


@pytest.mark.long
@given(values=st.lists(st.floats(-1, 1), min_size=1, max_size=20), shift=st.floats(-10, 10), data=st.data())
def test_order_shift_and_side_do_not_matter(values, shift, data):
    given_values = pd.Series(values)
    found = geoqa.judge(given_values, **LIMITS)
    order = data.draw(st.permutations(range(len(values))))
    pd.testing.assert_frame_equal(geoqa.judge(given_values.iloc[order], **LIMITS), found.iloc[order])
    mirrored = geoqa.judge(-given_values, **LIMITS)
    pd.testing.assert_frame_equal(mirrored, found)
    moved = geoqa.judge(given_values + shift, lower=-0.1 + shift, upper=0.1 + shift, u=0.02)
    np.testing.assert_allclose(moved["p_conform"], found["p_conform"], atol=1e-9)


BAD = {
    "text": (pd.Series(["0.1", "0.2"]), LIMITS, LayerError, "values is of dtype str and not of numbers; .*to_numeric"),
    "objects": (pd.Series([0.1, "0.2"], dtype=object), LIMITS, LayerError, "values is of dtype object"),
    "truths": ([True, False], LIMITS, LayerError, "values is of dtype bool"),
    "a table": (
        pd.DataFrame({"offset": [1.0]}),
        LIMITS,
        LayerError,
        r"values is a table; give one of its columns \(off",
    ),
    "two dimensions": ([[0.1, 0.2]], LIMITS, LayerError, r"values have shape \(1, 2\); give one column"),
    "another index": (VALUES, LIMITS | {"u": pd.Series([0.1] * 5)}, LayerError, "u stands on another index"),
    "another number": (VALUES, LIMITS | {"upper": [0.1, 0.2]}, LayerError, "upper has 2 rows beside 5 values"),
    "a length without a unit": (VALUES, LIMITS | {"upper": "0.1 ft"}, QuantityError, r"upper is a length \(0.1 ft\)"),
    "no length": (VALUES, LIMITS | {"upper": "wide", "unit": "ft"}, QuantityError, "upper: 'wide' is not a length"),
    "limits the wrong way round": (VALUES, LIMITS | {"lower": 0.2}, JobError, "lower limit 0.2 stands above"),
    "a negative uncertainty": (VALUES, LIMITS | {"u": -0.1}, JobError, "uncertainty of -0.1 is negative"),
    "an unknown rule": (VALUES, LIMITS | {"rule": "strict"}, JobError, "'strict' is not a decision rule"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_one_sentence_that_says_what_next(case):
    values, options, error, words = BAD[case]
    with pytest.raises(error, match=words):
        geoqa.judge(values, **options)


def test_a_negative_distance_is_refused():
    with pytest.raises(JobError, match=r"distance of -1\.0 is negative"):
        geoqa.judge_radial([-1.0], limit=1.0, u=0.1)
    assert math.isinf(geoqa.judge_radial([2.0], limit=1.0, u=0.0)["excess"].iloc[0])
