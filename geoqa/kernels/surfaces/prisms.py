"""Volumes between two triangulated surfaces, and how much each corner of the upper one has a say in them.

Faces of both are cut with each other; over each piece both are planes, so the volume is that of straight prisms, and
exact. A piece over which they cross is cut once more, along the line where they do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats, Integers

_AT_ONCE = 50_000
_NOTHING = 1e-12


@dataclass(frozen=True, kw_only=True, eq=False)
class Between:
    """What lies between a surface and another one below or above it.

    Attributes
    ----------
    above, below : float
        Volume where the surface is above the other, and where it is below; both positive.
    area, area_above : float
        In plan: where both are, and where the surface is above.
    own_area : float
        Of the surface, also where the other one is not. Where faces of the other lie over each other, `area` may be
        more.
    weight_above, weight_below : (p,) float64
        Change of `above` and of `below` by the elevation of each point of the surface: an area. Their difference sums
        to `area`, by sign: `above` grows and `below` shrinks with the surface.
    """

    above: float
    below: float
    area: float
    area_above: float
    own_area: float
    weight_above: Floats
    weight_below: Floats


def between(points: ArrayLike, faces: ArrayLike, other_points: ArrayLike, other_faces: ArrayLike) -> Between:
    """Volumes between a surface and another, over what both cover.

    Parameters
    ----------
    points, other_points : (p, 3), (q, 3) float64
        Easting, northing, elevation.
    faces, other_faces : (m, 3), (l, 3) int

    Returns
    -------
    Between

    Notes
    -----
    Net volume is linear in the elevations: Σ weight · z. What all of them share counts over the whole area; what is
    each one's own averages out.

    Examples
    --------
    A plane that rises 1 in 10 ft, through a level one along its middle: half a wedge to either side.

    >>> level = [[0, 0, 5], [10, 0, 5], [10, 6, 5], [0, 6, 5]]
    >>> tilted = [[0, 0, 4.5], [10, 0, 5.5], [10, 6, 5.5], [0, 6, 4.5]]
    >>> found = between(tilted, [[0, 1, 2], [0, 2, 3]], level, [[0, 1, 3], [1, 2, 3]])
    >>> round(found.above, 9), round(found.below, 9), round(found.area, 9)
    (7.5, 7.5, 60.0)
    """
    points, faces = np.asarray(points, dtype=np.float64).reshape(-1, 3), np.asarray(faces, np.int64).reshape(-1, 3)
    other_points = np.asarray(other_points, dtype=np.float64).reshape(-1, 3)
    other_faces = np.asarray(other_faces, np.int64).reshape(-1, 3)
    origin = points[0] if len(points) else np.zeros(3)
    corners, others = (points - origin)[faces], (other_points - origin)[other_faces]
    total = np.zeros(4)
    weight = np.zeros((2, len(points)))
    for begin in range(0, len(faces), _AT_ONCE):
        part = slice(begin, begin + _AT_ONCE)
        face, other, piece = _pieces(corners[part], others)
        share = _shares(corners[part][face], piece)
        rise = (share * corners[part][face][:, None, :, 2]).sum(axis=2)
        rise -= (_shares(others[other], piece) * others[other][:, None, :, 2]).sum(axis=2)
        size = _area(piece)
        whole = size[:, None] * share.mean(axis=1)
        net = size * rise.mean(axis=1)
        up, up_share, up_size = _above(rise, share, size)
        for sign, shares in enumerate((up_share, whole - up_share)):
            for corner in range(3):
                np.add.at(weight[sign], faces[part][face, corner], shares[:, corner])
        total += [up.sum(), (up - net).sum(), size.sum(), up_size.sum()]
    own = float(np.abs(_area(corners)).sum()) if len(faces) else 0.0
    return Between(
        above=float(total[0]), below=float(total[1]), area=float(total[2]), area_above=float(total[3]), own_area=own,
        weight_above=weight[0], weight_below=-weight[1],
    )  # fmt: skip


def _pieces(corners: Floats, others: Floats) -> tuple[Integers, Integers, Floats]:
    """Triangles, (t, 3, 2), that lie in one face of each surface, and the two faces of each."""
    import shapely

    ours, theirs = shapely.polygons(corners[:, :, :2]), shapely.polygons(others[:, :, :2])
    face, other = shapely.STRtree(theirs).query(ours, predicate="intersects")
    flat = (np.abs(_area(corners))[face] <= _NOTHING) | (np.abs(_area(others))[other] <= _NOTHING)
    face, other = face[~flat], other[~flat]
    met = shapely.intersection(ours[face], theirs[other])
    kept = np.flatnonzero((shapely.get_type_id(met) == shapely.GeometryType.POLYGON) & (shapely.area(met) > 0))
    place, of = shapely.get_coordinates(shapely.get_exterior_ring(met[kept]), return_index=True)
    # a piece of two triangles is convex: a fan from its first corner covers it
    first = np.append(True, of[1:] != of[:-1]) if len(of) else np.zeros(0, bool)
    start = np.flatnonzero(first)[of] if len(of) else np.zeros(0, np.int64)
    last = np.append(of[1:] != of[:-1], True) if len(of) else np.zeros(0, bool)
    side = np.flatnonzero(~first & ~last)
    piece = np.stack([place[start[side]], place[side], place[side + 1]], axis=1)
    own = kept[of[side]]
    kept_pieces = np.abs(_area(piece)) > 0
    return face[own][kept_pieces], other[own][kept_pieces], _anticlockwise(piece[kept_pieces])


def _anticlockwise(piece: Floats) -> Floats:
    return np.where((_area(piece) < 0)[:, None, None], piece[:, ::-1], piece)


def _area(corners: Floats) -> Floats:
    ahead, aside = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return np.asarray((ahead[:, 0] * aside[:, 1] - ahead[:, 1] * aside[:, 0]) / 2)


def _shares(corners: Floats, piece: Floats) -> Floats:
    """Shares of the corners of faces, (t, 3, 3): for each corner of a piece, those of its face."""
    a, b, c = (corners[:, None, corner, :2] for corner in range(3))

    def cross(one: Floats, two: Floats) -> Floats:
        return one[..., 0] * two[..., 1] - one[..., 1] * two[..., 0]

    whole = cross(b - a, c - a)
    second, third = cross(piece - a, c - a) / whole, cross(b - a, piece - a) / whole
    return np.stack([1 - second - third, second, third], axis=2)


def _above(rise: Floats, share: Floats, size: Floats) -> tuple[Floats, Floats, Floats]:
    """Of each piece: the volume that is above, the shares of its face in that, and the area of it.

    Parameters
    ----------
    rise : (t, 3) float64
        Of the surface over the other one at the corners of the piece.
    share : (t, 3, 3) float64
    size : (t,) float64
    """
    up = rise > 0
    count = up.sum(axis=1)
    net, whole = size * rise.mean(axis=1), size[:, None] * share.mean(axis=1)
    volume = np.where(count == 3, net, 0.0)
    shares = np.where((count == 3)[:, None], whole, 0.0)
    area = np.where(count == 3, size, 0.0)
    mixed = np.flatnonzero((count == 1) | (count == 2))
    if len(mixed):
        # the corner on its own side, and the two points where the edges from it cross the other surface
        alone = np.where(count[mixed] == 1, up[mixed].argmax(axis=1), up[mixed].argmin(axis=1))
        row = np.arange(len(mixed))
        turned = (alone[:, None] + np.arange(3)) % 3
        z, s = rise[mixed][row[:, None], turned], share[mixed][row[:, None], turned]
        with np.errstate(invalid="ignore", divide="ignore"):
            to = z[:, :1] / (z[:, :1] - z[:, 1:])
        cut = size[mixed] * to[:, 0] * to[:, 1]
        middle = (3 * s[:, 0] + to[:, :1] * (s[:, 1] - s[:, 0]) + to[:, 1:] * (s[:, 2] - s[:, 0])) / 3
        tip = cut * z[:, 0] / 3
        one = count[mixed] == 1
        volume[mixed] = np.where(one, tip, net[mixed] - tip)
        shares[mixed] = np.where(one[:, None], cut[:, None] * middle, whole[mixed] - cut[:, None] * middle)
        area[mixed] = np.where(one, cut, size[mixed] - cut)
    return volume, shares, area
