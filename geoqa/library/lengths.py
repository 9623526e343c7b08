"""Lengths as arguments: a text with its unit, or a number beside a stated unit, never a bare number."""

import math
from numbers import Real
from typing import Any

import numpy as np

from geoqa.errors import QuantityError
from geoqa.model.quantity import Length, LengthUnit, length_unit


def length_in(value: Any, unit: LengthUnit, *, name: str, given: str | None = None, numbers: bool = False) -> float:
    """Give a length in a unit.

    Parameters
    ----------
    value : str, Length or float
        ``"0.10 ft"``; a number only with `given`. None is no limit, and NaN comes back.
    unit : LengthUnit
        In which it is wanted.
    name : str
        Of the argument, for messages.
    given : str, optional
        Unit of numbers without one: m, ft, ftUS, in, cm, mm.
    numbers : bool
        Whether the call has an option for that unit, which a message may then name.

    Returns
    -------
    float

    Raises
    ------
    QuantityError
        A number without unit, or what is no length.

    Examples
    --------
    >>> from geoqa.model.quantity import FOOT
    >>> length_in("1/4 in", FOOT, name="left"), length_in(0.3048, FOOT, name="left", given="m")
    (0.020833333333333332, 1.0)
    >>> length_in(0.1, FOOT, name="left")
    Traceback (most recent call last):
    ...
    geoqa.errors.QuantityError: left is 0.1, a number without a unit; write it as text, for example "0.1 ft".
    """
    if value is None:
        return math.nan
    if isinstance(value, str):
        try:
            value = Length.parse(value)
        except QuantityError as error:
            raise QuantityError(f"{name}: {error}") from None
    if isinstance(value, Length):
        return value.to(unit)
    if not isinstance(value, Real) or isinstance(value, bool):
        words = repr(value) if np.ndim(value) == 0 else f"a {type(value).__name__}"
        raise QuantityError(f'{name} is {words}, which is no length; write it as text, for example "0.1 ft".')
    if given is None:
        raise QuantityError(
            f'{name} is {value!r}, a number without a unit; write it as text, for example "{value} {unit.name}"'
            + (", or state unit= (m, ft, ftUS, in, cm, mm)." if numbers else ".")
        )
    stated = length_unit(given)
    return float(value) if stated == unit else float(value) * float(stated.metres / unit.metres)


def distance_in(value: Any, unit: LengthUnit, *, name: str, given: str | None = None, numbers: bool = False) -> float:
    """Give a length that is not negative in a unit, as `length_in`.

    Examples
    --------
    >>> from geoqa.model.quantity import FOOT
    >>> distance_in("-0.1 ft", FOOT, name="left")
    Traceback (most recent call last):
    ...
    geoqa.errors.QuantityError: left is -0.1 ft; give a length of 0 or more, it counts outward.
    """
    length = length_in(value, unit, name=name, given=given, numbers=numbers)
    if length < 0 or math.isinf(length):
        raise QuantityError(f"{name} is {value}; give a length of 0 or more, it counts outward.")
    return length


def positive_length(value: str | Length, unit: LengthUnit, *, name: str, or_none: bool = False) -> Length:
    """Give a length that a step takes as it is, more than nothing unless `or_none`.

    Examples
    --------
    >>> from geoqa.model.quantity import FOOT
    >>> positive_length("0 ft", FOOT, name="scale")
    Traceback (most recent call last):
    ...
    geoqa.errors.QuantityError: scale is 0 ft; give a positive length, for example "0.5 ft".
    """
    if not distance_in(value, unit, name=name) > 0 and not or_none:
        raise QuantityError(f'{name} is {value}; give a positive length, for example "0.5 ft".')
    return value if isinstance(value, Length) else Length.parse(value)
