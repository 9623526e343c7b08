"""A surface triangulated from shots, with breaklines as edges of its faces, and no face where nobody measured.

A breakline that the triangulation does not have as an edge is halved until it has all pieces of it; what is put in
lies on the straight line between two shots, so its elevation is a mean of theirs and nothing is invented.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers

_ROUNDS = 24
"""Halvings after which a breakline is given up: pieces would be shorter than any shot is sure."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Triangulated:
    """Faces, and what their corners are made of.

    Attributes
    ----------
    plan : (p, 2) float64
        The given places first, then those put into breaklines.
    first, second : (p,) int64
        The given points that a point is a mean of; of a given one itself twice.
    share : (p,) float64
        Of the second.
    faces : (m, 3) int64
        Rows of `plan`, anticlockwise; ascending.
    missed : (b,) bool
        Breaklines that could not be made edges: they cross another one.
    """

    plan: Floats
    first: Integers
    second: Integers
    share: Floats
    faces: Integers
    missed: Booleans


def triangulated(places: ArrayLike, breaklines: ArrayLike, *, longest: float, shortest: float) -> Triangulated:
    """Triangulate places, with breaklines as edges.

    Parameters
    ----------
    places : (n, 2) float64
        No two at one place.
    breaklines : (b, 2) int
        Rows of `places`.
    longest : float
        A face with a longer edge is left out: nobody measured between its corners.
    shortest : float
        A breakline is not halved into pieces shorter than this.

    Returns
    -------
    Triangulated

    Raises
    ------
    GeometryInputError
        A place is not finite, or a breakline names a row that is not there.

    Examples
    --------
    The far corner is too far away for a face.

    >>> made = triangulated([[0, 0], [10, -1], [10, 8], [0, 9], [90, 4]], [[0, 2]], longest=20.0, shortest=0.1)
    >>> made.faces.tolist(), made.missed.tolist()
    ([[0, 1, 2], [0, 2, 3]], [False])
    """
    places = np.asarray(places, dtype=np.float64).reshape(-1, 2)
    breaklines = np.asarray(breaklines, dtype=np.int64).reshape(-1, 2)
    if not np.isfinite(places).all():
        raise GeometryInputError("A place of a surface to be triangulated is missing; leave it out first.")
    if len(breaklines) and (breaklines.min() < 0 or breaklines.max() >= len(places)):
        raise GeometryInputError(f"A breakline names a place that is not among the {len(places)}.")
    origin = places[0] if len(places) else np.zeros(2)
    local = places - origin
    missed = crossing(local, breaklines)
    first, second, share = np.arange(len(local)), np.arange(len(local)), np.zeros(len(local))
    whole = np.flatnonzero(~missed)
    pieces = np.column_stack([breaklines[whole], whole])
    plan = local
    faces = _delaunay(plan)
    for _ in range(_ROUNDS):
        lost = ~_are_edges(pieces[:, :2], faces, len(plan))
        length = np.hypot(*(plan[pieces[:, 0]] - plan[pieces[:, 1]]).T)
        missed[pieces[lost & (length < 2 * shortest), 2]] = True
        halved = np.flatnonzero(lost & (length >= 2 * shortest))
        if not len(halved) or not len(faces):
            break
        one, two, line = pieces[halved].T
        new = np.arange(len(halved)) + len(plan)
        plan = np.concatenate([plan, (plan[one] + plan[two]) / 2])
        a, b = breaklines[line].T
        first, second = np.append(first, a), np.append(second, b)
        share = np.append(share, (_along(one, a, b, first, share) + _along(two, a, b, first, share)) / 2)
        halves = np.concatenate([np.column_stack([one, new, line]), np.column_stack([new, two, line])])
        pieces = np.concatenate([np.delete(pieces, halved, axis=0), halves])
        faces = _delaunay(plan)
    return Triangulated(
        plan=plan + origin, first=first, second=second, share=share,
        faces=_within(plan, faces, longest), missed=missed,
    )  # fmt: skip


def crossing(places: Floats, breaklines: Integers) -> Booleans:
    """Breaklines that cross an earlier one, or run over it, shape (b,): the earlier one is kept.

    Examples
    --------
    >>> crossing(np.array([[0.0, 0.0], [9.0, 9.0], [0.0, 9.0], [9.0, 0.0]]), np.array([[0, 1], [2, 3]])).tolist()
    [False, True]
    """
    import shapely

    crossed = np.zeros(len(breaklines), dtype=bool)
    if len(breaklines) < 2:
        return crossed
    lines = shapely.linestrings(places[breaklines])
    one, other = shapely.STRtree(lines).query(lines, predicate="intersects")
    pair = one < other
    one, other = one[pair], other[pair]
    met = shapely.intersection(lines[one], lines[other])
    joint = (breaklines[one][:, :, None] == breaklines[other][:, None, :]).any(axis=(1, 2))
    clash = ~joint | (shapely.length(met) > 0)
    for a, b in sorted(zip(one[clash].tolist(), other[clash].tolist(), strict=True)):
        crossed[b] |= not crossed[a]
    return crossed


def _along(point: Integers, start: Integers, end: Integers, first: Integers, share: Floats) -> Floats:
    """Where on a breakline from `start` to `end` a point of it lies: 0 at the start, 1 at the end."""
    return np.where(point == start, 0.0, np.where(point == end, 1.0, share[point]))


def _delaunay(plan: Floats) -> Integers:
    from scipy.spatial import Delaunay, QhullError

    if len(plan) < 3:
        return np.zeros((0, 3), dtype=np.int64)
    try:
        faces = Delaunay(plan).simplices.astype(np.int64)
    except QhullError:  # all on one line
        return np.zeros((0, 3), dtype=np.int64)
    return faces


def _are_edges(pairs: Integers, faces: Integers, count: int) -> Booleans:
    ends = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    wanted = np.sort(pairs, axis=1)
    return np.isin(wanted[:, 0] * count + wanted[:, 1], ends[:, 0] * count + ends[:, 1])


def _within(plan: Floats, faces: Integers, longest: float) -> Integers:
    """Faces without a longer edge and with an area, anticlockwise from their lowest corner, ascending."""
    if not len(faces):
        return faces
    corner = plan[faces]
    edges = corner - np.roll(corner, -1, axis=1)
    ahead, aside = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = ahead[:, 0] * aside[:, 1] - ahead[:, 1] * aside[:, 0]
    kept = (np.hypot(edges[:, :, 0], edges[:, :, 1]).max(axis=1) <= longest) & (area != 0)
    turned = np.where((area < 0)[:, None], faces[:, ::-1], faces)[kept]
    start = turned.argmin(axis=1)
    turned = np.stack([turned[np.arange(len(turned)), (start + step) % 3] for step in range(3)], axis=1)
    return turned[np.lexsort(turned.T[::-1])]
