"""Curves that were drawn as chords: found by their equal chords and angles on one circle, and made arcs again."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.design.elements import LINE, Elements, line_table, start_tangents

_WIDEST = np.radians(46.0)  # a larger turn is a corner, not a joint of two chords
_CORNER = np.radians(41.0)  # the same where three chords and more are not two tangents and what lies between them
_LOOSE, _LOOSEST, _EQUAL = 0.03, 0.5, 0.01
_HALF = (0.35, 0.65)  # where a tangent leaves a chord, it turns by half of what two chords turn


@dataclass(frozen=True, kw_only=True, eq=False)
class ChordedCurves:
    """Curves drawn as chords, one row a curve; arrays of shape (k,).

    Attributes
    ----------
    line : int64
        Number of the line.
    first, last : int64
        Rows of the first and last chord in the elements.
    start_station, end_station : float64
        Of the curve, along the chords.
    radius : float64
        Of the circle through the vertices.
    sense : int8
        +1 curves right, -1 left.
    chord, ordinate : float64
        Longest chord, and its middle ordinate: how far the arc runs outside of it.
    """

    line: Integers
    first: Integers
    last: Integers
    start_station: Floats
    end_station: Floats
    radius: Floats
    sense: np.ndarray
    chord: Floats
    ordinate: Floats

    def __len__(self) -> int:
        return len(self.line)

    def take(self, rows: np.ndarray) -> ChordedCurves:
        """Some of the curves."""
        return ChordedCurves(**{each.name: getattr(self, each.name)[rows] for each in fields(self)})


def chorded_curves(elements: Elements, *, least: float, rounding: float) -> ChordedCurves:
    """Find curves that were drawn as chords.

    Parameters
    ----------
    elements : Elements
        The design lines.
    least : float
        A middle ordinate below this is no matter.
    rounding : float
        How far a vertex may lie off the circle.

    Returns
    -------
    ChordedCurves
        In the order of the elements. A curve has three chords or more that turn the same way by no more than 46 degrees
        a joint, vertices on one circle, and equal chords but for a shorter one at either end. Three chords alone
        must be equal, and where the line goes on, leave it as a tangent would; so must two. A corner has one joint, a
        building turns by more or does not leave as a tangent, and a dense curve stays below `least`.

    Examples
    --------
    >>> from geoqa.kernels.design.element_making import from_vertices
    >>> angle = np.radians([0, 30, 60, 90])
    >>> curve = np.column_stack([50 * np.cos(angle), 50 * np.sin(angle)])
    >>> found = chorded_curves(from_vertices(curve, np.zeros(4)), least=0.01, rounding=0.02)
    >>> found.radius.round(3).tolist(), found.ordinate.round(3).tolist(), found.sense.tolist()
    ([50.0], [1.704], [-1])
    """
    turn, radius = _joints(elements)
    joined = np.abs(turn) <= _WIDEST
    joined &= np.isfinite(radius) & (np.abs(turn) > 1e-4)
    found = []
    until = 0
    breaks = np.append(np.flatnonzero(~_goes_on(turn, radius, joined, elements.length, rounding)) + 1, len(turn))
    for joint in np.flatnonzero(_may_begin(turn, radius, joined)).tolist():
        if joint < until:
            continue
        end = int(breaks[np.searchsorted(breaks, joint, side="right")])
        curve = _curve(elements, turn, joint, end, least, rounding)
        if curve is not None:
            found.append(curve)
        until = end
    return _table(elements, found)


def as_arcs(elements: Elements, curves: ChordedCurves) -> Elements:
    """The same lines with arcs in place of the chords of curves; stations go along the arcs.

    Parameters
    ----------
    elements : Elements
    curves : ChordedCurves
        Of these elements. Every vertex stays where it is.

    Examples
    --------
    >>> from geoqa.kernels.design.element_making import from_vertices
    >>> angle = np.radians([0, 30, 60, 90])
    >>> chords = from_vertices(np.column_stack([50 * np.cos(angle), 50 * np.sin(angle)]), np.zeros(4))
    >>> arcs = as_arcs(chords, chorded_curves(chords, least=0.01, rounding=0.02))
    >>> arcs.radius.round(6).tolist(), round(float(arcs.length.sum()), 6), round(np.pi / 2 * 50, 6)
    ([50.0, 50.0, 50.0], 78.539816, 78.539816)
    """
    shape, sense = elements.shape.copy(), elements.sense.copy()
    centre, radius, length = elements.centre.copy(), elements.radius.copy(), elements.length.copy()
    for first, last, size, side in zip(curves.first, curves.last, curves.radius, curves.sense, strict=True):
        rows = np.arange(first, last + 1)
        chord = elements.end[rows] - elements.start[rows]
        half = np.hypot(*chord.T) / 2
        right = np.column_stack([chord[:, 1], -chord[:, 0]]) / (2 * half)[:, None]
        middle = (elements.start[rows] + elements.end[rows]) / 2
        centre[rows] = middle + side * right * np.sqrt(size**2 - half**2)[:, None]
        shape[rows], sense[rows], radius[rows] = 1, side, size
        length[rows] = 2 * size * np.arcsin(half / size)
    station = elements.start_station.copy()
    table = line_table(elements)
    for first, last in zip(table.first[np.isin(table.line, curves.line)], table.last[np.isin(table.line, curves.line)],
                           strict=True):  # fmt: skip
        station[first + 1 : last + 1] = station[first] + np.cumsum(length[first:last])
    return replace(elements, shape=shape, sense=sense, centre=centre, radius=radius, length=length,
                   start_station=station)  # fmt: skip


def _joints(elements: Elements) -> tuple[Floats, Floats]:
    """Turn to the right between each element and the next one, and radius of the circle through their three vertices.

    NaN where one of the two is no straight leg, or they are of different lines.
    """
    count = max(len(elements) - 1, 0)
    if not count:
        return np.zeros(0), np.zeros(0)
    tangent = start_tangents(elements)
    straight = (elements.shape == LINE) & (elements.length > 0)
    pair = straight[:-1] & straight[1:] & (elements.line[:-1] == elements.line[1:])
    (east, north), (on, up) = tangent[:-1].T, tangent[1:].T
    turn = np.where(pair, np.arctan2(east * -up + north * on, east * on + north * up), np.nan)
    across = np.hypot(*(elements.end[1:] - elements.start[:-1]).T)
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = across / (2 * np.abs(np.sin(turn)))
    return turn, radius


def _may_begin(turn: Floats, radius: Floats, joined: np.ndarray) -> np.ndarray:
    """Joints that may be the first of a curve: the next goes on with its circle, or both legs leave as tangents do."""
    if not len(turn):
        return joined
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = radius[1:] / radius[:-1]
        on = joined[1:] & (turn[1:] * turn[:-1] > 0) & (np.maximum(ratio, 1 / ratio) <= 1 + _LOOSEST)
        before, after = turn[:-1] / turn[1:], turn[1:] / turn[:-1]
    half = [np.append(False, before), np.append(after, False)]
    both = np.logical_and(*((_HALF[0] <= each) & (each <= _HALF[1]) for each in half))
    return joined & (np.append(on, False) | both)


def _goes_on(turn: Floats, radius: Floats, joined: np.ndarray, length: Floats, rounding: float) -> np.ndarray:
    """Whether each joint but the first goes on with the circle of the one before, to the same side."""
    if not len(turn):
        return np.zeros(0, dtype=bool)
    small, large = np.fmin(radius[1:], radius[:-1]), np.fmax(radius[1:], radius[:-1])
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        # a vertex off by its rounding turns a short leg by more
        felt = 1.0 / (np.minimum(length[1:], length[:-1]) * (length[1:] + length[:-1]))
        loose = np.clip(4 * rounding * small * np.maximum(felt[:-1], felt[1:]), _LOOSE, _LOOSEST)
        return np.asarray(joined[1:] & (turn[1:] * turn[:-1] > 0) & (large / small - 1 <= loose))


def _curve(
    elements: Elements, turn: Floats, joint: int, end: int, least: float, rounding: float
) -> tuple[int, int, float] | None:
    """First and last chord and radius of the curve that the joints from `joint` up to `end` make; None for none."""
    first, last = joint, end
    length = elements.length[first : last + 1]
    vertices = np.vstack([elements.start[first : last + 1], elements.end[last : last + 1]])
    radius, off = _circle(vertices)
    longest = float(length.max())
    if not radius > longest / 2:
        return None
    ordinate = radius - np.sqrt(radius**2 - longest**2 / 4)
    if ordinate < least or off > min(rounding, ordinate / 4 + least / 4):
        return None
    ends = (_leaves(turn, first - 1, first), _leaves(turn, last, last - 1))
    inner = length[1:-1]
    typical = float(np.median(inner)) if len(inner) else longest
    allowed = _EQUAL * typical + 2 * rounding
    even = not len(inner) or float(np.abs(inner - typical).max()) <= allowed
    even &= float(length.max()) <= typical + allowed
    if not even:
        return None
    if len(length) > 2 and np.abs(turn[joint:end]).max() > _CORNER:
        return None
    if len(length) == 2:
        equal = abs(length[0] - length[1]) <= allowed
        return (first, last, radius) if equal and ends == (True, True) else None
    if len(length) == 3:
        equal = float(np.ptp(length)) <= allowed
        if not equal or False in ends:
            return None
    return first, last, radius


def _leaves(turn: Floats, joint: int, next_joint: int) -> bool | None:
    """Whether a curve is left as a tangent leaves it; None where the line ends, or an arc goes on."""
    if not 0 <= joint < len(turn) or not np.isfinite(turn[joint]):
        return None
    share = turn[joint] / turn[next_joint]
    return bool(_HALF[0] <= share <= _HALF[1])


def _circle(vertices: Floats) -> tuple[float, float]:
    """Radius of the circle that fits places best, and how far the farthest lies off it."""
    middle = vertices.mean(axis=0)
    east, north = (vertices - middle).T
    matrix = np.column_stack([2 * east, 2 * north, np.ones(len(east))])
    found = np.linalg.lstsq(matrix, east**2 + north**2, rcond=None)[0]
    radius = float(np.sqrt(max(found[2] + found[0] ** 2 + found[1] ** 2, 0.0)))
    off = np.abs(np.hypot(east - found[0], north - found[1]) - radius)
    return radius, float(off.max())


def _table(elements: Elements, found: list[tuple[int, int, float]]) -> ChordedCurves:
    first, last = (np.array([each[nth] for each in found], dtype=np.int64) for nth in (0, 1))
    radius = np.array([each[2] for each in found], dtype=np.float64)
    chord = np.array([elements.length[one : other + 1].max() for one, other, _ in found], dtype=np.float64)
    turn, _ = _joints(elements)
    return ChordedCurves(
        line=elements.line[first],
        first=first,
        last=last,
        start_station=elements.start_station[first],
        end_station=elements.start_station[last] + elements.length[last],
        radius=radius,
        sense=np.sign(turn[first]).astype(np.int8) if len(first) else np.zeros(0, np.int8),
        chord=chord,
        ordinate=radius - np.sqrt(radius**2 - chord**2 / 4),
    )
