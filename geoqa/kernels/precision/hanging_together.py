"""Rows that hang together by what they are of: what is solved for a season is solved piece by piece."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from geoqa.kernels.arrays import Integers

TOGETHER = 1000
"""Rows, beyond which a piece is cut: time grows as their cube, and a spread is known well enough from fewer."""


def apart(point: np.ndarray, group: np.ndarray, *, most: int = TOGETHER) -> list[Integers]:
    """Part rows into pieces that share no point and no group.

    Parameters
    ----------
    point, group : (n,) arrays
        Labels: of what each row is, and with what it was measured.
    most : int
        A piece with more rows is cut between two groups. A point on both sides counts as two from there on: what is
        freed of it is freed on each side, which stays right and tells a little less.

    Returns
    -------
    list of (k,) int64 arrays
        Rows of each piece, ascending; each row in one of them.

    Examples
    --------
    >>> [rows.tolist() for rows in apart(np.array([1, 2, 1, 3]), np.array(["a", "b", "c", "b"]))]
    [[0, 2], [1, 3]]
    >>> [rows.tolist() for rows in apart(np.ones(4), np.array(["a", "b", "c", "b"]), most=2)]
    [[0, 1, 3], [2]]
    """
    if not len(point):
        return []
    points, at = np.unique(point, return_inverse=True)
    groups, of = np.unique(group, return_inverse=True)
    size = len(points) + len(groups)
    graph = coo_array((np.ones(len(at)), (at, len(points) + of)), shape=(size, size))
    piece = connected_components(graph, directed=False)[1][at]
    order = np.lexsort((np.arange(len(of)), of, piece))
    new_piece = np.append(True, np.diff(piece[order]) != 0)
    new_group = np.append(True, np.diff(of[order]) != 0)
    place = np.arange(len(order))
    begun = np.maximum.accumulate(np.where(new_group, place, 0)) - np.maximum.accumulate(np.where(new_piece, place, 0))
    cut = begun // most
    first = np.flatnonzero(new_piece | np.append(False, np.diff(cut) != 0))
    return [np.sort(rows) for rows in np.split(order, first[1:])]
