"""Quantities: both feet exact, no bare numbers."""

from fractions import Fraction

import pytest

from geoqa.errors import QuantityError
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT, Length, Slope, length_unit, unit_of_factor


def test_the_two_feet_differ_by_two_parts_in_a_million_exactly():
    """US survey foot 1200/3937 m: Mendenhall Order of 1893; international foot 0.3048 m: 24 FR 5348 (1959)."""
    assert US_SURVEY_FOOT.metres == Fraction(1200, 3937)
    assert FOOT.metres == Fraction(3048, 10000)
    assert FOOT.metres / US_SURVEY_FOOT.metres == Fraction(999998, 1000000)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("0.10 ft", Fraction(3048, 100000)),
        ("15 mm", Fraction(15, 1000)),
        ("1/4 in", Fraction(254, 40000)),
        ("1 1/2 in", Fraction(381, 10000)),
        ("-2 cm", Fraction(-2, 100)),
        ("1e-3 m", Fraction(1, 1000)),
        ("3937 ftUS", Fraction(1200)),
        (".5 ft", Fraction(1524, 10000)),
    ],
)
def test_a_length_is_read_exactly(text, metres):
    assert Length.parse(text).metres == metres


@pytest.mark.parametrize("text", ["0.10", "ft", "0.10 feet", "0,10 ft", "1/0 in", "nan ft", "0.1 ft 2", ""])
def test_what_is_not_a_length_is_refused(text):
    with pytest.raises(QuantityError, match=r"not a length|divides by zero"):
        Length.parse(text)


@pytest.mark.parametrize(
    ("text", "ratio"), [("1:48", Fraction(1, 48)), ("2 %", Fraction(1, 50)), ("8.33%", Fraction(833, 10000))]
)
def test_a_slope_keeps_its_ratio(text, ratio):
    assert Slope.parse(text).ratio == ratio


def test_a_slope_without_unit_is_refused():
    with pytest.raises(QuantityError, match="not a slope"):
        Slope.parse("0.02")


def test_the_factor_decides_the_foot_never_the_name():
    assert unit_of_factor(0.3048) is FOOT
    assert unit_of_factor(0.304800609601219) is US_SURVEY_FOOT
    assert unit_of_factor(1.0) is METRE
    with pytest.raises(QuantityError, match="international foot"):
        unit_of_factor(0.3047972654)


def test_an_unknown_unit_lists_the_known_ones():
    with pytest.raises(QuantityError, match="ftUS"):
        length_unit("feet")
