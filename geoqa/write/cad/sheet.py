"""What stands on a drawing, before any drawing format."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

NOTE, LABEL = "NOTE", "LABEL"


@dataclass(frozen=True)
class Path:
    """A polyline in plan: easting, northing and bulge of each vertex; what it shows is a verdict, or a prefix."""

    layer: str
    vertices: tuple[tuple[float, float, float], ...]
    closed: bool = False
    shows: str = ""


@dataclass(frozen=True)
class Raised:
    """A polyline in space: easting, northing and elevation of each vertex; what it shows is a prefix."""

    layer: str
    vertices: tuple[tuple[float, float, float], ...]
    shows: str


@dataclass(frozen=True)
class Mark:
    """A shot: where, with which sign, and what it says about itself."""

    layer: str
    verdict: str
    easting: float
    northing: float
    elevation: float | None
    says: Mapping[str, str]
    beside: tuple[float, float] | None = None
    """Where its name stands; None beside the symbol."""
    quiet: bool = False
    """Its name is hidden: there is no room."""


@dataclass(frozen=True)
class Label:
    """A line of text that begins at a place, and runs at an angle."""

    layer: str
    easting: float
    northing: float
    text: str
    shows: str = LABEL
    turn: float = 0.0
    at: tuple[float, float] | None = None
    """What it speaks of."""
    others: tuple[tuple[float, float, float], ...] = ()
    """Where else it may begin, and at which angles, the best first."""
    item: str = ""
    rank: int = 0
    """Which is placed first: what is out, names of lines, then what is switched off."""


@dataclass
class Sheet:
    """Everything on the sheet."""

    paths: list[Path] = field(default_factory=list)
    raised: list[Raised] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    design: list[Mark] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    note: list[str] = field(default_factory=list)

    def layers(self) -> dict[str, str]:
        """All layers in use, sorted by name, each with what it shows: a verdict, or the prefix of its lines."""
        shown = {NOTE: NOTE} | {path.layer: path.shows for path in self.paths}
        shown |= {line.layer: line.shows for line in self.raised}
        shown |= {label.layer: label.shows for label in self.labels}
        shown |= {mark.layer: mark.verdict for mark in (*self.marks, *self.design)}
        return dict(sorted(shown.items()))

    def corners(self) -> tuple[float, float, float, float]:
        """West, south, east, north of everything drawn; a unit square where nothing is."""
        points = [(x, y) for path in self.paths for x, y, _ in path.vertices]
        points += [(mark.easting, mark.northing) for mark in (*self.marks, *self.design)]
        points += [(label.easting, label.northing) for label in self.labels]
        if not points:
            return 0.0, 0.0, 1.0, 1.0
        x, y = zip(*points, strict=True)
        return min(x), min(y), max(x), max(y)
