"""At which resolution a number is shown: what its uncertainty deserves, and never so coarse that it reads as its limit.

Lengths are shown to 0.01 ft (0.001 m); one digit more where 1 sigma is below 0.005 ft (0.0015 m), and where the shorter
number would stand on the other side of a limit than the number itself, or on it. Records (coordinates, elevations) and
uncertainties keep 0.001 ft (0.0001 m).
"""

import math
from collections.abc import Iterable
from functools import lru_cache

_FULL = {"ft": 3, "m": 4}
FINE = {"ft": 5, "m": 15}
"""1 sigma, in last digits of a length in full, below which a length is shown in full."""


def full_digits(unit: str) -> int:
    """Decimals of a length in full: of records, and of uncertainties.

    Examples
    --------
    >>> full_digits("ftUS"), full_digits("m")
    (3, 4)
    """
    return _FULL["ft" if unit.startswith("ft") else "m"]


def deserved(value: float, unit: str, *, u: float = math.nan, bounds: Iterable[float] = ()) -> tuple[float, int]:
    """A length as it is shown, and its decimals.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        Name of a linear unit.
    u : float
        1 sigma of it; NaN where none is known, and 0 of a number without a shot: no measurement has that.
    bounds : iterable of float
        Limits it is held against; the infinite and the missing ones say nothing.

    Returns
    -------
    (float, int)
        The number in full is rounded once more, half to even, as one would on paper.

    Examples
    --------
    >>> deserved(-0.1534, "ft", u=0.02), deserved(-0.1534, "ft", u=0.004)
    ((-0.15, 2), (-0.153, 3))
    >>> deserved(0.0831, "ft", u=0.02, bounds=(-0.08, 0.08)), deserved(0.0869, "ft", u=0.02, bounds=(-0.08, 0.08))
    ((0.083, 3), (0.09, 2))
    >>> deserved(299.9994, "ft", u=0.0)
    (300.0, 2)
    >>> deserved(0.02083, "ft"), deserved(-0.0004, "ft"), deserved(0.04567, "m", u=0.01)
    ((0.02, 2), (0.0, 2), (0.046, 3))
    """
    digits = full_digits(unit)
    if not math.isfinite(value):
        return value, digits - 1
    last = _last_digits(value, digits)
    short = _shorter(last)
    fine = not math.isnan(u) and 0 < _last_digits(u, digits) < FINE["ft" if unit.startswith("ft") else "m"]
    held = [_last_digits(bound, digits) for bound in bounds if math.isfinite(bound)]
    if fine or any(_side(short, bound) != _side(last, bound) for bound in held):
        return last / 10**digits, digits
    return short / 10**digits, digits - 1


def limit_digits(value: float, unit: str) -> int:
    """Decimals of a limit: the shorter, unless that would state another limit.

    Examples
    --------
    >>> limit_digits(0.08, "ft"), limit_digits(0.0208, "ft"), limit_digits(30.0, "ftUS")
    (2, 3, 2)
    """
    digits = full_digits(unit)
    return digits - 1 if not math.isfinite(value) or _last_digits(value, digits) % 10 == 0 else digits


@lru_cache(maxsize=4096)  # limits and u are the same for many numbers
def _last_digits(value: float, digits: int) -> int:
    return round(round(value, digits) * 10**digits)


def _shorter(last: int) -> int:
    """Without its last digit: half to even, on whole numbers."""
    tens, rest = divmod(abs(last), 10)
    up = rest > 5 or (rest == 5 and tens % 2 == 1)
    return (1 if last >= 0 else -1) * 10 * (tens + up)


def _side(value: int, bound: int) -> int:
    return (value > bound) - (value < bound)


def slope_digits(value: float, *, u: float = math.nan, bounds: Iterable[float] = ()) -> int:
    """Decimals of a slope in per cent: as many as its u deserves, and enough to tell it from its limits.

    Parameters
    ----------
    value : float
        Rise over run.
    u : float
        1 sigma of it; NaN is not known, and gives all three.
    bounds : iterable of float

    Examples
    --------
    >>> slope_digits(0.0384, u=0.0028), slope_digits(0.0031, u=0.00009), slope_digits(0.0384)
    (1, 3, 3)
    >>> slope_digits(0.02079, u=0.0028, bounds=(-1 / 48, 1 / 48))
    3
    """
    if not (math.isfinite(value) and math.isfinite(u) and u > 0):
        return _SLOPE
    digits = min(max(math.ceil(-math.log10(100 * u)), 1), _SLOPE)
    told = [bound for bound in bounds if math.isfinite(bound) and bound != value]
    while digits < _SLOPE and any(round(100 * value, digits) == round(100 * bound, digits) for bound in told):
        digits += 1
    return digits


_SLOPE = 3
"""Decimals of a slope in full, per cent."""
