"""The outline of a triangulated surface: what lies in a hole of it, and what beyond its edge."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Booleans, Integers


def outer_edges(faces: ArrayLike) -> Integers:
    """Edges that one face alone has: those round the surface and round its holes.

    Parameters
    ----------
    faces : (m, 3) int
        Rows of points.

    Returns
    -------
    (e, 2) int64
        Rows of points, the lower one first, ascending.

    Examples
    --------
    >>> outer_edges([[0, 1, 2], [1, 3, 2]]).tolist()
    [[0, 1], [0, 2], [1, 3], [2, 3]]
    """
    faces = np.asarray(faces, dtype=np.int64).reshape(-1, 3)
    ends = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    most = int(faces.max(initial=0)) + 1
    edges, count = np.unique(ends[:, 0] * most + ends[:, 1], return_counts=True)
    alone = edges[count == 1]
    return np.column_stack([alone // most, alone % most])


def in_outline(corners: ArrayLike, faces: ArrayLike, places: ArrayLike) -> Booleans:
    """Whether places lie within the outermost edge of a surface; one without a face over it then lies in a hole.

    Parameters
    ----------
    corners : (p, 2) float64
        Points of the surface in plan.
    faces : (m, 3) int
    places : (n, 2) float64

    Returns
    -------
    (n,) bool

    Examples
    --------
    A frame of eight faces round a hole.

    >>> corners = [[0, 0], [9, 0], [9, 9], [0, 9], [3, 3], [6, 3], [6, 6], [3, 6]]
    >>> ring = [[a, (a + 1) % 4, 4 + a] for a in range(4)] + [[4 + a, (a + 1) % 4, 4 + (a + 1) % 4] for a in range(4)]
    >>> in_outline(corners, ring, [[4.5, 4.5], [1.0, 4.5], [12.0, 4.5]]).tolist()
    [True, True, False]
    """
    import shapely

    places = np.asarray(places, dtype=np.float64).reshape(-1, 2)
    if not len(places) or not len(np.asarray(faces)):
        return np.zeros(len(places), dtype=bool)
    corners = np.asarray(corners, dtype=np.float64)
    local = corners - corners[0]
    rings = shapely.get_parts(shapely.polygonize(shapely.linestrings(local[outer_edges(faces)])))
    whole = shapely.union_all(shapely.polygons(shapely.get_exterior_ring(rings)))
    shapely.prepare(whole)
    return np.asarray(shapely.intersects(whole, shapely.points(places - corners[0])), dtype=bool)
