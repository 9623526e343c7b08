"""Which places lie under which faces: both sorted into strips, joined strip by strip.

Places are sorted by strip, and by column within it, so that what a face may cover in one strip is one range of them.
A strip is as high as the usual face, so that all faces together cross few more strips than there are faces, however
long single ones are; a face that crosses many is clipped to each of them, or a sliver across the site would be asked
about all places in its box.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from geoqa.kernels.arrays import Floats, Integers

_HIGH = 0.75  # of the mean height of a face's box
_WIDE = 0.25  # of the mean width of a face's box
_CLIPPED = 4  # strips; a face that crosses as many is clipped to each of them
_SLACK = 1e-6  # of a strip or a column
_FACES = 1 << 16
_PAIRS = 1 << 18
_MOST_STRIPS = 1 << 30
_EDGE = 1e-9
"""Share of a face by which a place may lie outside it and still be on its edge."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Strips:
    """Places in plan, sorted; made by `into_strips`.

    Attributes
    ----------
    low : (2,) float64
        Corner of the first strip's first column.
    high, wide : float
        Height of a strip, width of a column.
    rows, columns : int
        How many.
    order : (k,) int64
        Rows of the places that lie in the box of all faces, sorted.
    key : (k,) int64
        Strip and column of each in one number, ascending.
    place : (k, 2) float64
        The places themselves.
    boxes : (4, m) float64
        West, south, east and north end of every face.
    """

    low: Floats
    high: float
    wide: float
    rows: int
    columns: int
    order: Integers
    key: Integers
    place: Floats
    boxes: Floats


class Over(NamedTuple):
    """Pairs of a place and a face over it: row in `Strips.order`, face, shares of its second and third corner."""

    at: Integers
    face: Integers
    second: Floats
    third: Floats


def into_strips(corners: Floats, faces: Integers, place: Floats) -> Strips:
    """Sort places into strips that suit the faces.

    Parameters
    ----------
    corners : (p, 2) float64
        Points of the surface in plan.
    faces : (m, 3) int
        At least one.
    place : (n, 2) float64
        NaN and what lies beyond all points is left out.
    """
    low, top = corners.min(axis=0), corners.max(axis=0)
    boxes = _boxes(corners, faces)
    size = (boxes[2:] - boxes[:2]).mean(axis=1)
    extent = np.maximum(top - low, 1e-9)
    wide, high = np.maximum(size * [_WIDE, _HIGH], extent / _MOST_STRIPS).tolist()
    slack = np.array([_SLACK * wide, _SLACK * high])  # a place on the rim is not lost to rounding
    low = low - slack
    columns, rows = (np.floor((extent + 2 * slack) / [wide, high]).astype(np.int64) + 1).tolist()
    with np.errstate(invalid="ignore"):
        order = np.flatnonzero(((place >= low) & (place <= top + slack)).all(axis=1))
    key = np.floor((place[order, 1] - low[1]) / high).astype(np.int64) * columns
    key += np.floor((place[order, 0] - low[0]) / wide).astype(np.int64)
    sorting = np.argsort(key)
    order = order[sorting]
    return Strips(
        low=low, high=high, wide=wide, rows=rows, columns=columns, order=order, key=key[sorting], place=place[order],
        boxes=boxes,
    )  # fmt: skip


def _boxes(corners: Floats, faces: Integers) -> Floats:
    boxes = np.empty((4, len(faces)))
    for axis in (0, 1):
        along = np.ascontiguousarray(corners[:, axis])
        for begin in range(0, len(faces), _FACES):
            part = slice(begin, begin + _FACES)
            one, two, three = along[faces[part].T]
            np.minimum(np.minimum(one, two), three, out=boxes[axis, part])
            np.maximum(np.maximum(one, two), three, out=boxes[axis + 2, part])
    return boxes


def faces_over(corners: Floats, faces: Integers, strips: Strips) -> Iterator[Over]:
    """Faces over the places, some hundred thousand pairs at a time, in no order that means anything.

    A place on an edge is under all faces that share it; a face without an area in plan is over no place.

    Parameters
    ----------
    corners, faces
        As in `into_strips`.
    strips : Strips

    Examples
    --------
    >>> corners, faces = np.array([[0.0, 0.0], [9.0, 0.0], [0.0, 9.0]]), np.array([[0, 1, 2]])
    >>> strips = into_strips(corners, faces, np.array([[1.0, 1.0], [8.0, 8.0]]))
    >>> [(strips.order[over.at].tolist(), over.face.tolist()) for over in faces_over(corners, faces, strips)]
    [([0], [0])]
    """
    west, south, _, north = strips.boxes
    first = _strip(south, strips)
    count = _strip(north, strips) - first + 1
    # neighbours one after the other find their places close together in memory
    sorting = np.argsort(first * strips.columns + np.floor((west - strips.low[0]) / strips.wide).astype(np.int64))
    for begin in range(0, len(faces), _FACES):
        number = sorting[begin : begin + _FACES]
        shape = corners[faces[number]]
        inverse = _inverse(shape)
        for few in _parts(count[number]):  # a face that crosses many strips makes many pairs: fewer faces at once
            mine = number[few]
            for face, at in _pairs(shape[few], strips.boxes[::2, mine], first[mine], count[mine], strips):
                second, third = _shares(inverse[few], face, strips.place[at])
                on = np.flatnonzero((second >= -_EDGE) & (third >= -_EDGE) & (second + third <= 1.0 + _EDGE))
                yield Over(at[on], mine[face[on]], second[on], third[on])


def _strip(northing: Floats, strips: Strips) -> Integers:
    found = np.floor((northing - strips.low[1]) / strips.high).astype(np.int64)
    return np.clip(found, 0, strips.rows - 1)


def _parts(count: Integers) -> Iterator[slice]:
    """Slices of faces that cross at most `_PAIRS` strips together, or are one."""
    ends, begin = np.append(0, np.cumsum(count)), 0
    while begin < len(count):
        stop = max(int(np.searchsorted(ends, ends[begin] + _PAIRS, side="right")) - 1, begin + 1)
        yield slice(begin, stop)
        begin = stop


def _inverse(shape: Floats) -> Floats:
    """What makes shares of corners of a place: first corner and inverse of the two edges from it, (f, 6)."""
    first, ahead, aside = shape[:, 0], shape[:, 1] - shape[:, 0], shape[:, 2] - shape[:, 0]
    whole = ahead[:, 0] * aside[:, 1] - ahead[:, 1] * aside[:, 0]
    whole = np.where(whole == 0.0, np.nan, whole)
    return np.column_stack(
        [first, aside[:, 1] / whole, -aside[:, 0] / whole, -ahead[:, 1] / whole, ahead[:, 0] / whole]
    )


def _shares(inverse: Floats, face: Integers, place: Floats) -> tuple[Floats, Floats]:
    known = inverse[face]
    east, north = place[:, 0] - known[:, 0], place[:, 1] - known[:, 1]
    return east * known[:, 2] + north * known[:, 3], east * known[:, 4] + north * known[:, 5]


def _pairs(
    shape: Floats, sides: Floats, first: Integers, count: Integers, strips: Strips
) -> Iterator[tuple[Integers, Integers]]:
    """Pairs of face and place that may meet, of faces that lie in `count` strips from `first` on; each pair once."""
    face = np.repeat(np.arange(len(shape)), count)
    strip = np.repeat(first - np.cumsum(count) + count, count) + np.arange(len(face))
    left, right = sides[:, face]
    long = np.flatnonzero(np.repeat(count >= _CLIPPED, count))
    if len(long):
        left[long], right[long] = _clipped(shape[face[long]], strips.low[1] + strip[long] * strips.high, strips.high)
    slack = _SLACK * strips.wide
    leftmost = np.clip(np.floor((left - slack - strips.low[0]) / strips.wide), 0, strips.columns)
    rightmost = np.clip(np.floor((right + slack - strips.low[0]) / strips.wide), -1, strips.columns - 1)
    begin = strip * strips.columns
    start = np.searchsorted(strips.key, begin + leftmost.astype(np.int64))
    stop = np.searchsorted(strips.key, begin + rightmost.astype(np.int64), side="right")
    some = np.flatnonzero(stop > start)
    face, start, size = face[some], start[some], (stop - start)[some]
    ends = np.append(0, np.cumsum(size))
    for low in range(0, int(ends[-1]), _PAIRS):
        high = min(low + _PAIRS, int(ends[-1]))
        a, b = int(np.searchsorted(ends, low, side="right")) - 1, int(np.searchsorted(ends, high))
        here = np.diff(np.clip(ends[a : b + 1], low, high))
        yield np.repeat(face[a:b], here), np.repeat(start[a:b] - ends[a:b], here) + np.arange(low, high)


def _clipped(shape: Floats, bottom: Floats, high: float) -> tuple[Floats, Floats]:
    """Least and greatest easting of each face, (c, 3, 2), between `bottom` and a strip's height above it."""
    left, right = np.full((2, len(shape)), np.nan)
    slack = _SLACK * high
    for one, other in ((0, 1), (1, 2), (2, 0)):
        start, run = shape[:, one], shape[:, other] - shape[:, one]
        with np.errstate(divide="ignore", invalid="ignore"):
            at = np.stack([bottom - slack - start[:, 1], bottom + high + slack - start[:, 1]]) / run[:, 1]
        enter, leave = np.maximum(at.min(axis=0), 0.0), np.minimum(at.max(axis=0), 1.0)
        level = run[:, 1] == 0
        within = (start[:, 1] >= bottom - slack) & (start[:, 1] <= bottom + high + slack)
        enter, leave = np.where(level, 0.0, enter), np.where(level, np.where(within, 1.0, -1.0), leave)
        for share in (enter, leave):
            east = np.where(enter <= leave, start[:, 0] + share * run[:, 0], np.nan)
            left, right = np.fmin(left, east), np.fmax(right, east)
    return np.where(np.isnan(left), np.inf, left), np.where(np.isnan(right), -np.inf, right)
