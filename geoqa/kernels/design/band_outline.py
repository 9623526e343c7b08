"""The edge of a band drawn in one go, for the lines that allow it: nearly all there are.

A union of the strips beside a line gives the same area in many times as long. It is left for closed lines, sharp
bends, legs too short for the inside of their bends, and bands that run into themselves.
"""

from __future__ import annotations

import numpy as np
import shapely

from geoqa.kernels.arrays import Booleans, Floats, Integers
from geoqa.kernels.design.band_corner import bend_step, corner

_SHARP = np.radians(60)  # bends up to here leave the inside of a band simple
_FLUSH = 1e-7  # edges of two elements that differ by less at their join are one


def outlines(
    middle: Floats,
    left: Floats,
    right: Floats,
    *,
    first: Integers,
    line: Integers,
    length: Floats,
    curved: Booleans,
    max_sagitta: float,
    grid: float,
    origin: Floats,
) -> dict[int, shapely.Polygon]:
    """Draw the bands of many open lines round their edges in one go: of those whose bends need no rounding.

    Parameters
    ----------
    middle, left, right : (p, 2) array
        Places along the lines and both edges of their bands, each line from its origin.
    first : (m + 1,) int array
        Where the places of each of m elements begin.
    line : (m,) int array
        Number of the line of each element, ascending; elements of a line follow each other.
    length, curved : (m,) array
        Of the elements.
    max_sagitta, grid : float
        See `outline`.
    origin : (lines, 2) array
        To which the places are relative, by number of the line.

    Returns
    -------
    dict of int to shapely.Polygon
        By number of the line, in place; the others are left to `outline`, which gives the same where both draw.
    """
    joined = np.flatnonzero(line[1:] == line[:-1])
    end, start = first[joined + 1] - 1, first[joined + 1]
    turn, bent, cut = _bends(middle, left, right, end, start)
    needed = np.zeros(len(line))
    np.add.at(needed, joined, cut)
    np.add.at(needed, joined + 1, cut)
    bad = (np.abs(turn) > _SHARP) | (bent & (curved[joined] | curved[joined + 1]))
    usable = np.ones(len(origin), dtype=bool)
    usable[line[joined[bad]]] = False
    usable[line[(needed > length) | ~(length > 0)]] = False
    sides, kept = [], usable[line[joined]]
    joined, end, start, turn, bent = joined[kept], end[kept], start[kept], turn[kept], bent[kept]
    for edge, outside in ((left, 1.0), (right, -1.0)):
        drawn, wide = _met(edge, end, start, turn * bent, middle[end], outside, max_sagitta)
        usable[line[joined[wide]]] = False
        sides.append(drawn)
    owner = np.repeat(line, np.diff(first))
    there = usable[owner] & np.isfinite(sides[0]).all(axis=1) & np.isfinite(sides[1]).all(axis=1)
    return _rings(sides[0][there], sides[1][there], owner[there], grid, origin)


def _rings(left: Floats, right: Floats, owner: Integers, grid: float, origin: Floats) -> dict[int, shapely.Polygon]:
    """Polygons of lines whose left and right edges are given, the right one walked back."""
    if not len(left):
        return {}
    both = np.concatenate([left, right[::-1]])
    whose = np.concatenate([owner, owner[::-1]])
    order = np.argsort(whose, kind="stable")
    ring, whose = np.round(both[order] / grid) * grid, whose[order]
    same = np.append(False, (ring[1:] == ring[:-1]).all(axis=1) & (whose[1:] == whose[:-1]))
    ring, whose = ring[~same], whose[~same]
    counts = np.bincount(whose, minlength=len(origin))
    enough = counts[whose] > 2
    ring, whose = ring[enough], whose[enough]
    if not len(ring):
        return {}
    names, place = np.unique(whose, return_inverse=True)
    valid = shapely.is_valid(shapely.polygons(shapely.linearrings(ring, indices=place)))
    drawn = shapely.polygons(shapely.linearrings(ring + origin[whose], indices=place))
    return {int(name): band for name, band, sound in zip(names, drawn, valid, strict=True) if sound}


def _bends(
    middle: Floats, left: Floats, right: Floats, end: Integers, start: Integers
) -> tuple[Floats, Booleans, Floats]:
    """Turn at each join (left positive), whether it bends at all, and how much of both legs its inside takes."""
    one, other = left[end] - right[end], left[start] - right[start]
    turn = np.arctan2(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0], (one * other).sum(axis=1))
    bent = np.abs(turn) * np.hypot(*one.T) > _FLUSH
    inner = np.where((turn > 0)[:, None], left[end], right[end])
    cut = np.where(bent, np.hypot(*(inner - middle[end]).T) * (np.tan(np.abs(turn) / 2) + np.sin(np.abs(turn))), 0.0)
    return turn, bent, cut


def outline(
    middle: Floats,
    left: Floats,
    right: Floats,
    *,
    first: Integers,
    length: Floats,
    curved: Booleans,
    max_sagitta: float,
    grid: float,
) -> shapely.Polygon | None:
    """Draw the band of one open line round its edge.

    Parameters
    ----------
    middle, left, right : (p, 2) array
        Places along the line and both edges of its band, from a local origin.
    first : (m + 1,) int array
        Where the places of each of m elements begin; each has its first and last place.
    length : (m,) array
        Of the elements.
    curved : (m,) bool array
        Which are arcs.
    max_sagitta : float
        Largest distance between a drawn edge and the true one.
    grid : float
        To which corners are rounded.

    Returns
    -------
    shapely.Polygon or None
        None where the band has to be put together from its strips.

    Examples
    --------
    >>> middle = np.array([[0.0, 0.0], [0.0, 50.0]])
    >>> first, length, curved = np.array([0, 2]), np.array([50.0]), np.array([False])
    >>> drawn = outline(
    ...     middle, middle - [1, 0], middle + [2, 0],
    ...     first=first, length=length, curved=curved, max_sagitta=0.01, grid=1e-6,
    ... )
    >>> drawn.bounds
    (-1.0, 0.0, 2.0, 50.0)
    """  # fmt: skip
    end, start = first[1:-1] - 1, first[1:-1]
    turn, bent, cut = _bends(middle, left, right, end, start)
    needed = np.append(cut, 0.0) + np.append(0.0, cut)
    if (np.abs(turn) > _SHARP).any() or (bent & (curved[:-1] | curved[1:])).any() or (needed > length).any():
        return None
    joins = [(end, start, turn * bent, middle[end])]
    sides = [_side(edge, *joins[0], outside, max_sagitta) for edge, outside in ((left, 1.0), (right, -1.0))]
    ring = np.round(np.concatenate([sides[0], sides[1][::-1]]) / grid) * grid
    ring = ring[np.append(True, (np.diff(ring, axis=0) != 0).any(axis=1))]
    if len(ring) < 3:
        return None
    drawn = shapely.Polygon(ring)
    return drawn if drawn.is_valid else None


def _side(
    edge: Floats, end: Integers, start: Integers, turn: Floats, vertex: Floats, outside: float,
    max_sagitta: float,
) -> Floats:  # fmt: skip
    """One edge with its joins: met at one corner on the inside of a bend, rounded on the outside."""
    drawn, wide = _met(edge, end, start, turn, vertex, outside, max_sagitta)
    if not wide.any():
        return drawn
    arm = edge[end] - vertex
    rounded = [corner(vertex[row], arm[row], turn[row], max_sagitta)[1:-1] for row in np.flatnonzero(wide)]
    return np.insert(drawn, np.repeat(start[wide], [len(part) for part in rounded]), np.concatenate(rounded), axis=0)


def _met(
    edge: Floats, end: Integers, start: Integers, turn: Floats, vertex: Floats, outside: float,
    max_sagitta: float,
) -> tuple[Floats, Booleans]:  # fmt: skip
    """One edge met at a corner inside of each bend, and the joins that open so wide that they are to be rounded."""
    drawn = edge.copy()
    one, other = edge[end] - vertex, edge[start] - vertex
    square = (one**2).sum(axis=1)
    inside = turn * outside > 0
    meet = vertex + (one + other) * np.divide(
        square, square + (one * other).sum(axis=1), out=np.zeros_like(square), where=square > 0
    )[:, None]  # fmt: skip
    drawn[end[inside]] = meet[inside]
    joined = inside | (turn == 0)
    drawn[start[joined]] = drawn[end[joined]]
    opens = (turn * outside < 0) & (square > 0)
    return drawn, opens & (np.abs(turn) > bend_step(np.sqrt(np.where(square > 0, square, 1.0)), max_sagitta))
