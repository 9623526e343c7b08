"""What must hold before a set of elements can be measured against.

A wrong radius or a gap inside a line would move verdicts without a word, so it
is refused at birth, with the line and the element named.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from geoqa.errors import GeometryInputError

if TYPE_CHECKING:
    from geoqa.kernels.elements import Elements


def check_elements(elements: Elements) -> None:
    """Refuse elements that contradict themselves.

    Parameters
    ----------
    elements : Elements
        The record under construction.

    Raises
    ------
    GeometryInputError
        At the first element found wrong; names line, element and row.
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


def _check_arcs(elements: Elements, arc: np.ndarray) -> None:
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
