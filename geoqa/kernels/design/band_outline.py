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
    one, other = left[end] - right[end], left[start] - right[start]
    turn = np.arctan2(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0], (one * other).sum(axis=1))  # left positive
    bent = np.abs(turn) * np.hypot(*one.T) > _FLUSH
    inner = np.where((turn > 0)[:, None], left[end], right[end])
    cut = np.where(bent, np.hypot(*(inner - middle[end]).T) * (np.tan(np.abs(turn) / 2) + np.sin(np.abs(turn))), 0.0)
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
    wide = opens & (np.abs(turn) > bend_step(np.sqrt(np.where(square > 0, square, 1.0)), max_sagitta))
    if not wide.any():
        return drawn
    rounded = [corner(vertex[row], one[row], turn[row], max_sagitta)[1:-1] for row in np.flatnonzero(wide)]
    return np.insert(drawn, np.repeat(start[wide], [len(part) for part in rounded]), np.concatenate(rounded), axis=0)
