"""How many digits a length deserves, and that it never reads as its limit."""

import random

import pytest

from geoqa.contract.work import ELEVATION, OFFSET
from geoqa.model import words
from geoqa.model.shown import deserved, limit_digits


@pytest.mark.parametrize(("u", "unit", "digits"), [
    (0.02, "ft", 2), (0.005, "ftUS", 2), (0.0049, "ft", 2), (0.0044, "ft", 3), (float("nan"), "ft", 2),
    (0.0, "ft", 2), (0.0, "m", 3), (0.0006, "ft", 3), (0.006, "m", 3), (0.0015, "m", 3), (0.0014, "m", 4),
])  # fmt: skip
def test_the_decimals_follow_the_uncertainty(u, unit, digits):
    assert deserved(0.15, unit, u=u)[1] == digits


def test_a_number_is_never_shown_on_another_side_of_its_limit_than_it_is_on():
    draw = random.Random(5)
    for _ in range(3000):
        limit = draw.choice([0.08, 0.1, 0.021, 0.0625, 0.003])
        value = draw.choice([draw.uniform(-0.2, 0.2), limit + draw.uniform(-0.012, 0.012)])
        shown, _ = deserved(value, "ft", u=draw.choice([0.003, 0.02]), bounds=(-limit, limit))
        for bound in (-limit, limit):
            printed = round(bound, limit_digits(bound, "ft"))
            if abs(value - bound) > 0.001:
                assert (shown > printed) == (value > bound)
                assert shown != printed
        assert abs(shown - value) <= 0.0056


def test_no_length_is_printed_as_minus_nothing():
    for value in (-0.0, -0.0004, -0.004):
        assert "-" not in words.deviation(value, OFFSET, "length", "ft", u=0.02)
        assert str(deserved(value, "ft", u=0.02)[0]) == "0.0"


def test_limits_keep_a_quarter_of_an_inch_and_the_unit_stands_once():
    assert words.limits(-0.0208, 0.0208, OFFSET, "length", "ftUS") == "0.021 ftUS left or right"
    assert words.limits(-0.05, 0.0208, ELEVATION, "length", "ftUS") == "0.05 ftUS low to 0.021 high"
    assert words.limits(-0.05, 0.08, ELEVATION, "length", "m", bare=True) == "0.050 low to 0.080 high"
