"""Sentences about what is buried, made of facts."""

from collections.abc import Sequence

from geoqa.model import words

SLIPS = {
    "whole-feet": "whole feet misread",
    "tenths": "tenths of a foot misread",
    "unit": "read on a tape of the other unit",
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


def misread(end: str, measure_down: float, slip: float, kind: str, unit: str) -> str:
    """What a measure-down looks like.

    Examples
    --------
    >>> misread("IN-1, P-1 out", 5.47, 1.0, "whole-feet", "ft")
    'measure-down 5.47 ft at IN-1, P-1 out, 1.00 ft too long (whole feet misread)'
    """
    size = words.quantity(abs(slip), "length", unit, digits=2)
    read = words.quantity(measure_down, "length", unit, digits=2)
    return f"measure-down {read} at {end}, {size} too {'long' if slip > 0 else 'short'} ({SLIPS[kind]})"


def waits(titles: Sequence[str], read: str, without: str) -> tuple[str, str]:
    """What is said of a number that rests on a questioned measure-down: while it waits, and where it is out anyhow.

    Examples
    --------
    >>> waits(["measure-down 5.47 ft at IN-1"], "-4.000 %", "1.000 %")[0]
    'waits for: measure-down 5.47 ft at IN-1; -4.000 % as read, 1.000 % if it was misread so'
    """
    said = f"{' and '.join(titles)}; {read} as read, {without} if it was misread so"
    return f"waits for: {said}", f"out of tolerance both ways, with and without: {said}"


def pipe_label(pipe: str, upper: object, lower: object, length: str, design: str) -> str:
    """What a pipe is called where its slope is judged.

    Examples
    --------
    >>> pipe_label("P-2", "MH-1", "MH-2", "251.0 ft", "0.400 %")
    'P-2, MH-1 to MH-2, 251.0 ft (design 0.400 %)'
    """
    said = f"{pipe}, {upper} to {lower}, {length}"
    return f"{said} (design {design})" if design else said
