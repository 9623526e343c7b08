"""Elevation of a triangulated surface at places in plan: which face, and the plane through its corners."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError

_EDGE = 1e-9
"""Share of a face by which a place may lie outside it and still be on its edge."""


def tin_elevation(
    points: ArrayLike, faces: ArrayLike, easting: ArrayLike, northing: ArrayLike
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Interpolate elevations of a surface, face by face as it was given; nothing is triangulated anew.

    Parameters
    ----------
    points : (p, 3) float64
        Easting, northing, elevation.
    faces : (m, 3) int
        Rows of `points`.
    easting, northing : (n,) float64
        Where; NaN gives NaN.

    Returns
    -------
    elevation : (n,) float64
        NaN where no face lies.
    face : (n,) int64
        The face, the first of those that share an edge or lie over each other; -1 where none lies.
    spread : (n,) float64
        Highest minus lowest of all faces there: 0 on a sound surface, more where faces lie over each other. NaN where
        none lies.

    Raises
    ------
    GeometryInputError
        Points are not finite or faces name rows that are not there.

    Examples
    --------
    >>> plane = [[0.0, 0.0, 100.0], [100.0, 0.0, 101.0], [0.0, 100.0, 102.0]]
    >>> elevation, face, _ = tin_elevation(plane, [[0, 1, 2]], [50.0, 90.0], [25.0, 90.0])
    >>> elevation.tolist(), face.tolist()
    ([101.0, nan], [0, -1])
    """
    points, faces = np.asarray(points, dtype=np.float64).reshape(-1, 3), np.asarray(faces).reshape(-1, 3)
    if not np.isfinite(points).all():
        raise GeometryInputError("A point of the surface has no place or no elevation; every one needs three numbers.")
    if len(faces) and (faces.min() < 0 or faces.max() >= len(points)):
        raise GeometryInputError(f"A face names a point that is not among the {len(points)} of the surface.")
    place = np.column_stack(np.broadcast_arrays(np.asarray(easting, np.float64), np.asarray(northing, np.float64)))
    elevation = np.full(len(place), np.nan)
    face = np.full(len(place), -1, dtype=np.int64)
    spread = np.full(len(place), np.nan)
    if not len(faces) or not len(place):
        return elevation, face, spread
    origin = points[0]  # millions of feet would cost the digits that tell which side of an edge a place is on
    corners, there = (points - origin)[faces], place - origin[:2]
    which, on = _near(corners[:, :, :2], there)
    weights = _weights(corners[which][:, :, :2], there[on])
    inside = (weights >= -_EDGE).all(axis=1)
    which, on, weights = which[inside], on[inside], weights[inside]
    high = (weights * corners[which][:, :, 2]).sum(axis=1) + origin[2]
    order = np.lexsort((which, on))
    which, on, high = which[order], on[order], high[order]
    spot, first = np.unique(on, return_index=True)
    if len(spot):
        elevation[spot], face[spot] = high[first], which[first]
        spread[spot] = np.maximum.reduceat(high, first) - np.minimum.reduceat(high, first)
    return elevation, face, spread


def _near(corners: np.ndarray, there: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of face and place whose boxes meet."""
    import shapely

    low, high = corners.min(axis=1), corners.max(axis=1)
    tree = shapely.STRtree(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))
    known = np.flatnonzero(np.isfinite(there).all(axis=1))
    on, which = tree.query(shapely.points(there[known]))
    return which, known[on]


def _weights(corners: np.ndarray, there: np.ndarray) -> np.ndarray:
    """Shares of the three corners in a place; NaN in a face that has no area in plan."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    whole = _cross(b - a, c - a)
    whole = np.where(whole == 0.0, np.nan, whole)
    second, third = _cross(there - a, c - a) / whole, _cross(b - a, there - a) / whole
    return np.column_stack([1.0 - second - third, second, third])


def _cross(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    return one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
