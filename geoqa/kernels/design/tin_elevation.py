"""Elevation of a triangulated surface at places in plan: which face, and the plane through its corners."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.face_strips import faces_over, into_strips

_NONE = np.iinfo(np.int64).max


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
    found = surface_at(points, faces, easting, northing)
    return found.elevation, found.face, found.highest - found.lowest


class SurfaceAt(NamedTuple):
    """What lies at places, (n,): the elevation and number of the first face, the lowest and highest of all faces."""

    elevation: np.ndarray
    face: np.ndarray
    lowest: np.ndarray
    highest: np.ndarray


def surface_at(points: ArrayLike, faces: ArrayLike, easting: ArrayLike, northing: ArrayLike) -> SurfaceAt:
    """Interpolate elevations of a surface, and of every face that lies over a place.

    Parameters, errors
        As of `tin_elevation`.

    Returns
    -------
    SurfaceAt
        Elevations are NaN, and the face -1, where no face lies.

    Examples
    --------
    >>> plane = [[0.0, 0.0, 100.0], [100.0, 0.0, 101.0], [0.0, 100.0, 102.0], [0.0, 0.0, 90.0]]
    >>> found = surface_at(plane, [[0, 1, 2], [3, 1, 2]], [50.0], [50.0])
    >>> found.elevation.tolist(), found.face.tolist(), (found.highest - found.lowest).tolist()
    ([101.5], [0], [0.0])
    """
    points, faces = np.asarray(points, dtype=np.float64).reshape(-1, 3), np.asarray(faces).reshape(-1, 3)
    if not np.isfinite(points).all():
        raise GeometryInputError("A point of the surface has no place or no elevation; every one needs three numbers.")
    if len(faces) and (faces.min() < 0 or faces.max() >= len(points)):
        raise GeometryInputError(f"A face names a point that is not among the {len(points)} of the surface.")
    place = np.column_stack(np.broadcast_arrays(np.asarray(easting, np.float64), np.asarray(northing, np.float64)))
    elevation, lowest, highest = np.full((3, len(place)), np.nan)
    face = np.full(len(place), -1, dtype=np.int64)
    if not len(faces) or not len(place):
        return SurfaceAt(elevation, face, lowest, highest)
    origin = points[0]  # millions of feet would cost the digits that tell which side of an edge a place is on
    local, there = points - origin, place - origin[:2]
    strips = into_strips(local[:, :2], faces, there)
    first, level = np.full(len(strips.order), _NONE), np.full(len(strips.order), np.nan)
    top, bottom = np.full(len(level), -np.inf), np.full(len(level), np.inf)
    for over in faces_over(local[:, :2], faces, strips):
        one, two, three = (local[faces[over.face, corner], 2] for corner in range(3))
        high = (1.0 - over.second - over.third) * one + over.second * two + over.third * three
        np.minimum.at(first, over.at, over.face)
        np.minimum.at(bottom, over.at, high)
        np.maximum.at(top, over.at, high)
        mine = first[over.at] == over.face
        level[over.at[mine]] = high[mine]
    found = np.flatnonzero(first < _NONE)
    on = strips.order[found]
    elevation[on], face[on] = level[found] + origin[2], first[found]
    lowest[on], highest[on] = bottom[found] + origin[2], top[found] + origin[2]
    return SurfaceAt(elevation, face, lowest, highest)


def tin_grade(points: ArrayLike, faces: ArrayLike, face: ArrayLike) -> np.ndarray:
    """Rise of faces to the east and to the north.

    Parameters
    ----------
    points, faces
        As in `tin_elevation`.
    face : (n,) int
        Rows of `faces`; -1 gives NaN.

    Returns
    -------
    (n, 2) float64
        Elevation over plan distance, towards east and towards north; NaN for a face without an area in plan.

    Examples
    --------
    >>> plane = [[0.0, 0.0, 100.0], [100.0, 0.0, 101.0], [0.0, 100.0, 102.0]]
    >>> tin_grade(plane, [[0, 1, 2]], [0, -1]).tolist()
    [[0.01, 0.02], [nan, nan]]
    """
    points, faces = np.asarray(points, dtype=np.float64).reshape(-1, 3), np.asarray(faces).reshape(-1, 3)
    face = np.asarray(face, dtype=np.int64)
    grade = np.full((len(face), 2), np.nan)
    known = np.flatnonzero(face >= 0)
    a, b, c = (points[faces[face[known], corner]] for corner in range(3))
    (bx, by, bz), (cx, cy, cz) = (b - a).T, (c - a).T
    whole = bx * cy - by * cx
    whole = np.where(whole == 0.0, np.nan, whole)
    grade[known] = np.column_stack([(bz * cy - cz * by) / whole, (cz * bx - bz * cx) / whole])
    return grade
