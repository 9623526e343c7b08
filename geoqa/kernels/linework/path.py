"""The line through the shots of a string: straight legs, and arcs where the crew says that it curves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.linework.circle import Circle, bulge_through_ends, fit_circle


@dataclass(frozen=True, kw_only=True, eq=False)
class Path:
    """A line through shots.

    Attributes
    ----------
    vertices : (m, 2) float64
        Places the line goes through, one a shot, and the first again where it is closed. The shots at the ends of an
        arc, and all beside straight legs, lie on it exactly; a shot within an arc gives its nearest place on it.
    bulge : (m,) float64
        Of the leg that begins at each vertex, positive where it turns left; 0 is straight.
    curve : (m,) int64
        Number of the curve of that leg, from 0; -1 for a straight one.
    off : (m,) float64
        Distance of each vertex from its shot.
    fits : tuple of Circle
        Of each curve, the circle nearest to all its shots, whether or not it goes through the first and last.
    refused : tuple of (int, int)
        First vertex and number of shots of what is said to curve and does not: fewer than three shots, or no order
        along a circle. It is drawn straight.
    """

    vertices: Floats
    bulge: Floats
    curve: Integers
    off: Floats
    fits: tuple[Circle, ...] = ()
    refused: tuple[tuple[int, int], ...] = ()


def path_through(places: ArrayLike, curving: ArrayLike, *, closed: bool = False) -> Path:
    """Make the line through shots.

    Parameters
    ----------
    places : (k, 2) array
        Easting and northing of the shots, in the order of the line; no two in a row at one place.
    curving : (k,) bool array
        The shot lies on a curve: three or more in a row make one, from the first of them to the last.
    closed : bool
        The line goes back to its first shot.

    Returns
    -------
    Path

    Raises
    ------
    GeometryInputError
        The arrays do not fit each other, or a coordinate is missing.

    Notes
    -----
    An arc goes through its first and last shot, so that the line stays whole, and as near as it can to those between.
    What circle fits all of its shots best, and how well, is in `fits`.

    Examples
    --------
    Two legs and between them a quarter circle of radius 10, turning left.

    >>> at = np.radians([-90, -60, -30, 0])
    >>> bend = np.column_stack([10 * np.cos(at), 10 * np.sin(at) + 10])
    >>> path = path_through([[-20, 0], *bend, [10, 30]], [False, True, True, True, True, False])
    >>> path.curve.tolist(), path.fits[0].radius.__round__(6), path.bulge.round(4).tolist()
    ([-1, 0, 0, 0, -1, -1], 10.0, [0.0, 0.1317, 0.1317, 0.1317, 0.0, 0.0])
    """
    places, curving = np.asarray(places, dtype=np.float64), np.asarray(curving, dtype=bool)
    if places.ndim != 2 or places.shape[1] != 2 or curving.shape != (len(places),) or not np.isfinite(places).all():
        raise GeometryInputError(
            f"Places of shape {places.shape} and words of shape {curving.shape}; give (k, 2) and (k,), none missing."
        )
    if closed and len(places):
        places, curving = np.vstack([places, places[:1]]), np.append(curving, curving[0])
    vertices, bulge, curve = places.copy(), np.zeros(len(places)), np.full(len(places), -1)
    fits: list[Circle] = []
    refused: list[tuple[int, int]] = []
    for first, last in _stretches(places, curving):
        arc = _arc(places[first : last + 1]) if last - first >= 2 else None
        if arc is None:
            refused.append((first, last - first + 1))
            continue
        vertices[first + 1 : last] = arc[0]
        bulge[first:last], curve[first:last] = arc[1], len(fits)
        fits.append(fit_circle(places[first : last + 1]))
    off = np.hypot(*(vertices - places).T)
    return Path(vertices=vertices, bulge=bulge, curve=curve, off=off, fits=tuple(fits), refused=tuple(refused))


def _stretches(places: Floats, curving: np.ndarray) -> list[tuple[int, int]]:
    """First and last vertex of every stretch that curves; one that comes back to its own beginning is two."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], curving, [False]]).astype(np.int8)))
    made: list[tuple[int, int]] = []
    for first, last in zip(edges[::2].tolist(), (edges[1::2] - 1).tolist(), strict=True):
        middle = (first + last) // 2
        whole = last - first >= 4 and (places[first] == places[last]).all()
        made += [(first, middle), (middle, last)] if whole else [(first, last)]
    return made


def _arc(places: Floats) -> tuple[Floats, Floats] | None:
    """Places on the arc between its ends, and the bulge of each of its pieces; None where the shots make no arc."""
    whole = bulge_through_ends(places)
    if not np.isfinite(whole):
        return None
    turn = 4 * np.arctan(whole)
    if abs(turn) < 1e-6:
        return None
    chord = places[-1] - places[0]
    across = np.array([-chord[1], chord[0]])
    centre = places[0] + chord / 2 + across * (1 - whole**2) / (4 * whole)
    radius = np.hypot(*(places[0] - centre))
    angle = np.arctan2(*(places - centre).T[::-1])
    reached = np.sign(turn) * (angle - angle[0]) % (2 * np.pi)
    reached[-1] = abs(turn)
    step = np.diff(reached)
    if not (step > 0).all():
        return None
    out = places[1:-1] - centre
    between = centre + out * (radius / np.hypot(*out.T))[:, None]
    return between, np.sign(turn) * np.tan(step / 4)
