"""Runs on columns: what a mean of neighbours proves, against the law of propagation worked out by hand."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import geoqa
from geoqa.errors import GeometryInputError, JobError, LayerError, QuantityError

LOW = pd.Series([0.0, 0.01, -0.12, -0.10, -0.13, -0.11, 0.0], index=list("abcdefa"))
OPTIONS = {"line": ["curb"] * 7, "station": np.arange(7) * 25.0, "lower": -0.08, "upper": 0.08, "unit": "ft"}


def test_a_run_of_four_proves_what_none_of_them_proves():
    single = geoqa.judge(LOW, lower=-0.08, upper=0.08, u=0.03)
    assert "OUT" not in single["verdict"].iloc[[3, 5]].tolist()
    found = geoqa.runs(LOW, **OPTIONS, u_random=0.03)
    (run,) = found.runs.to_dict("records")
    assert (run["line"], run["station"], run["station_end"], run["shots"], run["side"]) == ("curb", 50, 125, 4, -1)
    assert run["mean"] == pytest.approx(np.mean([-0.12, -0.10, -0.13, -0.11]))
    assert run["u_random"] == pytest.approx(0.03 / 2)
    assert run["verdict"] == "OUT"


def test_what_a_session_shares_does_not_fall_with_the_number_of_shots_but_with_that_of_sessions():
    one = geoqa.runs(LOW, **OPTIONS, u_random=0.02, u_common=0.04).runs.iloc[0]
    assert one["u_common"] == pytest.approx(0.04)
    assert one["verdict"] == "UNDECIDED"
    two = geoqa.runs(LOW, **OPTIONS, u_random=0.02, u_common=0.04, session=[1, 1, 1, 1, 2, 2, 2]).runs.iloc[0]
    assert two["u_common"] == pytest.approx(0.04 / np.sqrt(2))


def test_members_stand_on_the_index_of_the_values_and_their_weights_sum_to_one():
    found = geoqa.runs(LOW, **OPTIONS, u_random=[0.02, 0.02, 0.02, 0.04, 0.02, 0.02, 0.02])
    pd.testing.assert_index_equal(found.members.index, LOW.index)
    assert found.members["run"].isna().tolist() == [True, True, False, False, False, False, True]
    weight = np.array([4, 1, 4, 4]) / 13
    np.testing.assert_allclose(found.members["weight"].iloc[2:6], weight)
    assert found.runs["mean"].iloc[0] == pytest.approx(weight @ LOW.iloc[2:6])


def test_a_gap_or_another_line_ends_a_run_and_a_value_without_line_is_in_none():
    assert len(geoqa.runs(LOW, **OPTIONS, u_random=0.02, max_gap="7 m").runs) == 0
    apart = geoqa.runs(LOW, **OPTIONS | {"line": ["a", "a", "a", "a", "b", "b", "b"]}, u_random=0.02)
    assert len(apart.runs) == 0
    three = geoqa.runs(LOW, **OPTIONS | {"line": ["a", "a", "a", "a", "a", None, None]}, u_random=0.02)
    assert three.members["run"].notna().sum() == three.runs["shots"].iloc[0] == 3


def test_times_let_what_lasts_not_be_worn_down():
    seconds = pd.to_datetime("2026-03-14T14:00Z") + pd.to_timedelta(np.arange(7) * 30, unit="s")
    values = pd.Series([0.0, 0.001, -0.15, -0.151, -0.15, -0.149, 0.0], index=LOW.index)
    options = OPTIONS | {"u_random": 0.02}
    alone = geoqa.runs(values, **options).runs.iloc[0]
    lasting = geoqa.runs(values, **options, time=pd.Series(seconds, LOW.index)).runs.iloc[0]
    days = geoqa.runs(values, **options, time=pd.Series(seconds + pd.to_timedelta(np.arange(7), unit="D"), LOW.index))
    assert alone["u_random"] == pytest.approx(0.02 / 2, rel=0.02)
    # two of six differences are steps: half of ten and none of six last
    assert lasting["u_random"] == pytest.approx(0.02 * np.sqrt(11 / 16 / 4 + 5 / 16), rel=0.02)
    assert days.runs["u_random"].iloc[0] == pytest.approx(0.02 / 2, rel=0.02)
    assert alone["extreme"] == -0.151


def test_lengths_columns_and_missing_numbers():
    options = OPTIONS | {"lower": "-0.08 ft", "upper": "0.96 in", "station": pd.Series(OPTIONS["station"], LOW.index)}
    lengths = geoqa.runs(LOW, **options, u_random="0.02 ft")
    numbers = geoqa.runs(LOW, **OPTIONS, u_random=0.02)
    pd.testing.assert_frame_equal(lengths.runs, numbers.runs)
    assert len(geoqa.runs(LOW, **OPTIONS | {"lower": None}, u_random=0.02).runs) == 0
    assert len(geoqa.runs(LOW, **OPTIONS, u_random=None).runs) == 0
    nothing = geoqa.runs(LOW.iloc[:0], **OPTIONS | {"line": [], "station": []}, u_random=0.02)
    assert len(nothing.runs) == len(nothing.members) == 0
    assert {"mean", "verdict"} <= set(nothing.runs)


@pytest.mark.long
@settings(max_examples=25)
@given(order=st.permutations(range(7)), shift=st.floats(-1e4, 1e4))
def test_order_shift_and_direction_do_not_matter(order, shift):
    found = geoqa.runs(LOW, **OPTIONS, u_random=0.02)
    place = np.array(order)
    moved = OPTIONS | {"station": (OPTIONS["station"] + shift)[place]}
    other = geoqa.runs(LOW.iloc[order], **moved, u_random=0.02)
    pd.testing.assert_frame_equal(other.members, found.members.iloc[order])
    names = ["line", "shots", "side", "mean", "u_random", "verdict"]
    pd.testing.assert_frame_equal(other.runs[names], found.runs[names])
    mirrored = geoqa.runs(-LOW, **OPTIONS | {"station": -OPTIONS["station"]}, u_random=0.02)
    assert mirrored.runs["mean"].tolist() == pytest.approx((-found.runs["mean"]).tolist())
    assert mirrored.runs["side"].tolist() == [1]


BAD = {
    "another index": ({"station": pd.Series(np.arange(7.0))}, LayerError, "station stands on another index"),
    "another index of lines": ({"line": pd.Series(["a"] * 7)}, LayerError, "line has other rows than the values"),
    "too few lines": ({"line": ["a"]}, LayerError, "line has other rows than the values"),
    "another index of times": ({"time": pd.Series(pd.to_datetime(["2026-03-14"] * 7))}, LayerError, "time has other"),
    "times as text": ({"time": ["noon"] * 7}, LayerError, "time is of dtype"),
    "text": ({"station": ["a"] * 7}, LayerError, "station is of dtype"),
    "a bare gap": ({"max_gap": 50}, QuantityError, "max_gap is 50, a number without a unit"),
    "no gap": ({"max_gap": "0 ft"}, QuantityError, "max_gap is 0; give a positive length"),
    "an unknown unit": ({"unit": "feet"}, QuantityError, "No unit of length named 'feet'"),
    "no members": ({"shortest": 0}, GeometryInputError, "shortest 0"),
    "an unknown rule": ({"rule": "strict"}, JobError, "'strict' is not a decision rule"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_one_sentence_that_says_what_next(case):
    options, error, words = BAD[case]
    with pytest.raises(error, match=words):
        geoqa.runs(LOW, **OPTIONS | {"u_random": 0.02} | options)
