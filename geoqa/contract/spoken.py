"""A finding as an engineer would say it: what and where, how much and how sure, and what is allowed."""

import math
from collections.abc import Mapping
from typing import Any

from geoqa.contract.causes import cause_named
from geoqa.contract.checks import check_named
from geoqa.contract.control_sentences import shifted
from geoqa.contract.survey import DIAGNOSIS, SESSION_SHIFT, subject_in_words
from geoqa.model import words
from geoqa.model.shown import full_digits

BAND = 2.0
"""Standard uncertainties of a band of 95 %, as in all that is printed."""


def spoken(finding: Mapping[Any, Any], unit: str, *, toward: str = "") -> str:
    """Say a finding in one line.

    Parameters
    ----------
    finding : mapping
        A row of findings, with `baseline_place` where the job has a baseline, and `ruleset` where several rule sets
        are in force for its kind and check.
    unit : str
        Name of the job's unit.
    toward : str
        Which way the deviation points on the ground.

    Examples
    --------
    >>> row = {"check": "elevation", "kind": "curb-flow", "subject": "CFL-R-2", "quantity": "length", "u": 0.011,
    ...        "deviation": -0.22, "lower": -0.08, "upper": 0.08, "station": 2301.7, "station_end": 2374.3,
    ...        "baseline_station_end": 2374.3,
    ...        "baseline_place": "Main Street 23+02 to 23+74, right side"}
    >>> spoken(row, "ft")
    'curb flow, Main Street 23+02 to 23+74, right side: elevation 0.22 ft low ± 0.02; allowed 0.08 ft low or high'
    >>> spoken({**row, "baseline_place": None, "baseline_station_end": None}, "ft").partition(":")[0]
    'curb flow, 23+02 to 23+74 of CFL-R-2'
    """
    head, number = head_of(finding, unit), number_of(finding, unit, toward=toward)
    return f"{head}: {number or _matter(finding)}"


def _matter(finding: Mapping[Any, Any]) -> str:
    """What a finding without a number is: its check, or of a cause what it asks."""
    title = check_named(finding["check"]).title
    if finding["check"] == DIAGNOSIS.name:
        title = cause_named(str(finding["subject"]).partition(": ")[0]).asks.removesuffix("?")
    return title.lower()


def head_of(finding: Mapping[Any, Any], unit: str) -> str:
    """What a finding is about in words of the trade, and where that is; a code of a line only where nothing else tells.

    Examples
    --------
    >>> row = {"check": "elevation", "kind": "walk-front", "subject": "WKF-R-2", "station": 1210.0}
    >>> head_of(row, "ft"), head_of({**row, "baseline_place": "Main Street 22+10.00, 21.00 ft right"}, "ft")
    ('walk front, 12+10.00 of WKF-R-2', 'walk front, Main Street 22+10.00, 21.00 ft right')
    >>> head_of({**row, "kind": "rim", "subject": "MH-2", "station": math.nan}, "ft")
    'rim MH-2'
    >>> head_of({"check": "diagnosis", "kind": "control", "subject": "unchecked: session B"}, "ft")
    'session B'
    """
    place, subject = where(finding, unit), subject_in_words(finding)
    if place and _on_a_line(finding) and not isinstance(finding.get("baseline_place"), str):
        place = f"{place} of {subject}"
    return ", ".join(part for part in (_what(finding), place) if part)


def number_of(finding: Mapping[Any, Any], unit: str, *, toward: str = "") -> str:
    """How much and how sure, and what is allowed; empty where things are counted or nothing is known.

    Examples
    --------
    >>> row = {"check": "cross-slope", "quantity": "slope", "u": 0.003, "deviation": 0.0351, "lower": -0.0208,
    ...        "upper": 0.0208}
    >>> number_of(row, "ft"), number_of({**row, "deviation": math.nan}, "ft")
    ('cross slope 3.5 % ± 0.6; allowed ±2.080 %', '')
    >>> number_of({**row, "ruleset": "town, 2nd"}, "ft")
    'cross slope 3.5 % ± 0.6; allowed ±2.080 % (town, 2nd)'
    >>> row |= {"check": "gutter-fall", "u": 0.00029, "deviation": -0.003, "lower": 0.0, "upper": math.inf}
    >>> number_of(row, "ft"), number_of({**row, "deviation": 0.0031, "lower": -math.inf}, "ft")
    ('gutter fall runs backwards by 0.30 % ± 0.06; may not run backwards', 'gutter fall 0.31 % along the flow ± 0.06')
    """
    found = found_of(finding, unit, toward=toward)
    return "; ".join(part for part in (found, allowed_of(finding, unit)) if part) if found else ""


def found_of(finding: Mapping[Any, Any], unit: str, *, toward: str = "") -> str:
    """How much and how sure; empty where things are counted or nothing is known.

    Examples
    --------
    >>> row = {"check": "cross-slope", "quantity": "slope", "u": 0.003, "deviation": 0.0351, "lower": -0.0208,
    ...        "upper": 0.0208}
    >>> found_of(row, "ft"), allowed_of(row, "ft")
    ('cross slope 3.5 % ± 0.6', 'allowed ±2.080 %')
    """
    if not _measures(finding):
        return ""
    check = check_named(finding["check"])
    said = [_shifted(finding, unit) or words.judged(finding, check, unit, toward=toward)]
    u = finding.get("u")
    if isinstance(u, float) and u > 0:
        said.append(f"± {_band(u, finding, unit)}")
    return f"{_name(check.name)} {' '.join(said)}"


def allowed_of(finding: Mapping[Any, Any], unit: str) -> str:
    """What is allowed, and by which of several rule sets; empty where there is no limit."""
    check, lower, upper = check_named(finding["check"]), finding["lower"], finding["upper"]
    if any(each is None or math.isnan(each) for each in (lower, upper)) or (math.isinf(lower) and math.isinf(upper)):
        return ""
    allowed = words.limits(lower, upper, check, finding["quantity"], unit)
    said_of = f" ({finding['ruleset']})" if finding.get("ruleset") else ""
    told = allowed if allowed == words.NOT_BACKWARDS else f"allowed {allowed.removeprefix('within ')}"
    return f"{told}{said_of}"


def _measures(finding: Mapping[Any, Any]) -> bool:
    """Whether there is a number to say that is no mere count of things."""
    number = finding["deviation"]
    return finding["quantity"] != "count" and number is not None and not math.isnan(number)


def _shifted(finding: Mapping[Any, Any], unit: str) -> str:
    """A session's shift with the way it lies; empty for another finding."""
    if finding["check"] != SESSION_SHIFT.name:
        return ""
    by = float(finding["deviation"])
    size = words.quantity(abs(by), "length", unit, digits=words.judged_digits(finding, unit))
    return f"{size} {shifted(str(finding['label']).rpartition(', ')[2], by)}"


def where(finding: Mapping[Any, Any], unit: str) -> str:
    """Place of a finding in words: along the baseline, else along its own line; empty where neither is known."""
    beside = finding.get("baseline_place")
    if isinstance(beside, str):
        return beside
    start, end = (finding.get(name) for name in ("station", "station_end"))
    if not isinstance(start, float) or math.isnan(start):
        return ""
    if isinstance(end, float) and math.isfinite(end) and end != start:
        return words.stretch(start, end, unit)
    return words.station(start)


def grade(finding: Mapping[Any, Any], unit: str) -> str:
    """The elevation that was built and the one to be built; empty where the number is no elevation of the work.

    Each is rounded once, for itself. Where the two as printed would differ by another number than the deviation as it
    is printed beside them, both get more decimals.

    Examples
    --------
    >>> beside = {"deviation": 0.322, "quantity": "length", "u": 0.02, "lower": -0.1, "upper": 0.1}
    >>> grade({"check": "elevation", "design": 806.514, "measured": 806.836, **beside}, "ft")
    'built 806.836, design 806.514'
    >>> row = {"check": "elevation", "design": 1450.32, "measured": 1450.494, **beside, "deviation": 0.174}
    >>> grade(row, "ft"), grade({**row, "check": "control-elevation"}, "ft")
    ('built 1450.49, design 1450.32', '')
    """
    check, pair = check_named(finding["check"]), (finding["measured"], finding["design"])
    known = all(isinstance(each, float) and math.isfinite(each) for each in pair)
    if check.subject != "work" or check.axis != "v" or not known:
        return ""
    digits = _digits_that_agree(finding, full_digits(unit) - 1, words.judged_digits(finding, unit))
    built, design = (words.number(each, digits) for each in pair)
    return f"built {built}, design {design}"


def _digits_that_agree(finding: Mapping[Any, Any], fewest: int, shown: int | None) -> int:
    """Decimals, at most two more, at which measured less design reads as the deviation does."""
    measured, design, deviation = (finding[name] for name in ("measured", "design", "deviation"))
    if shown is None or not abs(measured - design - deviation) < 1e-6:
        return fewest  # the deviation is not their difference alone: something was taken off
    told = words.number(deviation, shown)
    for digits in range(fewest, fewest + 2):
        if words.number(round(measured, digits) - round(design, digits), shown) == told:
            return digits
    return fewest + 2


_OF_MARKS = ("mark", "mark-name", "bad-shot")
"""Causes of a survey blunder that are about one mark; the others are found at control, and are no matter of it."""


def _of_cause(finding: Mapping[Any, Any]) -> str:
    """Shots, session or initialization that a cause acts on, or that lies off; empty where it is about a mark."""
    if finding["check"] == SESSION_SHIFT.name:
        return str(finding["subject"])
    cause, there, subject = str(finding["subject"]).partition(": ")
    if finding["check"] != DIAGNOSIS.name or not there or cause in _OF_MARKS:
        return ""
    if cause == "none-fits":
        several = " and " in subject or ", " in subject
        return f"session{'s' if several else ''} {subject}"
    return f"initialization {subject}" if cause == "initialization" else subject


def _what(finding: Mapping[Any, Any]) -> str:
    """Kind of the work in plain words, and the name of a point or structure; a line's place says more than its name."""
    kind = finding.get("kind")
    subject = subject_in_words(finding)
    if not isinstance(kind, str) or not kind:
        return subject
    if acted_on := _of_cause(finding):
        return acted_on
    # a rim named MH-2 rim is no "rim MH-2 rim"
    if subject.split()[-1:] == [kind]:
        return subject
    end = finding.get("baseline_station_end")
    along = isinstance(end, float) and math.isfinite(end)
    plain = kind.replace("-", " ")
    return plain if along or subject == "-" or _on_a_line(finding) else f"{plain} {subject}"


def _on_a_line(finding: Mapping[Any, Any]) -> bool:
    """It lies along a line of its own, whose name is not that of its kind."""
    station, subject = finding.get("station"), subject_in_words(finding)
    named = subject != "-" and subject.split()[-1:] != [finding.get("kind")]
    return named and isinstance(station, float) and math.isfinite(station) and isinstance(finding.get("kind"), str)


def _name(check: str) -> str:
    return check.replace("-", " ")


def _band(u: float, finding: Mapping[Any, Any], unit: str) -> str:
    """The band, to as many decimals as the number itself is written with."""
    kind, digits = finding["quantity"], words.judged_digits(finding, unit)
    if kind in ("slope", "ratio"):
        return words.number(BAND * u * 100, 3 if digits is None else digits)
    if kind == "length":
        return words.quantity(BAND * u, kind, unit, digits=digits, bare=True)
    return words.quantity(BAND * u, kind, unit)
