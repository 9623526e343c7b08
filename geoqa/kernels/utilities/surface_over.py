"""The surface over places, as planes through the nearest points round them, and what each point weighs in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats, Integers


@dataclass(frozen=True, kw_only=True, eq=False)
class Over:
    """Triangles over places.

    Attributes
    ----------
    corner : (n, 3) int64
        Rows of the points; -1 where no triangle lies.
    weight : (n, 3) float64
        Share of each corner in the elevation there; 0 where none lies.
    """

    corner: Integers
    weight: Floats


def over(points: ArrayLike, places: ArrayLike, *, longest: float) -> Over:
    """Find the triangle of points round each place.

    Parameters
    ----------
    points : (p, 2) array
        Easting and northing of what was measured.
    places : (n, 2) array
    longest : float
        A triangle with a longer edge says nothing.

    Returns
    -------
    Over
        Nothing is extended beyond the points: a place outside of them has no triangle.

    Notes
    -----
    Triangles are those of Delaunay: no other point lies in the circle through the corners of one.

    Examples
    --------
    >>> found = over([[0, 0], [10, 0], [0, 10]], [[2, 2], [50, 50]], longest=20.0)
    >>> found.weight.round(3).tolist(), found.corner[1].tolist()
    ([[0.6, 0.2, 0.2], [0.0, 0.0, 0.0]], [-1, -1, -1])
    """
    from scipy.spatial import Delaunay, QhullError

    points, places = (np.asarray(each, dtype=np.float64).reshape(-1, 2) for each in (points, places))
    nothing = Over(corner=np.full((len(places), 3), -1), weight=np.zeros((len(places), 3)))
    if len(points) < 3 or not len(places):
        return nothing
    origin = points.mean(axis=0)
    near = points - origin
    try:
        mesh = Delaunay(near)
    except QhullError:  # all on one line
        return nothing
    at = np.nan_to_num(places - origin, nan=np.inf)
    inside = np.full(len(places), -1)
    there = np.isfinite(at).all(axis=1)
    inside[there] = mesh.find_simplex(at[there])
    row = np.flatnonzero(inside >= 0)
    corner = mesh.simplices[inside[row]]
    edges = np.linalg.norm(near[corner] - near[np.roll(corner, 1, axis=1)], axis=2)
    row, corner = row[edges.max(axis=1) <= longest], corner[edges.max(axis=1) <= longest]
    if not len(row):
        return nothing
    # corners in the order of their rows, whatever order the mesh has them in
    corner = np.sort(corner, axis=1)
    system = np.concatenate([near[corner].transpose(0, 2, 1), np.ones((len(row), 1, 3))], axis=1)
    right = np.concatenate([at[row], np.ones((len(row), 1))], axis=1)
    weight = np.linalg.solve(system, right[..., None])[..., 0]
    nothing.corner[row], nothing.weight[row] = corner, weight
    return nothing
