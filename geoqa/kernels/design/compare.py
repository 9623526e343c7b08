"""How far two lines are apart as wholes, and how much of one runs inside a band round the other."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError


class LineDistance(NamedTuple):
    """Hausdorff and Fréchet distance, in the unit of the coordinates."""

    hausdorff: float
    frechet: float


def line_distance(first: ArrayLike, second: ArrayLike, *, densify: float | None = None) -> LineDistance:
    """Discrete Hausdorff and Fréchet distance of two lines.

    The Hausdorff distance is the farthest that any vertex of one lies from the
    other. The Fréchet distance also respects the order along the lines, vertex
    by vertex: what two walkers who never turn back need between them.

    Parameters
    ----------
    first, second : (k, 2) array
        Vertices in order; a single vertex is a point.
    densify : float, optional
        Longest distance between vertices; more are put in between where needed.
        Both measures look at vertices only, so sparse lines without it can be
        judged too near (Hausdorff) or too far apart (Fréchet). Time grows with
        the product of the numbers of vertices.

    Returns
    -------
    LineDistance
        NaN if either line has no vertex or a vertex lacks a coordinate.

    Raises
    ------
    GeometryInputError
        If coordinates are not pairs or `densify` is not positive.

    Examples
    --------
    >>> line_distance([[0, 0], [100, 0]], [[0, 0], [50, 50], [100, 0]], densify=50.0)
    LineDistance(hausdorff=50.0, frechet=50.0)
    """
    if densify is not None and not densify > 0:
        raise GeometryInputError(f"Lines cannot be densified to {densify}; give a positive length.")
    first, second = _vertices(first), _vertices(second)
    if not (len(first) and len(second) and np.isfinite(first).all() and np.isfinite(second).all()):
        return LineDistance(float("nan"), float("nan"))
    one, other = (_shape(vertices - first[0]) for vertices in (first, second))
    if densify is not None:
        one, other = shapely.segmentize(one, densify), shapely.segmentize(other, densify)
    return LineDistance(float(shapely.hausdorff_distance(one, other)), float(shapely.frechet_distance(one, other)))


def share_inside(line: ArrayLike, reference: ArrayLike, *, width: float) -> float:
    """Share of a line's length inside a flat-ended band round a reference line.

    Parameters
    ----------
    line, reference : (k, 2) array
        Vertices in order.
    width : float
        Half the width of the band: the distance from the reference. Its ends
        are flat, so what runs past the reference is outside.

    Returns
    -------
    float
        From 0 to 1; NaN if a line has no length or a vertex lacks a coordinate.

    Raises
    ------
    GeometryInputError
        If coordinates are not pairs or `width` is not positive.

    Examples
    --------
    >>> round(share_inside([[0, 0], [100, 4]], [[0, 0], [100, 0]], width=1.0), 9)
    0.25
    """
    if not (np.isfinite(width) and width > 0):
        raise GeometryInputError(f"A band of width {width} has no inside; give a positive length.")
    line, reference = _vertices(line), _vertices(reference)
    if min(len(line), len(reference)) < 2 or not (np.isfinite(line).all() and np.isfinite(reference).all()):
        return float("nan")
    origin = reference[0]
    line, reference = line - origin, reference - origin
    # leg by leg, so that a stretch walked twice counts twice
    legs = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    total = shapely.length(legs).sum()
    path = shapely.LineString(reference)
    if total == 0 or path.length == 0:
        return float("nan")
    band = path.buffer(width, cap_style="flat", quad_segs=32)
    return float(shapely.length(shapely.intersection(legs, band)).sum() / total)


def _vertices(given: ArrayLike) -> np.ndarray:
    vertices = np.asarray(given, dtype=np.float64)
    if vertices.size == 0:
        return vertices.reshape(0, 2)
    if vertices.ndim != 2 or vertices.shape[1] != 2:
        raise GeometryInputError(f"Vertices of a line have shape {vertices.shape}; give (k, 2) eastings and northings.")
    return vertices


def _shape(vertices: np.ndarray) -> shapely.Geometry:
    return shapely.Point(vertices[0]) if len(vertices) == 1 else shapely.LineString(vertices)
