"""Horizontal geometry of LandXML: lines, curves, spirals and irregular lines, held against what is stated of them."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from geoqa.read.landxml.places import Place, Places
from geoqa.read.landxml.stream import Node

APART = 0.01
"""How far what a file states of an element (length, radius, end) may leave its points, in the file's unit."""
SMOOTH = 1e-4
"""How far the arcs that stand for a spiral in a design line may leave it, in the file's unit."""
_TURN = 2.0 * math.pi


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """One element between two places.

    Attributes
    ----------
    kind : str
        ``line``, ``arc`` or ``spiral``.
    start, end : (easting, northing, elevation)
    azimuth : float
        At the start, degrees clockwise from grid north.
    length : float
    start_radius, end_radius : float
        Positive to the right, infinite where straight.
    line : int
        Of the file.
    """

    kind: str
    start: Place
    end: Place
    azimuth: float
    length: float
    start_radius: float = math.inf
    end_radius: float = math.inf
    line: int


def stretches(geometry: Node, places: Places) -> list[Stretch]:
    """Every element of a CoordGeom, in order.

    Raises
    ------
    SourceError
        An element lacks what it needs, contradicts itself, or is of a kind that is not read.
    """
    found: list[Stretch] = []
    for node in geometry.children:
        if node.name == "Line":
            found += _chain([_at(node, "Start", places), _at(node, "End", places)], node, places)
        elif node.name == "IrregularLine":
            found += _chain(_irregular(node, places), node, places)
        elif node.name == "Curve":
            found.append(_curve(node, places))
        elif node.name == "Spiral":
            found.append(_spiral(node, places))
        else:
            raise places.refused(node, "is not read here; Line, Curve, Spiral and IrregularLine are")
    return found


def parts(found: list[Stretch]) -> list[list[Stretch]]:
    """Stretches that follow each other, apart from those that begin elsewhere."""
    pieces: list[list[Stretch]] = []
    for each in found:
        if pieces and math.dist(pieces[-1][-1].end[:2], each.start[:2]) <= APART:
            pieces[-1].append(each)
        else:
            pieces.append([each])
    return pieces


def drawn(found: list[Stretch]) -> tuple[np.ndarray, np.ndarray]:
    """Vertices and bulges of a line of stretches; a spiral becomes arcs that leave it by at most `SMOOTH`.

    Returns
    -------
    places : (n, 3) float64
        Easting, northing, elevation.
    bulges : (n - 1,) float64
        Positive curves left.
    """
    places, bulges = [found[0].start], []
    for each in found:
        if each.kind == "spiral":
            for place, bulge in _arcs_of(each):
                places.append(place)
                bulges.append(bulge)
        else:
            places.append(each.end)
            bulges.append(-math.tan(each.length / each.start_radius / 4.0) if each.kind == "arc" else 0.0)
    return np.array(places, dtype=np.float64), np.array(bulges)


def along(each: Stretch, distance: np.ndarray) -> np.ndarray:
    """Easting and northing at distances along a stretch, by integrating its direction.

    Parameters
    ----------
    each : Stretch
    distance : (n,) float64

    Returns
    -------
    (n, 2) float64
    """
    nodes, weights = np.polynomial.legendre.leggauss(24)
    panels = max(1, math.ceil(each.length * max(1.0 / abs(each.start_radius), 1.0 / abs(each.end_radius))))
    first, last = 1.0 / each.start_radius, 1.0 / each.end_radius
    edges = np.linspace(0.0, 1.0, panels + 1)
    share = (edges[:-1, None] + np.diff(edges)[:, None] * (nodes + 1.0) / 2.0).ravel()
    weight = (np.diff(edges)[:, None] * weights / 2.0).ravel()
    at = np.asarray(distance, dtype=np.float64)[:, None] * share
    azimuth = math.radians(each.azimuth) + first * at + (last - first) * at**2 / (2.0 * each.length)
    step = weight * np.asarray(distance, dtype=np.float64)[:, None]
    east, north = (np.sin(azimuth) * step).sum(axis=1), (np.cos(azimuth) * step).sum(axis=1)
    return np.column_stack([each.start[0] + east, each.start[1] + north])


def _arcs_of(each: Stretch) -> list[tuple[Place, float]]:
    """Ends and bulges of arcs through the spiral's own points; off by 3**0.5 / 216 (change of curvature) (length)^3."""
    change = abs(1.0 / each.end_radius - 1.0 / each.start_radius) / each.length
    count = max(2, math.ceil(each.length / (SMOOTH / (0.0081 * change)) ** (1.0 / 3.0))) if change else 1
    on = along(each, each.length * np.arange(1, 2 * count + 1) / (2 * count))
    on[-1] = each.end[:2]
    start = np.vstack([each.start[:2], on[1:-1:2]])
    middle, end = on[0::2], on[1::2]
    ahead, half = end - start, (start + end) / 2.0
    left = (ahead[:, 0] * (middle[:, 1] - half[:, 1]) - ahead[:, 1] * (middle[:, 0] - half[:, 0])) / (
        np.hypot(*ahead.T) ** 2
    )
    share = np.arange(1, count + 1) / count
    high = each.start[2] + share * (each.end[2] - each.start[2])
    return [((float(e), float(n), float(z)), float(b)) for (e, n), z, b in zip(end, high, -2.0 * left, strict=True)]


def _at(node: Node, name: str, places: Places) -> Place:
    child = node.find(name)
    if child is None:
        raise places.refused(node, f"has no {name}; it needs one")
    return places.place(child)


def _irregular(node: Node, places: Places) -> list[Place]:
    rows: list[Place] = []
    for child in node.all("PntList2D", "PntList3D"):
        rows += [tuple(row) for row in places.listed(child, width=int(child.name[-2])).tolist()]
    ends = [_at(node, name, places) for name in ("Start", "End")]
    if not rows:
        raise places.refused(node, "has no PntList2D or PntList3D; its points are needed")
    before = [] if math.dist(ends[0][:2], rows[0][:2]) <= APART else [ends[0]]
    after = [] if math.dist(ends[1][:2], rows[-1][:2]) <= APART else [ends[1]]
    return [*before, *rows, *after]


def _chain(rows: list[Place], node: Node, places: Places) -> list[Stretch]:
    found = []
    for start, end in itertools.pairwise(rows):
        length = math.dist(start[:2], end[:2])
        if length > 0.0:
            azimuth = _azimuth(start, end)
            found.append(Stretch(kind="line", start=start, end=end, azimuth=azimuth, length=length, line=node.line))
    if not found:
        raise places.refused(node, "has no length")
    _agree(node, places, "length", sum(each.length for each in found))
    return found


def _curve(node: Node, places: Places) -> Stretch:
    start, end = _at(node, "Start", places), _at(node, "End", places)
    sense = _sense(node, places)
    centre = node.find("Center")
    stated = places.number(node, "radius")
    chord = math.dist(start[:2], end[:2])
    if chord == 0.0:
        raise places.refused(node, "begins where it ends; an arc less than a whole circle is needed")
    if centre is not None:
        middle = places.place(centre)
        radius, other = math.dist(start[:2], middle[:2]), math.dist(end[:2], middle[:2])
        if abs(radius - other) > APART:
            raise places.refused(node, f"ends {other:.4f} from its Center and starts {radius:.4f} from it")
        _agree(node, places, "radius", radius)
        turn = math.remainder(_bearing(middle, end) - _bearing(middle, start), _TURN)
        angle = (sense * turn) % _TURN
        radius = chord / (2.0 * math.sin(angle / 2.0))
    elif stated > 0.0 and math.isfinite(stated):
        if chord > 2.0 * stated + APART:
            raise places.refused(node, f"has radius {stated:.4f} and a chord of {chord:.4f}, longer than its diameter")
        half = math.asin(min(chord / (2.0 * stated), 1.0))
        angle = _TURN - 2.0 * half if _is_long(node, places, stated) else 2.0 * half
        radius = stated
    else:
        raise places.refused(node, "has neither Center nor a radius; one is needed")
    return _checked(node, places, start, end, sense, angle, radius, chord)


def _checked(
    node: Node, places: Places, start: Place, end: Place, sense: int, angle: float, radius: float, chord: float
) -> Stretch:
    arc = radius * angle
    by_chords = _length_by_chords(angle, radius)
    if not (node.get("crvType") == "chord" and abs(places.number(node, "length") - by_chords) <= APART):
        _agree(node, places, "length", arc)
    _agree(node, places, "chord", chord)
    return Stretch(
        kind="arc",
        start=start,
        end=end,
        azimuth=math.degrees(_bearing(start, end) - sense * angle / 2.0) % 360.0,
        length=arc,
        start_radius=sense * radius,
        end_radius=sense * radius,
        line=node.line,
    )


def _length_by_chords(angle: float, radius: float) -> float:
    """Length of a curve counted in chords of 100, as its degree by chord definition has it."""
    return 100.0 * angle / (2.0 * math.asin(min(50.0 / radius, 1.0)))


def _is_long(node: Node, places: Places, radius: float) -> bool:
    """Whether a curve without a centre turns more than half round: by its length, or its angle in either unit."""
    length, delta = places.number(node, "length"), places.number(node, "delta")
    if math.isfinite(length):
        return length > math.pi * radius
    return math.isfinite(delta) and abs(delta) > 180.0


def _spiral(node: Node, places: Places) -> Stretch:
    kind = node.get("spiType").casefold()
    if kind != "clothoid":
        raise places.refused(node, f'is of spiType "{node.get("spiType")[:30]}"; only "clothoid" is read')
    start, corner, end = (_at(node, name, places) for name in ("Start", "PI", "End"))
    sense = _sense(node, places)
    length = places.number(node, "length")
    radii = [places.number(node, key) for key in ("radiusStart", "radiusEnd")]
    if not 0.0 < length < math.inf or any(not each > 0.0 for each in radii):
        raise places.refused(node, 'needs length, radiusStart and radiusEnd, each more than 0 ("INF" is straight)')
    if length > _TURN * min(radii):
        raise places.refused(
            node, f"is {length:.10g} long with a radius of {min(radii):.10g}; it would turn round itself"
        )
    if math.dist(start[:2], corner[:2]) == 0.0:
        raise places.refused(node, "has its PI where it starts; its direction is not known")
    stretch = Stretch(
        kind="spiral",
        start=start,
        end=end,
        azimuth=_azimuth(start, corner),
        length=length,
        start_radius=sense * radii[0],
        end_radius=sense * radii[1],
        line=node.line,
    )
    reached = along(stretch, np.array([length]))[0]
    away = math.dist(reached.tolist(), end[:2])
    if away > APART:
        raise places.refused(
            node, f"ends {away:.3f} from where its length, radii and direction lead; rot, length and radii must fit"
        )
    return stretch


def _agree(node: Node, places: Places, key: str, true: float) -> None:
    stated = places.number(node, key)
    if not math.isnan(stated) and not abs(stated - true) <= APART:
        raise places.refused(node, f'states {key}="{stated:.10g}", and its points give {true:.4f}; they must agree')


def _sense(node: Node, places: Places) -> int:
    rot = node.get("rot")
    if rot not in ("cw", "ccw"):
        raise places.refused(node, f'has rot="{rot[:20]}"; "cw" (right) or "ccw" (left) is allowed')
    return 1 if rot == "cw" else -1


def _bearing(start: Place, end: Place) -> float:
    return math.atan2(end[0] - start[0], end[1] - start[1])


def _azimuth(start: Place, end: Place) -> float:
    return math.degrees(_bearing(start, end)) % 360.0
