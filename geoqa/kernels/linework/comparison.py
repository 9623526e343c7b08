"""How a line that was built lies beside the line it should be: share within a band, distances, area between."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats

_STEPS = 200
"""Pieces that the shorter of two lines is cut to, at the least, before their distance is taken vertex by vertex."""
_MOST = 2000
"""Pieces of the longer one, at the most: the table of distances grows as its square."""
_ROUND = 32
"""Chords of a quarter circle in a buffer: they stay within a thousandth of its width."""


def inside_length(line: ArrayLike, reference: ArrayLike, left: ArrayLike, right: ArrayLike) -> Floats:
    """Length of each leg of a line that lies within a band along another.

    Parameters
    ----------
    line : (k, 2) array
        Vertices of the line that is tested.
    reference : (m, 2) array
        Vertices of the line that the band lies along.
    left, right : float or (k - 1,) array
        How far the band reaches to the left and right of the reference, for each leg; nothing lies within where both
        are negative, and a band of which one side is negative begins that far on the other side.
    levels : int
        A band of its own is made for so many widths at the most; others are taken at the next wider one, which is
         order: round them to the side that is safe before.

    Returns
    -------
    (k - 1,) array

    Notes
    -----
    Goodchild and Hunter (1997): the band is the buffer of the reference with flat caps, so that what lies past its ends
    lies outside.

    Examples
    --------
    >>> inside_length([[0, 0], [100, 4]], [[0, 0], [100, 0]], 1.0, 1.0).round(3).tolist()
    [25.02]
    """
    line, reference, _ = _both(line, reference)
    legs = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    widths = np.column_stack([np.broadcast_to(left, len(legs)), np.broadcast_to(right, len(legs))]).astype(np.float64)
    found = np.zeros(len(legs))
    course = shapely.linestrings(reference)
    for pair in np.unique(widths, axis=0):
        mine = (widths == pair).all(axis=1)
        area = _band(course, *pair)
        if area is not None:
            shapely.prepare(area)
            # to cut a leg takes as long as the whole band: only those that meet its edge are cut
            whole = mine & shapely.contains_properly(area, legs)
            cut = np.flatnonzero(mine & ~whole)
            cut = cut[shapely.intersects(area, legs[cut])]
            found[whole] = shapely.length(legs[whole])
            found[cut] = shapely.length(shapely.intersection(legs[cut], area))
    return found


def _band(course: shapely.LineString, left: float, right: float) -> shapely.Geometry | None:
    if left + right <= 0 or np.isnan(left + right):
        return None
    if left == right:
        return shapely.buffer(course, left, cap_style="flat", join_style="round", quad_segs=_ROUND)
    sides = []
    for width, sign in ((left, 1.0), (right, -1.0)):
        if width > 0:
            sides.append(shapely.buffer(course, sign * width, single_sided=True, quad_segs=_ROUND))
    area = shapely.union_all(sides)
    # what a negative width takes away lies on the other side
    for width, sign in ((left, -1.0), (right, 1.0)):
        if width < 0:
            area = shapely.difference(area, shapely.buffer(course, sign * -width, single_sided=True, quad_segs=_ROUND))
    return area


def past_ends(line: ArrayLike, reference: ArrayLike) -> Floats:
    """Length of each leg of a line that lies past the ends of another, as seen along it; 0 beside a closed one.

    Examples
    --------
    >>> past_ends([[-20, 1], [60, 1], [110, 1]], [[0, 0], [100, 0]]).round(6).tolist()
    [20.0, 10.0]
    """
    line, reference, _ = _both(line, reference)
    size = np.hypot(*np.diff(line, axis=0).T)
    if (reference[0] == reference[-1]).all():
        return np.zeros(len(size))
    legs = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    past = np.zeros(len(size))
    reach = float(np.ptp(np.vstack([line, reference]), axis=0).sum()) + 1.0
    course = shapely.linestrings(reference)
    for end, toward in ((reference[0], reference[0] - reference[1]), (reference[-1], reference[-1] - reference[-2])):
        along = toward / np.hypot(*toward)
        across = np.array([-along[1], along[0]])
        corners = [
            end + across * reach,
            end - across * reach,
            end + (along - across) * reach,
            end + (along + across) * reach,
        ]
        beyond = shapely.intersection(legs, shapely.polygons(corners))
        # a line that turns back lies beyond its own end too: only what is nearest to the end counts
        there = np.flatnonzero(shapely.length(beyond) > 0)
        middle = shapely.line_interpolate_point(beyond[there], 0.5, normalized=True)
        nearest = shapely.distance(middle, course) >= shapely.distance(middle, shapely.points(end)) * (1 - 1e-9)
        past[there] += np.where(nearest, shapely.length(beyond[there]), 0.0)
    return np.minimum(past, size)


def share_within(line: ArrayLike, reference: ArrayLike, width: float) -> float:
    """Share of a line's length within a band of equal width to both sides of another, with flat caps.

    Examples
    --------
    >>> [round(share_within([[0, 0], [100, 4]], [[0, 0], [100, 0]], width), 12) for width in (1, 2, 3)]
    [0.25, 0.5, 0.75]
    """
    inside = float(inside_length(line, reference, width, width).sum())
    size = float(np.hypot(*np.diff(np.asarray(line, dtype=np.float64), axis=0).T).sum())
    return inside / size if size > 0 else np.nan


def hausdorff(line: ArrayLike, reference: ArrayLike, *, step: float | None = None) -> float:
    """Largest distance from a place of either line to the other.

    Parameters
    ----------
    line, reference : (k, 2), (m, 2) arrays
    step : float, optional
        Longest piece that both are cut to first; a 200th of the shorter line where it is left out. Never less than a
        2000th of the longer line: time and memory grow as the square of the pieces, and shorter ones tell no more.
        Vertex by vertex alone the distance of lines with few vertices comes out several times too small.

    Examples
    --------
    >>> round(hausdorff([[0, 0], [100, 0]], [[0, 0], [50, 50], [100, 0]]), 2)
    50.0
    """
    return float(shapely.hausdorff_distance(*_cut(*_lines(line, reference), step)))


def frechet(line: ArrayLike, reference: ArrayLike, *, step: float | None = None) -> float:
    """Least leash with which two can walk the lines from end to end, neither turning back.

    Parameters
    ----------
    line, reference : (k, 2), (m, 2) arrays
        In one direction: against each other the leash is as long as the line.
    step : float, optional
        As in `hausdorff`. Each line is cut too where a vertex of the other one lies beside it, so that the answer for
        lines that run beside each other is not made larger by the pieces; it is never too small.

    Examples
    --------
    >>> round(frechet([[0, 0], [100, 0]], [[0, 0], [50, 50], [100, 0]]), 1)
    50.0
    """
    lines = _lines(line, reference)
    cut = [shapely.get_coordinates(each) for each in _cut(*lines, step)]
    return _leash(_cut_beside(lines[0], *cut), _cut_beside(lines[1], *cut[::-1]))


def _leash(one: Floats, other: Floats) -> float:
    """Least leash from vertex to vertex, by the table of Eiter and Mannila (1994), one diagonal after the other.

    GEOS leaves out parts of the table: sooner where lines are near each other, but minutes for a line of which a few
    vertices lie far away, and too large a number now and then. The time must not hang on how wrong the data are.
    """
    place, beside = np.ascontiguousarray(one).view(np.complex128)[:, 0], other[::-1].copy().view(np.complex128)[:, 0]
    count, size = len(other), len(one)
    before, last, here = np.full((3, size + 2), np.inf)
    before[0] = -np.inf  # where both begin
    for diagonal in range(size + count - 1):
        low, high = max(0, diagonal - count + 1), min(diagonal, size - 1) + 1
        back = count - 1 - diagonal
        apart = np.abs(place[low:high] - beside[low + back : high + back])
        # a step of one line, of the other, or of both; a place of the table stands one further in its diagonal
        come = np.minimum(np.minimum(last[low:high], last[low + 1 : high + 1]), before[low:high])
        np.maximum(apart, come, out=here[low + 1 : high + 1])
        here[low] = here[high + 1] = np.inf
        before, last, here = last, here, before
    return float(last[-2])


def _cut_beside(line: shapely.Geometry, places: Floats, others: Floats) -> Floats:
    """Vertices of a line that is cut at `places`, and one more beside every vertex of another one."""
    own = np.append(0.0, np.cumsum(np.hypot(*np.diff(places, axis=0).T)))
    beside = shapely.line_locate_point(
        line, shapely.points(others)
    )  # the line has fewer pieces than what it was cut to
    # a place that is a vertex already would be written twice, a digit apart
    after = np.clip(np.searchsorted(own, beside), 1, len(own) - 1)
    new = beside[np.minimum(np.abs(own[after] - beside), np.abs(own[after - 1] - beside)) > 1e-9 * own[-1]]
    along = np.concatenate([own, new])
    vertices = np.vstack([places, shapely.get_coordinates(shapely.line_interpolate_point(line, new))])
    return np.asarray(vertices[np.argsort(along, kind="stable")], dtype=np.float64)


def _lines(line: ArrayLike, reference: ArrayLike) -> tuple[shapely.Geometry, shapely.Geometry]:
    one, other, _ = _both(line, reference)
    return shapely.linestrings(one), shapely.linestrings(other)


def _cut(
    line: shapely.Geometry, other: shapely.Geometry, step: float | None
) -> tuple[shapely.Geometry, shapely.Geometry]:
    """Both lines with a vertex at least every so far."""
    lines = line, other
    # a vertex far off its line makes it as long as a county: its pieces are counted, not their length kept
    lengths = [each.length for each in lines]
    longest = max(step or min(lengths) / _STEPS, max(lengths) / _MOST)
    return (shapely.segmentize(lines[0], longest), shapely.segmentize(lines[1], longest)) if longest > 0 else lines


def area_between(line: ArrayLike, reference: ArrayLike) -> float:
    """Area between two lines that run the same way, on both sides together.

    Parameters
    ----------
    line, reference : (k, 2), (m, 2) arrays
        In one direction; the ends are joined. Two closed lines: the area that only one of them surrounds.

    Examples
    --------
    >>> area_between([[0, 1], [50, -1], [100, 1]], [[0, 0], [100, 0]])
    50.0
    """
    one, other, _ = _both(line, reference)
    if all((each[0] == each[-1]).all() and len(each) > 3 for each in (one, other)):
        rings = [shapely.make_valid(shapely.polygons(each)) for each in (one, other)]
        return float(shapely.area(shapely.symmetric_difference(*rings)))
    ring = shapely.linestrings(np.vstack([one, other[::-1], one[:1]]))
    faces = shapely.polygonize([shapely.node(ring)])
    return float(shapely.area(faces))


def _both(line: ArrayLike, reference: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Both lines about their middle, where the digits of a grid do not cost those of a millimetre."""
    one, other = np.asarray(line, dtype=np.float64), np.asarray(reference, dtype=np.float64)
    for each in (one, other):
        if each.ndim != 2 or each.shape[1] != 2 or len(each) < 2 or not np.isfinite(each).all():
            raise GeometryInputError(f"A line of shape {each.shape} cannot be compared; give two places or more.")
    origin = other.mean(axis=0)
    return one - origin, other - origin, origin
