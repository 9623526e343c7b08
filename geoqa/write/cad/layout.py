"""Where text stands on a drawing so that none lies over another: what matters more is placed first.

A label or a name without room is not lost: it goes to a layer that ends in COVERED and is switched off, and the name of
a shot stays an attribute of its symbol, hidden.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import product

from geoqa.model.signs import SIGNS
from geoqa.write.cad.sheet import Label, Mark, Sheet

COVERED = "COVERED"
WIDE = 0.95
"""Width of a character in heights; of the widest common fonts."""
_MARGIN = 0.35
_BESIDE = 0.15
"""Room above and below a line of text, and at its ends, in heights: brackets are higher than letters."""
_SYMBOL, ASIDE = 0.35, 0.9
"""Half a symbol, and where a name begins beside it, in sizes of the symbol."""
LAST = 9
"""Rank of what is switched off: it takes no room from names of points."""


class Room:
    """Cells of the drawing that something stands on."""

    def __init__(self, height: float) -> None:
        self._height, self._cell = height, 0.5 * height
        self._taken: set[tuple[int, int]] = set()

    def take(self, cells: frozenset[tuple[int, int]]) -> bool:
        """Take cells if all of them are free."""
        if not self._taken.isdisjoint(cells):
            return False
        self._taken |= cells
        return True

    def hold(self, cells: Iterable[tuple[int, int]]) -> None:
        """Take cells whoever has them."""
        self._taken.update(cells)

    def under(self, easting: float, northing: float, text: str, turn: float = 0.0) -> frozenset[tuple[int, int]]:
        """Cells under a line of text that begins at a place and runs at an angle, in degrees."""
        east, north = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        first, up = (0.5 + _MARGIN - _BESIDE) * self._height, 0.5 * self._height
        inner = max(max(len(text), 1) * WIDE * self._height - 2.0 * first, 0.0)
        pieces = max(1, math.ceil(inner / self._cell))
        half = (0.5 + _MARGIN) * self._height
        if north == 0.0 and east > 0.0:  # the squares of a level line overlap: together they are one oblong
            ends = easting + first, easting + (first + inner)
            return frozenset(self._oblong(*ends, northing + up, half))
        found: set[tuple[int, int]] = set()
        for piece in range(pieces + 1):
            along = first + inner * piece / pieces
            found |= self.around(easting + along * east - up * north, northing + along * north + up * east, half)
        return frozenset(found)

    def around(self, easting: float, northing: float, half: float) -> set[tuple[int, int]]:
        """Cells of a square around a place."""
        return self._oblong(easting, easting, northing, half)

    def _oblong(self, west: float, east: float, northing: float, half: float) -> set[tuple[int, int]]:
        """Cells of all squares whose middles lie between two places of one northing."""
        columns = range(math.floor((west - half) / self._cell), math.floor((east + half) / self._cell) + 1)
        rows = range(math.floor((northing - half) / self._cell), math.floor((northing + half) / self._cell) + 1)
        return set(product(columns, rows))


def laid_out(sheet: Sheet, *, height: float, size: float) -> Sheet:
    """Place labels and names; `sheet` itself is changed.

    Parameters
    ----------
    sheet : Sheet
    height : float
        Of text, in the drawing's unit.
    size : float
        Of the symbol of a shot.
    """
    room = Room(height)
    for mark in (*sheet.marks, *sheet.design):
        room.hold(room.around(mark.easting, mark.northing, _SYMBOL * size))
    placed: dict[int, Label] = {}
    seen: set[tuple[str, str]] = set()
    waiting = sorted(range(len(sheet.labels)), key=lambda at: (sheet.labels[at].rank, at))
    loud = [at for at in waiting if sheet.labels[at].rank < LAST]
    for at in loud:
        placed[at] = _placed(sheet.labels[at], room, height, size, seen)
    sheet.design = [_named(mark, room, height, size) for mark in sheet.design]
    order = sorted(range(len(sheet.marks)), key=lambda at: (_rank(sheet.marks[at].verdict), at))
    named = {at: _named(sheet.marks[at], room, height, size) for at in order}
    sheet.marks = [named[at] for at in range(len(sheet.marks))]
    for at in waiting[len(loud) :]:
        placed[at] = _placed(sheet.labels[at], room, height, size, seen)
    sheet.labels = [placed[at] for at in range(len(sheet.labels))]
    return sheet


def _rank(verdict: str) -> int:
    return SIGNS[verdict].order if verdict in SIGNS else len(SIGNS)


def _placed(label: Label, room: Room, height: float, size: float, seen: set[tuple[str, str]]) -> Label:
    """A label where there is room, once an item: the first of it is the worst."""
    again = bool(label.item) and (label.layer, label.item) in seen
    if not again:
        seen.add((label.layer, label.item))
        for place in _places(label, height, size):
            if room.take(room.under(*place[:2], label.text, place[2])):
                return replace(label, easting=place[0], northing=place[1], turn=place[2])
    return replace(label, layer=f"{label.layer}_{COVERED}", shows=COVERED)


def _places(label: Label, height: float, size: float) -> Iterator[tuple[float, float, float]]:
    """Places for a label, the best first: as it stands, else around what it speaks of, if it speaks of a place."""
    yield label.easting, label.northing, label.turn
    yield from label.others
    if label.at is None:
        return
    long = len(label.text) * WIDE * height
    for away in (1.0, 3.0, 6.0):
        aside, up = ASIDE * size, (away * 1.6 - 0.5) * height
        for east in (aside, -aside - long):
            for north in (up, -up - height):
                yield label.at[0] + east, label.at[1] + north, 0.0


def _named(mark: Mark, room: Room, height: float, size: float) -> Mark:
    """A mark whose name stands beside it, or is hidden."""
    name = mark.says["POINT"]
    long, aside = len(name) * WIDE * height, ASIDE * size
    for east, north in ((aside, 0.0), (-aside - long, -height), (aside, -1.5 * height), (-aside - long, 0.5 * height)):
        place = mark.easting + east, mark.northing + north
        if room.take(room.under(*place, name)):
            return replace(mark, beside=place)
    return replace(mark, quiet=True)
