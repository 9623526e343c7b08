"""Places in LandXML: northing, easting, elevation as text, or the name of a point that stands elsewhere in the file."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from geoqa.errors import SourceError
from geoqa.model.words import many
from geoqa.read.delimited.values import LARGEST
from geoqa.read.landxml.stream import Node, refusal

Place = tuple[float, float, float]
"""Easting, northing, elevation; the elevation is NaN where there is none."""

NO_PLACE = (math.nan, math.nan, math.nan)
_FARTHEST = 32
"""References that may lead from one point to the next."""


class Places:
    """The named points of a file, and what refers to them.

    Raises
    ------
    SourceError
        From `place`: text that is no place, a name that no point or that two different points have, a circle.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._named: dict[str, list[Node]] = {}

    def add(self, point: Node) -> None:
        """Take up a point of the file."""
        for name in dict.fromkeys((point.get("name"), point.get("oID"))):
            if name:
                self._named.setdefault(name, []).append(point)

    def place(self, node: Node, *, steps: int = 0) -> Place:
        """Where an element stands, by its own text or by the point it refers to."""
        if node.text.strip():
            return self._written(node)
        name = node.get("pntRef")
        if not name:
            raise self.refused(node, "has neither coordinates nor pntRef; northing, easting and elevation are needed")
        if steps > _FARTHEST:
            raise self.refused(node, f"refers to '{name[:60]}', and the references never come to a place")
        owners = self._named.get(name, [])
        if not owners:
            raise self.refused(node, f"refers to the point '{name[:60]}', which is not in the file")
        found = [self.place(each, steps=steps + 1) for each in owners]
        if any(not _same(found[0], each) for each in found[1:]):
            lines = ", ".join(str(each.line) for each in owners[:4])
            raise self.refused(node, f"refers to '{name[:60]}', which are different points in lines {lines}")
        return found[0]

    def _written(self, node: Node) -> Place:
        values = self.numbers(node)
        if len(values) not in (2, 3):
            raise self.refused(node, f"reads '{node.text.strip()[:60]}'; northing, easting and, if any, elevation are")
        return values[1], values[0], values[2] if len(values) == 3 else math.nan

    def numbers(self, node: Node) -> list[float]:
        """All numbers of an element's text; each must be finite."""
        try:
            values = list(map(float, node.text.split()))
        except ValueError:
            values = [math.nan]
        if "_" in node.text or not all(abs(each) < LARGEST for each in values):
            raise self.refused(node, f"reads '{node.text.strip()[:60]}'; only numbers below {LARGEST:.0e} are allowed")
        return values

    def listed(self, node: Node, *, width: int) -> np.ndarray:
        """Vertices of a PntList: easting, northing, elevation."""
        values = self.numbers(node)
        if len(values) % width or not values:
            raise self.refused(node, f"holds {many(len(values), 'number')}, which are no whole points of {width}")
        rows = np.array(values).reshape(-1, width)
        high = rows[:, 2] if width == 3 else np.full(len(rows), math.nan)
        return np.column_stack([rows[:, 1], rows[:, 0], high])

    def number(self, node: Node, key: str) -> float:
        """An attribute that is a number; NaN where it is not there, infinite where it says INF."""
        text = node.get(key)
        if not text:
            return math.nan
        if text.upper() == "INF":
            return math.inf
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not abs(value) < LARGEST or "_" in text:
            raise self.refused(node, f'has {key}="{text[:40]}"; a number is allowed')
        return value

    def refused(self, node: Node, what: str) -> SourceError:
        """Say what is wrong with an element."""
        called = node.get("name")
        return refusal(self.path, node.line, f"{node.name}{f' {called[:60]!r}' if called else ''} {what}.")


def _same(one: Place, other: Place) -> bool:
    return np.array_equal(one, other, equal_nan=True)
