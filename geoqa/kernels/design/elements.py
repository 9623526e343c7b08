"""Design lines as elements: straight legs and true circular arcs, in parallel arrays.

Every kernel that measures along or beside a design line reads this record. An
arc stays an arc; chords exist for drawing only.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers

LINE = 0
ARC = 1

_TYPES = {"line": np.int64, "shape": np.int8, "sense": np.int8}
_PAIRS = ("start", "end", "centre")


@dataclass(frozen=True, kw_only=True, eq=False)
class Elements:
    """Elements of design lines, one row an element.

    Elements of one line stand together, in the order of their stations, and
    lines stand in the order of their numbers. Arrays are read-only.

    Attributes
    ----------
    line : (m,) int64
        Number of the line; does not decrease from row to row.
    shape : (m,) int8
        0 straight, 1 arc.
    start, end : (m, 2) float64
        Easting and northing. One linear unit throughout.
    centre : (m, 2) float64
        Centre of an arc; NaN for a straight element.
    radius : (m,) float64
        Radius of an arc, positive; NaN for a straight element.
    sense : (m,) int8
        +1 curves right (clockwise), -1 curves left, 0 straight.
    start_station, length : (m,) float64
        Station at the start, and length along the element.
    start_elevation, end_elevation : (m,) float64
        Design elevation at the ends; NaN where unknown.
    tolerance : float
        How far ends, radii and stations of the input may disagree before they
        are refused; also how close the two ends of a line must be to close it.

    Raises
    ------
    GeometryInputError
        If shapes of arrays differ, a coordinate is missing, an arc does not
        fit its centre and radius, or elements of one line do not join.

    Examples
    --------
    >>> from geoqa.kernels.design.element_making import from_vertices
    >>> leg = from_vertices([[0, 0], [30, 40]], [0, 0], start_station=100.0)
    >>> len(leg), leg.length.tolist(), leg.start_station.tolist()
    (1, [50.0], [100.0])
    """

    line: Integers
    shape: np.ndarray
    start: Floats
    end: Floats
    centre: Floats
    radius: Floats
    sense: np.ndarray
    start_station: Floats
    length: Floats
    start_elevation: Floats
    end_elevation: Floats
    tolerance: float = 0.005

    def __post_init__(self) -> None:
        for field in fields(self):
            if field.name == "tolerance":
                continue
            values = np.array(getattr(self, field.name), dtype=_TYPES.get(field.name, np.float64))
            if field.name in _PAIRS and values.size == 0:
                values = values.reshape(0, 2)
            values.setflags(write=False)
            object.__setattr__(self, field.name, values)
        _check(self)

    def __len__(self) -> int:
        return len(self.line)

    @property
    def curvature(self) -> Floats:
        """Signed curvature, sense over radius; 0 for straight elements."""
        return np.divide(self.sense, self.radius, out=np.zeros(len(self)), where=self.shape == ARC)


@dataclass(frozen=True, kw_only=True, eq=False)
class LineTable:
    """What each line is as a whole, one row a line.

    Attributes
    ----------
    line : (k,) int64
        Numbers of the lines, ascending.
    first, last : (k,) int64
        First and last element row.
    start_station, end_station : (k,) float64
        Stations of the two ends.
    closed : (k,) bool
        The end joins the start, and the line is longer than its tolerance.
    """

    line: Integers
    first: Integers
    last: Integers
    start_station: Floats
    end_station: Floats
    closed: Booleans


def line_table(elements: Elements) -> LineTable:
    """Rows, stations and closure of every line.

    Parameters
    ----------
    elements : Elements
        Any number of lines.

    Returns
    -------
    LineTable
        One row per line, in the order of `elements`.

    Examples
    --------
    >>> from geoqa.kernels.design.element_making import from_vertices
    >>> square = from_vertices([[0, 0], [0, 9], [9, 9], [9, 0], [0, 0]], [4] * 5)
    >>> table = line_table(square)
    >>> table.line.tolist(), table.end_station.tolist(), table.closed.tolist()
    ([4], [36.0], [True])
    """
    line, first = np.unique(elements.line, return_index=True)
    last = np.append(first[1:], len(elements))[: len(first)] - 1
    start_station = elements.start_station[first]
    end_station = elements.start_station[last] + elements.length[last]
    gap = np.hypot(*(elements.end[last] - elements.start[first]).T)
    closed = (gap <= elements.tolerance) & (end_station - start_station > 2 * elements.tolerance)
    return LineTable(
        line=line, first=first, last=last, start_station=start_station, end_station=end_station, closed=closed
    )


def start_tangents(elements: Elements, row: np.ndarray | slice = slice(None)) -> Floats:
    """Unit tangent at the start of elements, shape (m, 2).

    NaN for an element without length. On an arc the tangent is square to the
    radius through the start point.
    """
    start = elements.start[row]
    chord = elements.end[row] - start
    size = np.hypot(chord[:, 0], chord[:, 1])
    tangent = np.divide(chord, size[:, None], out=np.full(chord.shape, np.nan), where=size[:, None] > 0)
    arc = np.flatnonzero(elements.shape[row] == ARC)
    if arc.size:
        radial = start[arc] - elements.centre[row][arc]
        normal = -elements.sense[row][arc, None] * radial / np.hypot(radial[:, 0], radial[:, 1])[:, None]
        tangent[arc] = np.column_stack([-normal[:, 1], normal[:, 0]])
    return tangent


def end_tangents(elements: Elements) -> Floats:
    """Unit tangent at the end of every element, shape (m, 2); NaN without length."""
    return turned(start_tangents(elements), elements.curvature * elements.length)


def turned(tangent: Floats, angle: Floats) -> Floats:
    """Directions turned to the right by an angle in radians."""
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    return tangent * np.cos(angle)[:, None] + normal * np.sin(angle)[:, None]


def _check(elements: Elements) -> None:
    """Refuse elements that contradict themselves, at the first one found wrong: line, element and row are named.

    A wrong radius or a gap inside a line would move verdicts without a word.
    """
    _check_sizes(elements)
    _check_values(elements)
    _check_order(elements)
    _check_lengths(elements)
    _check_joints(elements)


def _check_sizes(elements: Elements) -> None:
    rows = len(elements.line)
    for name in ("line", "shape", "radius", "sense", "start_station", "length", "start_elevation", "end_elevation"):
        _expect_shape(name, getattr(elements, name), (rows,))
    for name in ("start", "end", "centre"):
        _expect_shape(name, getattr(elements, name), (rows, 2))
    if not (np.isfinite(elements.tolerance) and elements.tolerance > 0):
        raise GeometryInputError(f"The tolerance of elements is {elements.tolerance}; give a positive length.")


def _expect_shape(name: str, values: np.ndarray, shape: tuple[int, ...]) -> None:
    if values.shape != shape:
        raise GeometryInputError(
            f"Element array '{name}' has shape {values.shape}, but 'line' asks for {shape}; give one row per element."
        )


def _check_values(elements: Elements) -> None:
    arc = elements.shape == 1
    _refuse(elements, ~np.isin(elements.shape, (0, 1)), "has a shape other than 0 (straight) or 1 (arc)")
    known = np.isfinite(elements.start).all(axis=1) & np.isfinite(elements.end).all(axis=1)
    known &= np.isfinite(elements.start_station) & np.isfinite(elements.length)
    _refuse(elements, ~known, "lacks a start, end, station or length; leave such lines out")
    _refuse(elements, elements.length < 0, "has a negative length; turn the element round")
    circle = np.isfinite(elements.centre).all(axis=1) & (elements.radius > 0) & np.isfinite(elements.radius)
    _refuse(elements, arc & ~circle, "is an arc without a centre and a positive radius")
    _refuse(elements, arc & (np.abs(elements.sense) != 1), "is an arc whose sense is neither +1 (right) nor -1 (left)")
    _refuse(elements, arc & (elements.length == 0), "is an arc without length; leave it out")
    _refuse(elements, ~arc & (elements.sense != 0), "is straight, but its sense is not 0")


def _check_order(elements: Elements) -> None:
    wrong = np.append(False, np.diff(elements.line) < 0)[: len(elements.line)]
    _refuse(elements, wrong, "comes after a higher line number; sort the elements by line and station")


def _check_lengths(elements: Elements) -> None:
    allowed = elements.tolerance
    chord = np.hypot(*(elements.end - elements.start).T)
    wrong = (elements.shape == 0) & (np.abs(chord - elements.length) > allowed)
    _refuse(elements, wrong, "is not as long as its ends are apart", allowed)
    arc = np.flatnonzero(elements.shape == 1)
    if arc.size:
        _check_arcs(elements, arc)


def _check_arcs(elements: Elements, arc: Integers) -> None:
    allowed = elements.tolerance
    start, end, centre = elements.start[arc], elements.end[arc], elements.centre[arc]
    radius, length = elements.radius[arc], elements.length[arc]
    for name, place in (("start", start), ("end", end)):
        wrong = np.abs(np.hypot(*(place - centre).T) - radius) > allowed
        what = f"is an arc whose {name} does not lie at its radius from its centre"
        _refuse(elements, arc[wrong], what, allowed)
    longer = length > 2 * np.pi * radius + allowed
    _refuse(elements, arc[longer], "is an arc longer than its full circle", allowed)

    turn = elements.sense[arc] * length / radius
    cosine, sine = np.cos(turn), np.sin(turn)
    east, north = (start - centre).T
    reached = centre + np.column_stack([east * cosine + north * sine, north * cosine - east * sine])
    # a radius off by the tolerance moves the far end by up to about twice that
    wrong = np.hypot(*(reached - end).T) > 3 * allowed
    _refuse(elements, arc[wrong], "is an arc whose length and sense do not lead from its start to its end", allowed)


def _check_joints(elements: Elements) -> None:
    allowed = elements.tolerance
    same = elements.line[1:] == elements.line[:-1]
    gap = np.hypot(*(elements.start[1:] - elements.end[:-1]).T)
    wrong = np.append(False, same & (gap > allowed))[: len(elements.line)]
    _refuse(
        elements, wrong, "does not begin where the one before it ends; give the parts as lines of their own", allowed
    )
    step = elements.start_station[1:] - elements.start_station[:-1] - elements.length[:-1]
    wrong = np.append(False, same & (np.abs(step) > allowed))[: len(elements.line)]
    _refuse(elements, wrong, "does not take over the station of the one before it; keep equations as labels", allowed)


def _refuse(elements: Elements, wrong: np.ndarray, what: str, allowed: float | None = None) -> None:
    rows = np.flatnonzero(wrong) if wrong.dtype == bool else wrong
    if not rows.size:
        return
    row = rows[0]
    within = row - int(np.argmax(elements.line == elements.line[row]))
    limit = "" if allowed is None else f" (allowed {allowed:g})"
    more = "" if rows.size == 1 else f"; {rows.size - 1} more like it"
    raise GeometryInputError(f"Line {elements.line[row]}, element {within} (row {row}) {what}{limit}{more}.")
