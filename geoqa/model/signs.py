"""One table of symbol, colour and text per verdict, for map, report, drawing and terminal."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Sign:
    """How a verdict looks: never by colour alone."""

    verdict: str
    text: str
    short: str
    colour: str
    shape: str
    mark: str
    order: int


SIGNS = {
    sign.verdict: sign
    for sign in (
        Sign("OUT", "out of tolerance", "out", "#B3261E", "triangle", "▲", 0),
        Sign("UNDECIDED", "cannot be decided with this measurement", "undecided", "#E08A00", "diamond", "◆", 1),
        Sign("NO_DATA", "not judged", "not judged", "#6B7280", "cross", "×", 2),
        Sign("IN", "within tolerance", "in", "#0072B2", "circle", "●", 3),
    )
}
"""Worst first. Blue, orange, dark red and grey stay apart for readers who do not tell red from green."""
