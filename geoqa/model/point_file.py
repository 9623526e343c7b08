"""Points to go back to as the plainest file there is: name, northing, easting, elevation, description.

One point a line, no header, commas, ASCII. A place to go to has no elevation: the field stays empty, so that no old
number can pass for a new one, and no 0 for a height.
"""

from collections.abc import Iterable
from dataclasses import dataclass

LONGEST = 24
"""Characters of a description; more is cut by what reads it."""
COLUMNS = "P,N,E,Z,D"


@dataclass(frozen=True, kw_only=True)
class Place:
    """A place to go to with the rod.

    Attributes
    ----------
    easting, northing : float
        In the job's frame.
    says : str
        A few words; what does not fit is cut.
    """

    easting: float
    northing: float
    says: str


def point_file(places: Iterable[Place], *, digits: int) -> str:
    r"""Write places in their order, named R1, R2 …; those without a position are left out.

    Parameters
    ----------
    places : iterable of Place
    digits : int
        Decimals of coordinates.

    Examples
    --------
    >>> point_file([Place(easting=2228500.0, northing=446000.0, says="gap, W-1 21+30")], digits=3)
    'R1,446000.000,2228500.000,,gap W-1 21+30\n'
    """
    there = [each for each in places if each.easting == each.easting and each.northing == each.northing]
    return "".join(
        f"R{number},{each.northing:.{digits}f},{each.easting:.{digits}f},,{_short(each.says)}\n"
        for number, each in enumerate(there, 1)
    )


def _short(text: str) -> str:
    """Text in plain marks, without what parts fields.

    Examples
    --------
    >>> _short('=1, "naïve"')
    '1 nave'
    """
    kept = "".join(mark if mark.isascii() and mark.isprintable() else "" for mark in text.replace("\N{EN DASH}", "-"))
    plain = " ".join("".join(mark if mark.isalnum() or mark in " .+-/_#%" else " " for mark in kept).split())
    return plain[:LONGEST].strip().lstrip("+-").strip()
