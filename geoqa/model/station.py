"""Stations as people write them: ``12+50.25``, and ``12+50.25 R2`` for the second region between equations."""

import math
import re

_STATION = re.compile(r"^\s*([+-]?)(\d{1,7})\+(\d{2,3})(\.\d{0,12})?\s*(?:[Rr](\d{1,3}))?\s*$")
_PLAIN = re.compile(r"^\s*([+-]?\d{1,12}(?:\.\d{0,12})?)\s*(?:[Rr](\d{1,3}))?\s*$")

ALLOWED = "write 12+50.25, or 1250.25; where station equations make a number occur twice, 12+50.25 R2 for region 2"


def parse_station(text: str) -> tuple[float, int | None] | None:
    """Read a station; None where the text is none.

    The digits before the sign count hundreds where two stand behind it, thousands where three do.

    Returns
    -------
    (float, int or None)
        The station as written, and the region that is stated.

    Examples
    --------
    >>> parse_station("12+50.25"), parse_station("1+250.5 R2"), parse_station("-0+05"), parse_station("12+5")
    ((1250.25, None), (1250.5, 2), (-5.0, None), None)
    """
    if match := _STATION.match(text):
        sign, whole, rest, fraction, region = match.groups()
        value = int(whole) * 10 ** len(rest) + int(rest) + float(f"0{fraction or '.0'}0")
        return (-value if sign == "-" else value), int(region) if region else None
    if match := _PLAIN.match(text):
        value = float(match[1])
        return (value, int(match[2]) if match[2] else None) if math.isfinite(value) else None
    return None
