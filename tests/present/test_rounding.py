"""A number on the page has the digits that the words module prints."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoqa.model import words
from geoqa.present.map.rounding import QUANTITIES, digits_of, whole, whole_quantities

NUMBERS = st.floats(-1e7, 1e7, allow_nan=False)
HALVES = st.integers(-20_000_000, 20_000_000).map(lambda n: n / 2000)


@given(st.one_of(NUMBERS, HALVES), st.sampled_from([0, 1, 2, 3, 4]))
def test_rounding_is_that_of_the_printed_number(value, digits):
    printed = words.number(value, digits)
    assert whole([value], digits)[0] == int(printed.replace(".", ""))


@given(st.one_of(NUMBERS, HALVES), st.sampled_from(QUANTITIES), st.sampled_from(["ft", "m"]))
def test_a_judged_number_keeps_the_digits_of_its_quantity(value, quantity, unit):
    found = whole_quantities([value], [QUANTITIES.index(quantity)], unit)[0]
    printed = words.quantity(value, quantity, unit).split(" ")[0].rstrip("°")
    assert found == int(printed.replace(".", ""))
    assert len(printed.partition(".")[2]) == digits_of(unit)[quantity]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_a_number_stays_so(value):
    np.testing.assert_equal(whole([value], 3), [value])
