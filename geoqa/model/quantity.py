"""Lengths and slopes that carry their unit, and the feet, kept apart.

A quantity stays text plus an exact number until somebody asks for it in a unit,
so nothing is rounded and no foot is taken for the other on the way.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, ClassVar, Self

from pydantic_core import PydanticCustomError, core_schema

from geoqa.errors import QuantityError


@dataclass(frozen=True)
class LengthUnit:
    """A unit of length: name, exact length in metres, and where that is laid down."""

    name: str
    metres: Fraction
    reference: str

    @property
    def metres_float(self) -> float:
        """Length in metres as a float."""
        return float(self.metres)

    @property
    def metres_exact(self) -> str:
        """Length in metres, as it is laid down.

        Examples
        --------
        >>> FOOT.metres_exact, US_SURVEY_FOOT.metres_exact
        ('0.3048', '1200/3937')
        """
        decimal = repr(self.metres_float)
        return decimal if Fraction(decimal) == self.metres else f"{self.metres.numerator}/{self.metres.denominator}"

    @property
    def full_name(self) -> str:
        """Words for a title block."""
        return {"ft": "international foot", "ftUS": "US survey foot", "m": "metre"}.get(self.name, self.name)


METRE = LengthUnit("m", Fraction(1), "SI Brochure")
FOOT = LengthUnit("ft", Fraction(3048, 10000), "24 FR 5348 (1 July 1959)")
US_SURVEY_FOOT = LengthUnit("ftUS", Fraction(1200, 3937), "Mendenhall Order (1893); 85 FR 62698 ends its new use")
INCH = LengthUnit("in", Fraction(254, 10000), "24 FR 5348 (1 July 1959)")
CENTIMETRE = LengthUnit("cm", Fraction(1, 100), "SI Brochure")
MILLIMETRE = LengthUnit("mm", Fraction(1, 1000), "SI Brochure")

UNITS = {unit.name: unit for unit in (METRE, FOOT, US_SURVEY_FOOT, INCH, CENTIMETRE, MILLIMETRE)}
FRAME_UNITS = (FOOT, US_SURVEY_FOOT, METRE)


def length_unit(name: str) -> LengthUnit:
    """Look a unit up by the exact name geoqa uses.

    Examples
    --------
    >>> length_unit("ftUS").metres
    Fraction(1200, 3937)
    """
    try:
        return UNITS[name]
    except KeyError:
        raise QuantityError(f"No unit of length named '{name}'; use one of {', '.join(UNITS)}.") from None


def unit_of_factor(factor: float) -> LengthUnit:
    """Name the unit whose length in metres is `factor`, to a part in 10 million.

    The two feet differ by two parts in a million, so a name is never trusted: the factor decides.

    Examples
    --------
    >>> unit_of_factor(0.3048).name, unit_of_factor(0.304800609601219).name
    ('ft', 'ftUS')
    """
    for unit in FRAME_UNITS:
        if abs(factor / float(unit.metres) - 1.0) < 1e-7:
            return unit
    raise QuantityError(
        f"A coordinate system with a unit of {factor!r} m cannot be used; "
        "allowed are the international foot, the US survey foot and the metre."
    )


_DIGITS = r"\d{1,30}"  # and exponents of two digits: a longer number is a slip, and exact powers of it never end
_SCALED = rf"{_DIGITS}\.?\d{{0,30}}(?:[eE][+-]?\d{{1,2}})?"
_NUMBER = rf"[+-]?(?:{_DIGITS}\s+{_DIGITS}/{_DIGITS}|{_DIGITS}/{_DIGITS}|{_SCALED}|\.{_DIGITS})"
_LENGTH = re.compile(rf"^\s*({_NUMBER})\s*([A-Za-z]+)\s*$")
_PLAIN = rf"{_DIGITS}\.?\d{{0,30}}"
_RATIO = re.compile(rf"^\s*([+-]?{_PLAIN})\s*:\s*({_PLAIN})\s*$")
_TIME = re.compile(rf"^\s*({_PLAIN})\s*(s|min|h)\s*$")
_PERCENT = re.compile(rf"^\s*([+-]?{_PLAIN})\s*%\s*$")


def _number(text: str) -> Fraction:
    sign = -1 if text.strip().startswith("-") else 1
    parts = text.strip().lstrip("+-").split()
    return sign * sum((Fraction(part) for part in parts), Fraction(0))


_UNREAD = Fraction(0, 1)
"""Stands where a quantity was made of its text alone, which is not read by that."""


class _Quantity:
    """Text as written, plus its exact value; compares and hashes by value."""

    example: ClassVar[str]

    def _refuse_unread(self, text: str, value: Fraction) -> None:
        """Say how a quantity is made of text; called with the text alone, it has no value."""
        if value is _UNREAD:
            name = type(self).__name__
            raise QuantityError(
                f"{name} takes its text and its value; to read text, write geoqa.{name}.parse({text!r})."
            )

    @classmethod
    def parse(cls, text: str) -> Self:
        raise NotImplementedError

    @classmethod
    def validate(cls, value: Any) -> Self:
        """Take what a job file holds; a number without a unit is refused."""
        if isinstance(value, cls):
            return value
        if not isinstance(value, str):
            raise PydanticCustomError(
                "quantity",
                "{value} has no unit; write it as text with its unit, for example {example}",
                {"value": repr(value), "example": cls.example},
            )
        try:
            return cls.parse(value)
        except QuantityError as error:
            raise PydanticCustomError("quantity", "{error}", {"error": str(error)}) from None

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(
            cls.validate,
            serialization=core_schema.plain_serializer_function_ser_schema(str),
            json_schema_input_schema=core_schema.str_schema(),
        )


@dataclass(frozen=True)
class Length(_Quantity):
    """A length with its unit, as a job file writes it.

    Examples
    --------
    >>> import geoqa
    >>> from geoqa.model.quantity import FOOT, METRE
    >>> geoqa.Length.parse("1/4 in").to(FOOT)
    0.020833333333333332
    >>> geoqa.Length.parse("15 mm").to(METRE)
    0.015
    >>> geoqa.Length.parse("0.10")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    geoqa.errors.QuantityError: '0.10' is not a length; write a number and a unit (m, ft, ...
    """

    text: str
    metres: Fraction = _UNREAD
    example: ClassVar[str] = '"0.10 ft"'

    def __post_init__(self) -> None:
        self._refuse_unread(self.text, self.metres)

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read a length from text such as ``0.10 ft``, ``15 mm`` or ``1/4 in``."""
        match = _LENGTH.match(text)
        if match is None or match[2] not in UNITS:
            raise QuantityError(
                f"'{text}' is not a length; write a number and a unit ({', '.join(UNITS)}), for example {cls.example}"
            )
        try:
            return cls(text.strip(), _number(match[1]) * UNITS[match[2]].metres)
        except ZeroDivisionError:
            raise QuantityError(f"'{text}' divides by zero") from None

    def to(self, unit: LengthUnit) -> float:
        """Give the length in `unit`."""
        return float(self.metres / unit.metres)

    def __str__(self) -> str:
        return self.text

    def __neg__(self) -> "Length":
        return Length(f"-{self.text}", -self.metres)


@dataclass(frozen=True)
class Slope(_Quantity):
    """Rise over run, as a job file writes it.

    Examples
    --------
    >>> import geoqa
    >>> geoqa.Slope.parse("1:48").ratio
    Fraction(1, 48)
    >>> float(geoqa.Slope.parse("2 %"))
    0.02
    """

    text: str
    ratio: Fraction = _UNREAD
    example: ClassVar[str] = '"1:48" or "2 %"'

    def __post_init__(self) -> None:
        self._refuse_unread(self.text, self.ratio)

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read a slope from text such as ``1:48`` or ``2 %``."""
        if match := _RATIO.match(text):
            if Fraction(match[2]) == 0:
                raise QuantityError(f"'{text}' divides by zero")
            return cls(text.strip(), Fraction(match[1]) / Fraction(match[2]))
        if match := _PERCENT.match(text):
            return cls(text.strip(), Fraction(match[1]) / 100)
        raise QuantityError(f"'{text}' is not a slope; write it as {cls.example}")

    def __float__(self) -> float:
        return float(self.ratio)

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True)
class Duration(_Quantity):
    """A length of time with its unit, as a job file writes it.

    Examples
    --------
    >>> float(Duration.parse("1.5 min"))
    90.0
    """

    text: str
    seconds: Fraction
    example: ClassVar[str] = '"30 min"'

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read a time from text such as ``90 s``, ``30 min`` or ``4 h``."""
        match = _TIME.match(text)
        if match is None:
            raise QuantityError(f"'{text}' is not a time; write a number and s, min or h, for example {cls.example}")
        return cls(text.strip(), Fraction(match[1]) * {"s": 1, "min": 60, "h": 3600}[match[2]])

    def __float__(self) -> float:
        return float(self.seconds)

    def __str__(self) -> str:
        return self.text
