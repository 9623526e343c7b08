"""Reasons of flags: sentences made of facts, in the job's own unit."""

import math

from geoqa.contract.causes import cause_named
from geoqa.model import words
from geoqa.model.tables.fact import Fact


def tilt_untested(fact: Fact, unit: str) -> str:
    """Lean beyond the largest tested."""
    lean, most = f"{fact.number:.0f}°", f"{fact.limit:g}°"
    return f"the rod leans {lean}, beyond {most}, the largest tilt tested; nothing is claimed"


def name_twice(fact: Fact, unit: str) -> str:
    """How often a name is used, how far apart, and in which files."""
    apart = words.quantity(fact.number, "length", unit, digits=1)
    return f"name '{fact.written}' is used {fact.count} times, over {apart}, in {fact.place}"


_DAMAGE = {
    "date": "reads as a date, as a spreadsheet makes of",
    "number": "reads as a rounded number, as a spreadsheet makes of",
    "point": "reads as a decimal number, as a spreadsheet makes of",
    "zeros": "has lost the zeros it begins with, as in a spreadsheet:",
}


def damaged_name(fact: Fact, unit: str) -> str:
    """Which word looks damaged, how, and what it may have been."""
    near = "names near " if fact.variant == "number" else ""
    return f"{fact.subject} '{fact.written}' {_DAMAGE[fact.variant]} {near}'{fact.proposal}'; not changed"


def unknown_code(fact: Fact, unit: str) -> str:
    """Which code, and the known one that is like it."""
    if not fact.written:
        return "the shot has no code"
    asked = f"; did the crew mean '{fact.proposal}'?" if fact.proposal else ""
    return f"code '{fact.written}' is not in the code list{asked}"


def equal_to_design(fact: Fact, unit: str) -> str:
    """How many rows equal the design, and how many would by chance."""
    rows = words.many(int(fact.number), "row equals", "rows equal")
    return f"{rows} the design; {words.number(fact.limit, 3)} are expected by chance"


def blunder(fact: Fact, unit: str) -> str:
    """The cause, and which way it acts."""
    return f"{cause_named(fact.subject).title}: {fact.variant}"


def lean_in_doubt(fact: Fact, unit: str) -> str:
    """How far the rod leaned, and that it was judged all the same."""
    return (
        f"the rod leaned {words.number(fact.number, 1)}°; without compensation that would explain a part of the "
        "deviation and not all of it, so it is judged as it was read"
    )


def spike(fact: Fact, unit: str) -> str:
    """Misfit in elevation, square to the line, or both."""
    parts = [
        f"{words.length(abs(off), unit)} {over if off > 0 else under} ({_times(off, u):.0f} times u)"
        for off, u, over, under in (
            (fact.number, fact.u, "above", "below"),
            (fact.second, fact.third, "right", "left"),
        )
        if not math.isnan(off)
    ]
    what = "deviations from design" if fact.variant == "design" else "neighbours on its line"
    return f"{' and '.join(parts)} of what its {what} lead to expect; re-shoot it"


def _times(value: float, u: float) -> float:
    return abs(value) / u if u else math.inf


def too_fast(fact: Fact, unit: str) -> str:
    """How far in how short a time, between which shots."""
    gone = f"{words.quantity(fact.number, 'length', unit, digits=1)} in {fact.second:.0f} s"
    return f"{gone} between {fact.place} and {fact.other}; clock, name or place is wrong"


def clock_back(fact: Fact, unit: str) -> str:
    """By how much the clock goes back."""
    return f"the clock goes back {fact.number:.0f} s against the row before it"


def two_names(fact: Fact, unit: str) -> str:
    """The other name and code of one measurement."""
    same = f"same place and time, to the last digit, as {fact.other} ({fact.written or 'no code'})"
    return f"{same}; one measurement under two names"


def repeat_of(fact: Fact, unit: str) -> str:
    """Which shot is repeated, how long after, and whether that counts."""
    if math.isnan(fact.number):
        late = "at an unknown time: not counted as independent"
    elif fact.number < fact.limit:
        late = f"{words.number(fact.number, 1)} min later: not independent, not counted"
    else:
        late = f"{fact.number / 60.0:.1f} h later"
    return f"a repeat of {fact.other}, {late}"


def code_slip(fact: Fact, unit: str) -> str:
    """What the code says, where the shot lies, and which code is meant."""
    asked = f"did the crew mean {fact.proposal}? Not applied"
    if fact.variant == "string":
        return (
            f"{fact.count} of {fact.total} shots of line '{fact.subject}' are {fact.proposal}, this one is "
            f"{fact.written} and lies {fact.amount(unit)} from their line; {asked}"
        )
    far = "far from any" if math.isnan(fact.limit) else f"{words.length(fact.limit, unit)} from the nearest"
    level = "" if math.isnan(fact.second) else f" and {words.length(fact.second, unit, signed=True)} in elevation"
    if fact.variant == "beside":
        missed = f"{words.length(fact.limit, unit)} and {words.length(fact.third, unit, signed=True)} in elevation"
        return (
            f"coded {fact.written}, but lies {fact.amount(unit)}{level} from a {fact.other} line and {missed} from the "
            f"nearest {fact.subject} line, as {words.many((fact.count or 0) - 1, 'more shot')} of this code; {asked}"
        )
    return (
        f"coded {fact.written}, but lies {fact.amount(unit)}{level} from a {fact.other} line and {far} "
        f"{fact.subject} line; {asked}"
    )


def swapped_pair(fact: Fact, unit: str) -> str:
    """The reversed step, the usual one, and with which shot the codes are exchanged."""
    one, two = sorted((fact.written, fact.proposal))
    here, usual = (words.length(value, unit, signed=True) for value in (fact.number, fact.limit))
    pairs = words.many(fact.count or 0, "pair")
    return (
        f"{two} minus {one} is {here} here, usually {usual} ({pairs}); {one} and {two} look "
        f"exchanged with {fact.other}. Not applied"
    )


def weak_sky(fact: Fact, unit: str) -> str:
    """Satellites against the usual ones, and what is worse beside."""
    few, many = words.number(fact.number, 0), words.number(fact.limit, 0)
    here = f"{few} satellites, next to a place with few" if fact.variant == "edge" else f"round here {few} satellites"
    worse = zip(
        ("PDOP", "reported horizontal precision", "reported vertical precision"),
        (fact.second, fact.third, fact.fourth),
        strict=True,
    )
    more = "".join(f"; {name} {times:.1f} times the usual" for name, times in worse if not math.isnan(times))
    return f"{here}, {many} is usual in this job{more}; trees or a wall? Check the points there in another way"


def false_jump(fact: Fact, unit: str) -> str:
    """From which line to which, or how much longer than the usual leg."""
    if fact.variant == "design":
        way = f"from {fact.place} to {fact.other} over {fact.amount(unit)}"
        return f"string {fact.subject} goes on {way} without design; split it here? Not applied"
    usual = words.length(fact.limit, unit)
    return f"string {fact.subject} has a leg of {fact.amount(unit)}, usually {usual}; are these two lines?"


def self_crossing(fact: Fact, unit: str) -> str:
    """The legs that cross, by the shots they begin at, and how often the line does so."""
    often = f", one of {fact.count} times" if (fact.count or 0) > 1 else ""
    crossed = f"the leg behind this shot crosses the one behind {fact.other}{often}"
    return f"string {fact.subject}: {crossed}; is its order right?"


def single_shot(fact: Fact, unit: str) -> str:
    """The line, and the one that its shot may belong to."""
    near = f"; or is it of {fact.proposal}?" if fact.proposal else "; is its line ID right?"
    return f"line {fact.subject} has this shot only{near} Not applied"


_AT_ENDS = {
    "opening": "last check {} before",
    "no-opening": "no check on control before the first shot",
    "closing": "first check {} after",
    "no-closing": "no check on control after the last shot",
}


def check_on_control(fact: Fact, unit: str) -> str:
    """What a session's checks on control lack by one rule; times in minutes, none where there was no check."""
    if fact.variant == "marks":
        marks = words.many(int(fact.number), "different mark") if fact.number else "no mark"
        said = f"{marks} checked, {fact.written} are asked"
    elif fact.variant == "untimed":
        said = "shots without a time; whether and when was checked is unknown"
    elif fact.variant == "no-interval":
        said = f"fewer than two checks, {fact.written} is allowed"
    elif fact.variant == "interval":
        said = f"{fact.number / 60:.1f} h between two checks, {fact.written} is allowed"
    elif fact.variant == "pause":
        behind = f"{words.many(fact.count or 0, 'shot follows', 'shots follow')} one without a new check on control"
        said = f"longest pause {_lasting(fact.number)}; {behind}"
    else:
        uncovered = f"; {words.many(fact.count, 'shot is', 'shots are')} not covered" if fact.count else ""
        said = f"{_AT_ENDS[fact.variant].format(_lasting(fact.number))}{uncovered}"
    return f"session {fact.session}: {said}"


def _lasting(minutes: float) -> str:
    """Minutes in words; hours where they are many.

    Examples
    --------
    >>> _lasting(95.2), _lasting(1140.0)
    ('95 min', '19.0 h')
    """
    return f"{minutes:.0f} min" if minutes < HOURS_FROM else f"{minutes / 60:.1f} h"


HOURS_FROM = 180.0
"""Minutes from which hours are told."""
