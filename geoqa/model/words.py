"""The words people read: titles, reasons, cautions, and numbers rounded once, for print."""

import math
from collections.abc import Sequence

from geoqa.model.check import Check

BURIED_KINDS = frozenset({"invert", "pipe", "water-top", "storm-top", "sewer-top", "valve"})
"""Kinds that lie under ground: wherever one shows, `BURIED` shows too."""

LIMITS_OF_WORK = "limits-of-work"
"""Kind of closed lines, or polygons, that bound the work: no design itself."""

RULES = {
    "guarded": "in or out only where that is at least 95 % sure; otherwise undecided",
    "simple": "compared as measured; the uncertainty is printed, not counted",
    "guard": "the limits are drawn in by this multiple of the expanded uncertainty",
}
"""Decision rules in words, by their first word."""

MISSING = "–"
"""A number that is not there."""

PRELIMINARY = "PRELIMINARY – not reviewed by a licensee"
BURIED = "Not for excavation. Call 811 / the one-call centre before you dig."
CERTIFICATION = (
    "This is a computation, not a certification. "
    "Local codes and the licensed professional in responsible charge decide."
)


def decimals(quantity: str, unit: str) -> int:
    """Decimals printed for a quantity: 0.001 ft or m for lengths, 0.001 % … of a ratio."""
    return {"length": 3 if unit.startswith("ft") else 4, "ratio": 5, "slope": 5, "count": 0, "angle": 2, "time": 0}.get(
        quantity, 3
    )


def number(value: float, digits: int, *, signed: bool = False) -> str:
    """Round once, for print; missing is a dash; no negative zero.

    Examples
    --------
    >>> number(-0.0004, 3), number(0.1255, 2, signed=True), number(float("nan"), 2)
    ('0.000', '+0.13', '–')
    """
    if value is None or math.isnan(value):
        return MISSING
    if math.isinf(value):
        return "∞" if value > 0 else "-∞"
    rounded = round(value, digits) + 0.0
    return f"{rounded:+.{digits}f}" if signed and rounded else f"{rounded:.{digits}f}"


def station(value: float) -> str:
    """Write a station as the trade does, 100 units to the full station.

    Examples
    --------
    >>> station(1250.254), station(-5.0), station(-0.004)
    ('12+50.25', '-0+05.00', '0+00.00')
    """
    if value is None or math.isnan(value):
        return MISSING
    hundredths = round(abs(value) * 100)
    sign = "-" if value < 0 and hundredths else ""
    return f"{sign}{hundredths // 10000}+{hundredths % 10000 / 100:05.2f}"


def along_baseline(station_words: str, offset: float, unit: str) -> str:
    """Write a place beside the baseline, for people.

    Examples
    --------
    >>> along_baseline("12+50.25", -18.214, "ft"), along_baseline("12+50.25 R2", 0.001, "m")
    ('12+50.25, 18.21 ft left', '12+50.25 R2, on the line')
    """
    side = side_of(offset)
    return f"{station_words}, {side}" if side == ON_LINE else f"{station_words}, {abs(offset):.2f} {unit} {side}"


ON_LINE = "on the line"


def side_of(offset: float) -> str:
    """Side of a line, by the sign of an offset that is not 0.00.

    Examples
    --------
    >>> side_of(3.0), side_of(-3.0), side_of(0.004)
    ('right', 'left', 'on the line')
    """
    return ON_LINE if round(abs(offset), 2) == 0 else ("right" if offset > 0 else "left")


def quantity(value: float, kind: str, unit: str, *, signed: bool = False) -> str:
    """Write a judged number with its unit.

    Examples
    --------
    >>> quantity(-0.2178, "length", "ft", signed=True), quantity(1 / 48, "ratio", "ft")
    ('-0.218 ft', '2.083 %')
    >>> quantity(math.nan, "length", "ft")
    '–'
    """
    if value is None or math.isnan(value):
        return MISSING
    if kind in ("ratio", "slope"):
        return number(value * 100, 3, signed=signed) + " %"
    if kind == "count":
        return number(value, 0, signed=signed)
    if kind == "angle":
        return number(value, 2, signed=signed) + "°"
    if kind == "time":
        return number(value, 0, signed=signed) + " s"
    return f"{number(value, decimals(kind, unit), signed=signed)} {unit}"


def unit_of(kind: str, unit: str) -> str:
    """Name of the unit of a judged number that stands in a column of numbers.

    Examples
    --------
    >>> [unit_of(kind, "ftUS") for kind in ("length", "time", "angle", "slope", "count")]
    ['ftUS', 's', 'deg', 'slope', 'count']
    """
    return {"length": unit, "time": "s", "angle": "deg"}.get(kind, kind)


def length(value: float, unit: str, *, signed: bool = False) -> str:
    """Write a length in the job's unit.

    Examples
    --------
    >>> length(0.25, "ftUS"), length(-1.5, "m", signed=True)
    ('0.250 ftUS', '-1.5000 m')
    """
    return quantity(value, "length", unit, signed=signed)


def deviation(value: float, check: Check, kind: str, unit: str, *, toward: str = "") -> str:
    """Write a deviation with the word for its sign, and which way that is on the ground.

    Examples
    --------
    >>> from geoqa.contract.work import ELEVATION, OFFSET, POSITION
    >>> deviation(0.16, OFFSET, "length", "ft"), deviation(-0.2178, ELEVATION, "length", "ft")
    ('0.160 ft right', '0.218 ft low')
    >>> deviation(0.27, POSITION, "length", "ft"), deviation(-0.0001, OFFSET, "length", "ft")
    ('0.270 ft away', '0.000 ft')
    >>> deviation(0.16, OFFSET, "length", "ft", toward="south")
    '0.160 ft right (south)'
    """
    if value is None or math.isnan(value):
        return MISSING
    if toward:
        return f"{deviation(value, check, kind, unit)} ({toward})"
    if check.radial:
        return quantity(value, kind, unit) + " away"
    if check.directions is None:
        return quantity(value, kind, unit)
    size = quantity(abs(value), kind, unit)
    if size == quantity(0.0, kind, unit):
        return size
    return f"{size} {check.directions[int(value > 0)]}"


def limits(lower: float, upper: float, check: Check, kind: str, unit: str) -> str:
    """Write what is allowed, on the deviation.

    Examples
    --------
    >>> from geoqa.contract.work import ELEVATION, OFFSET, POSITION
    >>> limits(-0.1, 0.1, OFFSET, "length", "ft"), limits(-0.08, 0.05, ELEVATION, "length", "ft")
    ('0.100 ft left or right', '0.080 ft low to 0.050 ft high')
    >>> limits(-math.inf, 0.3, POSITION, "length", "ft"), limits(math.nan, math.nan, OFFSET, "length", "ft")
    ('at most 0.300 ft', 'no limit is given')
    """
    if any(each is None or math.isnan(each) for each in (lower, upper)):
        return "no limit is given"
    if math.isinf(lower) and math.isinf(upper):
        return "any"
    if check.directions is not None and check.bound == "sides" and lower <= 0 <= upper:
        low, high = check.directions
        if -lower == upper:
            return f"{quantity(upper, kind, unit)} {low} or {high}"
        left = f"any {low}" if math.isinf(lower) else f"{quantity(-lower, kind, unit)} {low}"
        right = f"any {high}" if math.isinf(upper) else f"{quantity(upper, kind, unit)} {high}"
        return f"{left} to {right}"
    if math.isinf(lower):
        return f"at most {quantity(upper, kind, unit)}"
    if math.isinf(upper):
        return f"at least {quantity(lower, kind, unit)}"
    if lower > 0 or upper < 0:
        return f"{quantity(lower, kind, unit)} to {quantity(upper, kind, unit)}"
    if -lower == upper:
        return f"within ±{quantity(upper, kind, unit)}"
    return f"{quantity(lower, kind, unit, signed=True)} to {quantity(upper, kind, unit, signed=True)}"


def many(count: int, one: str, more: str = "") -> str:
    """Write a count with its noun, one or several.

    Examples
    --------
    >>> many(1, "shot"), many(2140, "shot"), many(2, "is", "are")
    ('1 shot', '2140 shots', '2 are')
    """
    return f"{count} {one if count == 1 else more or one + 's'}"


def listed(names: Sequence[str]) -> str:
    """Names in a sentence.

    Examples
    --------
    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last


def probability(value: float) -> str:
    """Write a probability; never as a certainty.

    Examples
    --------
    >>> probability(0.9312), probability(0.99996), probability(1e-9), probability(float("nan"))
    ('93.1 %', 'more than 99.9 %', 'less than 0.1 %', '–')
    """
    if value is None or math.isnan(value):
        return MISSING
    if value < 0.001:
        return "less than 0.1 %"
    if value > 0.999:
        return "more than 99.9 %"
    return f"{round(value * 1000) / 10:.1f} %"


def rule(text: str) -> str:
    """Write a decision rule with what it means.

    Examples
    --------
    >>> rule("simple")
    'compared as measured; the uncertainty is printed, not counted (rule "simple")'
    """
    meaning = RULES.get(text.split(" ")[0]) if text else None
    return f'{meaning} (rule "{text}")' if meaning else text
