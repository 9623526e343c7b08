"""The words people read: titles, reasons, cautions, and numbers rounded once, for print."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from geoqa.model.check import Check
from geoqa.model.shown import deserved, full_digits, limit_digits, slope_digits

BURIED_KINDS = frozenset({"invert", "pipe", "water-top", "storm-top", "sewer-top", "valve"})
"""Kinds that lie under ground: wherever one shows, `BURIED` shows too."""

COVERED_KINDS = frozenset({"pipe", "water-top", "storm-top", "sewer-top"})
"""Kinds that lie open only as long as the trench does: what is not shot then cannot be shot later."""

LIMITS_OF_WORK = "limits-of-work"
"""Kind of closed lines, or polygons, that bound the work: no design itself."""

RIGHT_OF_WAY = "right-of-way"
"""Kind of the closed lines, or polygons, of `[right_of_way]`: no design itself."""

RULES = {
    "guarded": "in or out only where that is at least 95 % sure; otherwise undecided",
    "simple": "compared as measured; the uncertainty is printed, not counted",
    "guard": "the limits are drawn in by this multiple of the expanded uncertainty",
}
"""Decision rules in words, by their first word."""

MISSING = "–"
"""A number that is not there."""

BACKWARDS, NOT_BACKWARDS = "runs backwards", "may not run backwards"
"""Of a fall along the flow that is below 0, and of a limit that is 0."""

PRELIMINARY = "PRELIMINARY – not reviewed by a licensee"
BEFORE_DIGGING = "call 811 / the one-call centre before you dig"
BURIED = f"Not for excavation. {BEFORE_DIGGING[0].upper()}{BEFORE_DIGGING[1:]}."
CERTIFICATION = (
    "This is a computation, not a certification. "
    "Local codes and the licensed professional in responsible charge decide."
)


def decimals(quantity: str, unit: str) -> int:
    """Decimals printed for a quantity in full: 0.001 ft or 0.0001 m of a length, 0.001 % … of a ratio."""
    return {"length": full_digits(unit), "ratio": 5, "slope": 5, "count": 0, "angle": 2, "time": 0}.get(quantity, 3)


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


def station(value: float, digits: int = 2) -> str:
    """Write a station as the trade does, 100 units to the full station.

    Examples
    --------
    >>> station(1250.254), station(-5.0), station(-0.004), station(1299.96, 0)
    ('12+50.25', '-0+05.00', '0+00.00', '13+00')
    """
    if value is None or math.isnan(value):
        return MISSING
    scale = 10**digits
    parts = round(abs(value) * scale)
    sign = "-" if value < 0 and parts else ""
    width = 3 + digits if digits else 2
    return f"{sign}{parts // (100 * scale)}+{parts % (100 * scale) / scale:0{width}.{digits}f}"


def stretch_digits(start: float, end: float, unit: str) -> int:
    """Decimals of the stations of a stretch: its ends are known to the spacing of its shots, not to the hundredth.

    Examples
    --------
    >>> stretch_digits(2275.84, 2323.75, "ft"), stretch_digits(75.84, 76.1, "ft"), stretch_digits(693.7, 708.3, "m")
    (0, 2, 1)
    """
    digits = 1 if unit == "m" else 0
    apart = abs(end - start)
    return digits if math.isnan(apart) or apart >= 2 * 10.0**-digits else 2


def stretch(start: float, end: float, unit: str) -> str:
    """Write a stretch between two stations.

    Examples
    --------
    >>> stretch(2275.84, 2323.75, "ft"), stretch(2275.84, 2276.1, "ft"), stretch(693.72, 708.29, "m")
    ('22+76 to 23+24', '22+75.84 to 22+76.10', '6+93.7 to 7+08.3')
    """
    digits = stretch_digits(start, end, unit)
    first, last = station(start, digits), station(end, digits)
    return first if first == last else f"{first} to {last}"


def along_baseline(station_words: str, offset: float, unit: str) -> str:
    """Write a place beside the baseline, for people.

    Examples
    --------
    >>> along_baseline("12+50.25", -18.214, "ft"), along_baseline("12+50.25 (after equation 1)", 0.0001, "m")
    ('12+50.25, 18.21 ft left', '12+50.25 (after equation 1), on the line')
    """
    return f"{station_words}, {beside(offset, unit)}"


def beside(offset: float, unit: str) -> str:
    """Write an offset from a line with its side, as lengths are usually shown.

    Examples
    --------
    >>> beside(-18.214, "ft"), beside(-5.5514, "m"), beside(0.004, "ft"), beside(0.004, "m")
    ('18.21 ft left', '5.551 m left', 'on the line', '0.004 m right')
    """
    side = side_of(offset, unit)
    return side if side == ON_LINE else f"{usual(abs(offset), unit)} {side}"


ON_LINE = "on the line"


def side_of(offset: float, unit: str) -> str:
    """Side of a line, by the sign of an offset that is not 0 as lengths are usually shown.

    Examples
    --------
    >>> side_of(3.0, "ft"), side_of(-3.0, "m"), side_of(0.004, "ft"), side_of(0.004, "m")
    ('right', 'left', 'on the line', 'right')
    """
    return ON_LINE if round(abs(offset), full_digits(unit) - 1) == 0 else ("right" if offset > 0 else "left")


def usual(value: float, unit: str) -> str:
    """A length as lengths are usually shown, to 0.01 ft or 0.001 m.

    Examples
    --------
    >>> usual(5.4678, "ftUS"), usual(1.4567, "m")
    ('5.47 ftUS', '1.457 m')
    """
    return quantity(value, "length", unit, digits=full_digits(unit) - 1)


def quantity(
    value: float, kind: str, unit: str, *, signed: bool = False, digits: int | None = None, bare: bool = False
) -> str:
    """Write a judged number with its unit.

    Parameters
    ----------
    value : float
    kind : str
        What it is: a length, a ratio, an angle …
    unit : str
        Name of the job's unit.
    signed : bool
        With a plus.
    digits : int, optional
        Decimals of a length, or of a slope in per cent; in full without.
    bare : bool
        Leave the unit of a length out: it was said before.

    Examples
    --------
    >>> quantity(-0.2178, "length", "ft", signed=True), quantity(1 / 48, "ratio", "ft")
    ('-0.218 ft', '2.083 %')
    >>> quantity(0.2178, "length", "ft", digits=2), quantity(0.2178, "length", "ft", digits=2, bare=True)
    ('0.22 ft', '0.22')
    >>> quantity(math.nan, "length", "ft")
    '–'
    """
    if value is None or math.isnan(value):
        return MISSING
    if kind in ("ratio", "slope"):
        return number(value * 100, 3 if digits is None else digits, signed=signed) + " %"
    if kind == "count":
        return number(value, 0, signed=signed)
    if kind == "angle":
        return number(value, 2, signed=signed) + "°"
    if kind == "time":
        return number(value, 0, signed=signed) + " s"
    text = number(value, decimals(kind, unit) if digits is None else digits, signed=signed)
    return text if bare else f"{text} {unit}"


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


def extent(value: float, unit: str) -> str:
    """Write how long or wide something is of which nothing is judged: to a tenth of a foot, or 0.01 m.

    Examples
    --------
    >>> extent(644.6243, "ft"), extent(26.6041, "m")
    ('644.6 ft', '26.60 m')
    """
    return quantity(value, "length", unit, digits=full_digits(unit) - 2)


def deviation(
    value: float,
    check: Check,
    kind: str,
    unit: str,
    *,
    toward: str = "",
    u: float = math.nan,
    bounds: Sequence[float] = (),
    bare: bool = False,
) -> str:
    """Write a deviation with the word for its sign, and which way that is on the ground.

    Parameters
    ----------
    value : float
    check : Check
    kind, unit : str
        Quantity, and the job's unit.
    toward : str
        Which way it points, in words.
    u : float
        1 sigma: it decides the decimals of a length (`geoqa.model.shown`).
    bounds : sequence of float
        Its limits: it is never shown as one of them.
    bare : bool
        Leave the unit of a length out: it was said before.

    Examples
    --------
    >>> from geoqa.contract.work import ELEVATION, OFFSET, POSITION
    >>> deviation(0.16, OFFSET, "length", "ft"), deviation(-0.2178, ELEVATION, "length", "ft")
    ('0.16 ft right', '0.22 ft low')
    >>> deviation(0.27, POSITION, "length", "ft"), deviation(-0.0001, OFFSET, "length", "ft")
    ('0.27 ft away', '0.00 ft')
    >>> deviation(0.16, OFFSET, "length", "ft", toward="south side", u=0.003, bare=True)
    '0.160 right (south side)'
    >>> deviation(0.0004, OFFSET, "length", "ft", toward="south side", u=0.02)
    '0.00 ft'
    """
    if value is None or math.isnan(value):
        return MISSING
    shown, digits = deserved(value, unit, u=u, bounds=bounds) if kind == "length" else (value, None)
    if toward:
        way = f" ({toward})" if shown != 0 else ""
        return deviation(value, check, kind, unit, u=u, bounds=bounds, bare=bare) + way
    if kind in ("slope", "ratio"):
        digits = slope_digits(value, u=u, bounds=bounds)
    if check.radial:
        return quantity(shown, kind, unit, digits=digits, bare=bare) + " away"
    if check.directions is None and not (check.fall and value < 0):
        return quantity(shown, kind, unit, digits=digits, bare=bare)
    size = quantity(abs(shown), kind, unit, digits=digits, bare=bare)
    if size == quantity(0.0, kind, unit, digits=digits, bare=bare):
        return size
    if check.fall and value < 0:
        return f"{BACKWARDS} by {size}"
    return f"{size} {check.directions[int(value > 0)]}" if check.directions is not None else size


def judged(finding: Mapping[Any, Any], check: Check, unit: str, *, toward: str = "", bare: bool = False) -> str:
    """Write the deviation of a finding at the resolution that its uncertainty and its limits ask for.

    Examples
    --------
    >>> from geoqa.contract.work import OFFSET
    >>> judged({"deviation": 0.1034, "quantity": "length", "u": 0.02, "lower": -0.1, "upper": 0.1}, OFFSET, "ft")
    '0.103 ft right'
    """
    u, bounds = _deserving(finding)
    return deviation(
        finding["deviation"], check, finding["quantity"], unit, toward=toward, u=u, bounds=bounds, bare=bare
    )


def judged_digits(finding: Mapping[Any, Any], unit: str) -> int | None:
    """Decimals with which `judged` writes the deviation of a finding; None for what has no resolution of its own.

    Examples
    --------
    >>> judged_digits({"deviation": 0.1034, "quantity": "length", "u": 0.02, "lower": -0.1, "upper": 0.1}, "ft")
    3
    """
    (u, bounds), kind = _deserving(finding), finding["quantity"]
    if kind == "length":
        return deserved(finding["deviation"], unit, u=u, bounds=bounds)[1]
    return slope_digits(finding["deviation"], u=u, bounds=bounds) if kind in ("slope", "ratio") else None


def _deserving(finding: Mapping[Any, Any]) -> tuple[float, tuple[float, ...]]:
    """1 sigma and limits of a finding: they decide the decimals of its number."""
    bounds = tuple(bound for bound in (finding.get("lower"), finding.get("upper")) if isinstance(bound, float))
    u = finding.get("u")
    return u if isinstance(u, float) else math.nan, bounds


def limits(lower: float, upper: float, check: Check, kind: str, unit: str, *, bare: bool = False) -> str:
    """Write what is allowed, on the deviation.

    Examples
    --------
    >>> from geoqa.contract.evidence import COVERAGE
    >>> from geoqa.contract.work import ELEVATION, OFFSET, POSITION
    >>> limits(-0.1, 0.1, OFFSET, "length", "ft"), limits(-0.0625, 0.05, ELEVATION, "length", "ft")
    ('0.10 ft left or right', '0.062 ft low to 0.05 high')
    >>> limits(-math.inf, 0.3, POSITION, "length", "ft"), limits(math.nan, math.nan, OFFSET, "length", "ft")
    ('at most 0.30 ft', 'no limit is given')
    >>> limits(-math.inf, 30.0, COVERAGE, "length", "ft", bare=True)
    'at most 30.00 without a shot'
    """
    if any(each is None or math.isnan(each) for each in (lower, upper)):
        return "no limit is given"
    if math.isinf(lower) and math.isinf(upper):
        return "any"
    if check.fall and lower == 0 and math.isinf(upper):
        return NOT_BACKWARDS

    def bound(value: float, *, again: bool = False, signed: bool = False) -> str:
        digits = limit_digits(value, unit) if kind == "length" else None
        return quantity(value, kind, unit, digits=digits, signed=signed, bare=bare or again)

    if check.directions is not None and check.bound == "sides" and lower <= 0 <= upper:
        low, high = check.directions
        if -lower == upper:
            return f"{bound(upper)} {low} or {high}"
        left = f"any {low}" if math.isinf(lower) else f"{bound(-lower)} {low}"
        again = not math.isinf(lower)
        right = f"any {high}" if math.isinf(upper) else f"{bound(upper, again=again)} {high}"
        return f"{left} to {right}"
    if math.isinf(lower):
        far = f" {check.directions[1]}" if check.directions is not None and check.bound == "most" else ""
        return f"at most {bound(upper)}{far}"
    if math.isinf(upper):
        return f"at least {bound(lower)}"
    if lower > 0 or upper < 0:
        return f"{bound(lower, again=True)} to {bound(upper)}"
    if -lower == upper:
        return f"within ±{bound(upper)}"
    return f"{bound(lower, again=True, signed=True)} to {bound(upper, signed=True)}"


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


def surfaces_not_compared(names: Sequence[str]) -> str:
    """What becomes of surfaces that a job names.

    Examples
    --------
    >>> surfaces_not_compared(["FG"])
    'surface FG was read; nothing is compared with it: no [tolerance.KIND] has surface = "…"'
    """
    which = f"surface {names[0]} was" if len(names) == 1 else f"surfaces {listed(names)} were"
    them = "it" if len(names) == 1 else "them"
    return f'{which} read; nothing is compared with {them}: no [tolerance.KIND] has surface = "…"'
