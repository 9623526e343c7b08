"""Sentences about what is buried, made of facts."""

from collections.abc import Mapping, Sequence

from geoqa.model import words
from geoqa.model.tables.fact import Fact

SLIPS = {
    "whole-feet": "whole feet misread",
    "tenths": "tenths of a foot misread",
    "unit": "read on a tape of the other unit",
    "file": "in the other unit, as all of its file: see unit of [[structures]]",
}


def end_name(structure: object, pipe: object, direction: object) -> str:
    """What an end of a pipe is called.

    Examples
    --------
    >>> end_name("MH-1", "P-2", "out"), end_name("MH-1", "P-2", None), end_name("MH-1", None, None)
    ('MH-1, P-2 out', 'MH-1, P-2', 'MH-1')
    """
    there = [str(each) for each in (pipe, direction) if isinstance(each, str) and each]
    return ", ".join(part for part in (str(structure), " ".join(there)) if part)


def misread(end: str, measure_down: float, slips: Mapping[str, float], unit: str) -> str:
    """What a measure-down looks like: each slip that would explain it, the best first.

    Examples
    --------
    >>> misread("IN-1, P-1 out", 5.47, {"whole-feet": 1.0}, "ft")
    'measure-down 5.47 ft at IN-1, P-1 out, 1.00 ft too long (whole feet misread)'
    >>> misread("MH-1, P-2 in", 2.18, {"unit": -4.98, "whole-feet": -5.0}, "ft").partition(" in, ")[2]
    '4.98 ft too short (read on a tape of the other unit) or 5.00 ft too short (whole feet misread)'
    >>> misread("MH-1, P-2 in", 1.4567, {"tenths": -0.1}, "m").partition(" at ")[0]
    'measure-down 1.457 m'
    """
    read = words.usual(measure_down, unit)
    each = [
        f"{words.usual(abs(slip), unit)} too {'long' if slip > 0 else 'short'} ({SLIPS[kind]})"
        for kind, slip in slips.items()
    ]
    return f"measure-down {read} at {end}, {' or '.join(each)}"


def other_rim(end: str, measure_down: float, noted: str, fits: str, left: float, unit: str) -> str:
    """A measure-down from a rim shot that is noted for another structure too, where the shot of another rim fits.

    Examples
    --------
    >>> other_rim("MH-1, P-1 out", 5.82, "162", "161", -0.018, "ft")
    'measure-down 5.82 ft at MH-1, P-1 out, from rim shot 162 of another structure (from shot 161, which nobody noted, \
the invert lies 0.02 ft from its design)'
    """
    read, near = words.usual(measure_down, unit), words.usual(abs(left), unit)
    return (
        f"measure-down {read} at {end}, from rim shot {noted} of another structure (from shot {fits}, which "
        f"nobody noted, the invert lies {near} from its design)"
    )


def waits(titles: Sequence[str], read: str, without: str, *, how: str = "it was misread so") -> tuple[str, str]:
    """What is said of a number that rests on a questioned measure-down: while it waits, and where it is out anyhow.

    Examples
    --------
    >>> waits(["measure-down 5.47 ft at IN-1"], "-4.000 %", "1.000 %")[0]
    'waits for: measure-down 5.47 ft at IN-1; -4.000 % as read, 1.000 % if it was misread so'
    """
    said = f"{' and '.join(titles)}; {read} as read, {without} if {how}"
    return f"waits for: {said}", f"{said}, which is the number told"


def inches_or_millimetres(metres: float, foot: bool) -> str:
    """A size of a pipe as the trade writes it.

    Examples
    --------
    >>> inches_or_millimetres(0.4572, True), inches_or_millimetres(0.3, False)
    ('18 in', '300 mm')
    """
    return f"{metres / 0.0254:.4g} in" if foot else f"{metres * 1000:.4g} mm"


def design_of_invert(drawn: str, diameter: str, wall: str) -> str:
    """What an invert is held against where the design line is the top of the pipe: the arithmetic.

    Examples
    --------
    >>> design_of_invert("810.98 ftUS", "18 in", "2 in")
    'design top 810.98 ftUS less 18 in and wall 2 in'
    """
    return f"design top {drawn} less {diameter} and wall {wall}"


def drawn_at(fact: Fact, unit: str) -> str:
    """A design line called top that seems to draw inverts."""
    count = words.many(fact.total or 0, "invert") + " noted"
    return (
        f"Does the design draw {fact.subject} at the invert? {fact.count} of {count} lie nearer to the line itself "
        "than to a pipe hung from it by size and wall. Their inverts wait, and shots on top of these pipes "
        "are not compared "
        f'with its elevation. In the [[design]] of {fact.place} state pipes_drawn_at = "invert", or "top" if it is.'
    )


def pipe_label(upper: object, lower: object, length: str, design: str) -> str:
    """What a pipe is called where its slope is judged.

    Examples
    --------
    >>> pipe_label("MH-1", "MH-2", "251.0 ft", "0.400 %")
    'MH-1 to MH-2, 251.0 ft (design 0.400 %)'
    """
    said = f"{upper} to {lower}, {length}"
    return f"{said} (design {design})" if design else said


def rises(start: str, end: str, size: float, unit: str) -> str:
    """A leg of a pipe that rises against its fall.

    Examples
    --------
    >>> rises("412", "413", 0.151, "ft")
    'local reversal: the top rises 0.15 ft from shot 412 to 413; water stands there'
    """
    size_said = words.usual(size, unit)
    return f"local reversal: the top rises {size_said} from shot {start} to {end}; water stands there"


def belly(shots: int, start: str, end: str, farthest: float, reversed_legs: Sequence[str], unit: str) -> str:
    """What a run of shots to one side of the chord is called.

    Examples
    --------
    >>> belly(4, "113 ft", "151 ft", -0.22, [], "ft")
    'belly: mean of 4 shots, 113 ft to 151 ft from the first (farthest 0.22 ft below)'
    """
    what, side = ("belly", "below") if farthest < 0 else ("hump", "above")
    far = words.usual(abs(farthest), unit)
    said = f"{what}: mean of {words.many(shots, 'shot')}, {start} to {end} from the first (farthest {far} {side})"
    return "; ".join((said, *reversed_legs))


def covered(shot: str, surface: str) -> str:
    """What the cover over a shot is measured to.

    Examples
    --------
    >>> covered("312", "ground shots 41, 42, 43"), covered("312", "")
    ('top at shot 312, below ground shots 41, 42, 43', 'top at shot 312')
    """
    return f"top at shot {shot}, below {surface}" if surface else f"top at shot {shot}"


def crossing_label(upper: str, lower: str, assumed: Sequence[str]) -> str:
    """What a crossing is called, and what is not known of its pipes.

    Examples
    --------
    >>> crossing_label("P-1", "W-1", []), crossing_label("P-1", "W-1", ["wall of P-1"])
    ('P-1 over W-1', 'P-1 over W-1 (wall of P-1 not noted: taken as 0)')
    """
    return f"{upper} over {lower}{_not_noted(assumed)}"


def separation_label(other: str, assumed: Sequence[str]) -> str:
    """What a distance between two pipes is called, and what is not known of them.

    Examples
    --------
    >>> separation_label("S-2", ["size of S-2"])
    'beside S-2 (size of S-2 not noted: taken as 0)'
    """
    return f"beside {other}{_not_noted(assumed)}"


def _not_noted(assumed: Sequence[str]) -> str:
    return f" ({' and '.join(assumed)} not noted: taken as 0)" if assumed else ""


def levels(counts: Mapping[str, int]) -> str:
    """In which ways the vertices of a pipe are known.

    Examples
    --------
    >>> levels({"": 12, "mark": 3})
    '12 shots, exposed or not said; 3 shots, mark; kept apart'
    """
    parts = [f"{words.many(count, 'shot')}, {name or 'exposed or not said'}" for name, count in counts.items()]
    return f"{'; '.join(parts)}; kept apart"


def within(kind: str, shot: str) -> str:
    """What is held against the right of way.

    Examples
    --------
    >>> within("water-top", "312")
    'water top, shot 312; polygon as supplied, no boundary opinion'
    """
    return f"{kind.replace('-', ' ')}, shot {shot}; polygon as supplied, no boundary opinion"
