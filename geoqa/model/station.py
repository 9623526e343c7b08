"""Stations as people write them: ``12+50.25``, and ``12+50.25 (after equation 1)`` beyond a station equation."""

import math
import re

_PASSED = r"\s*(?:\(?\s*(after|before)\s+equation\s+(\d{1,3})\s*\)?)?\s*$"
_STATION = re.compile(r"^\s*([+-]?)(\d{1,7})\+(\d{2,3})(\.\d{0,12})?" + _PASSED, re.IGNORECASE)
_PLAIN = re.compile(r"^\s*([+-]?\d{1,12}(?:\.\d{0,12})?)" + _PASSED, re.IGNORECASE)

ALLOWED = (
    "write 12+50.25, or 1250.25; where station equations make a number occur twice, "
    "12+50.25 (after equation 1), or 12+50.25 (before equation 1)"
)


CONTINUOUS = -1
"""In place of the equations passed: the station is a distance along the line, whatever its equations."""


def after_equation(passed: int) -> str:
    """What stands behind a station on a line with station equations.

    Examples
    --------
    >>> after_equation(0), after_equation(2)
    (' (before equation 1)', ' (after equation 2)')
    """
    return f" (after equation {passed})" if passed else " (before equation 1)"


def parse_station(text: str) -> tuple[float, int | None] | None:
    """Read a station; None where the text is none.

    The digits before the sign count hundreds where two stand behind it, thousands where three do.

    Returns
    -------
    (float, int or None)
        The station as written, and how many equations it is said to lie after.

    Examples
    --------
    >>> parse_station("12+50.25"), parse_station("-0+05"), parse_station("12+5")
    ((1250.25, None), (-5.0, None), None)
    >>> parse_station("1+250.5 (after equation 2)"), parse_station("12+50 before equation 1")
    ((1250.5, 2), (1250.0, 0))
    """
    if match := _STATION.match(text):
        sign, whole, rest, fraction, side, number = match.groups()
        value = int(whole) * 10 ** len(rest) + int(rest) + float(f"0{fraction or '.0'}0")
        return (-value if sign == "-" else value), _passed(side, number)
    if match := _PLAIN.match(text):
        value = float(match[1])
        return (value, _passed(match[2], match[3])) if math.isfinite(value) else None
    return None


def _passed(side: str | None, number: str | None) -> int | None:
    if not side or not number:
        return None
    return int(number) if side.lower() == "after" else max(int(number) - 1, 0)
