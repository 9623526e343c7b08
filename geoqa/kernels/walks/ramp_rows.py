"""The rows in which the shots of a curb ramp lie: foot, head, and the far side of its turning space."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers

FEWEST = 4
"""Corners that a run has."""
_LEVEL = 0.5
"""Share of the slope of a run below which what follows it is a turning space."""


_TURN = 50
"""Degrees that the steepest way may be off the run, by cross slope, gutter and errors."""
_PER_ROW = 0.02
"""What a row costs, in squares of the gap between rows: shots are not parted without need."""


@dataclass(frozen=True, kw_only=True, eq=False)
class RampRows:
    """Shots of a ramp by rows, each from left to right as one walks up.

    Attributes
    ----------
    azimuth : float
        Degrees, up the run.
    gutter, foot, head, far : int64 arrays
        Places of the shots in front of the foot, across the foot, across the head, and on the far side of the turning
        space; empty where none lie there.
    """

    azimuth: float
    gutter: Integers
    foot: Integers
    head: Integers
    far: Integers


def ramp_rows(places: ArrayLike, *, row_gap: float, gutter_reach: float) -> RampRows | None:
    """Find the rows of one ramp.

    Parameters
    ----------
    places : (n, 3) array
        Easting, northing and elevation of its shots, in any order.
    row_gap : float
        Shots farther apart than this along the run are of two rows.
    gutter_reach : float
        A row in front of the foot, that the way up first goes down from, is the gutter's within this distance.

    Returns
    -------
    RampRows or None
        None where fewer than four shots have a place and an elevation, or all lie in one row.

    Raises
    ------
    GeometryInputError
        Not three columns.

    Notes
    -----
    A plane through all shots tells roughly which way is up. Within 50 degrees of it the run is the direction in which
    the shots lie in few tight rows, and then square to that in which the shots of a row lie, pooled over all rows:
    neither a cross slope nor errors in elevation turn it. The last row is the far side of a turning
    space where the grade to it is less than half of that of the run.

    Examples
    --------
    A run of 6 ft at 8 %, 5 ft wide, and a level turning space of 4 ft.

    >>> corners = [[0, 0, 0.0], [5, 0, 0.0], [0, 6, 0.48], [5, 6, 0.48], [0, 10, 0.5], [5, 10, 0.5]]
    >>> rows = ramp_rows(corners, row_gap=1.5, gutter_reach=4.0)
    >>> round(rows.azimuth, 6) % 360, rows.foot.tolist(), rows.head.tolist(), rows.far.tolist(), len(rows.gutter)
    (0.0, [0, 1], [2, 3], [4, 5], 0)
    """
    placed = np.asarray(places, dtype=np.float64)
    if placed.ndim != 2 or placed.shape[1] != 3:
        raise GeometryInputError(f"shots of a ramp need three columns; got shape {placed.shape}.")
    known = np.flatnonzero(np.isfinite(placed).all(axis=1))
    if len(known) < FEWEST:
        return None
    shots = placed[known] - placed[known].mean(axis=0)
    up = np.linalg.lstsq(shots[:, :2], shots[:, 2], rcond=None)[0]
    if not np.hypot(*up) > 0:
        return None
    up = _nearest_grid(shots[:, :2], up / np.hypot(*up), row_gap)
    row = _rows(shots[:, :2] @ up, row_gap)
    up = _square_to_rows(shots[:, :2], row, up)
    row = _rows(shots[:, :2] @ up, row_gap)
    order = [known[row == number] for number in range(int(row.max()) + 1)]
    if len(order) < 2:
        return None
    right = np.array([up[1], -up[0]])
    order = [each[np.argsort(placed[each, :2] @ right, kind="stable")] for each in order]
    along = np.array([(placed[each, :2] @ up).mean() for each in order])
    level = np.array([placed[each, 2].mean() for each in order])
    none = np.zeros(0, dtype=np.int64)
    gutter = none
    if len(order) > 2 and level[0] > level[1] and along[1] - along[0] <= gutter_reach:
        gutter, order, along, level = order[0], order[1:], along[1:], level[1:]
    far = none
    if len(order) > 2:
        grade = np.diff(level) / np.diff(along)
        if grade[-1] < _LEVEL * (level[-2] - level[0]) / (along[-2] - along[0]):
            far, order = order[-1], order[:-1]
    azimuth = float(np.degrees(np.arctan2(*up)) % 360)
    return RampRows(azimuth=azimuth, gutter=gutter, foot=order[0], head=order[-1], far=far)


def _nearest_grid(shots: Floats, up: Floats, gap: float) -> Floats:
    """The direction near the steepest one in which the shots lie in few rows, each at one place along it."""
    best, least = up, np.inf
    for turn in np.radians(np.arange(-_TURN, _TURN + 1)):
        way = np.array([up[0] * np.cos(turn) + up[1] * np.sin(turn), up[1] * np.cos(turn) - up[0] * np.sin(turn)])
        along = shots @ way
        row = _rows(along, gap)
        mean = np.bincount(row, along) / np.bincount(row)
        cost = float(((along - mean[row]) ** 2).sum()) + _PER_ROW * gap**2 * (int(row.max()) + 1)
        if cost < least - 1e-12:
            best, least = way, cost
    return best


def _rows(along: Floats, gap: float) -> Integers:
    order = np.argsort(along, kind="stable")
    row = np.empty(len(along), dtype=np.int64)
    row[order] = np.append(0, np.cumsum(np.diff(along[order]) > gap))
    return row


def _square_to_rows(shots: Floats, row: Integers, up: Floats) -> Floats:
    """The direction square to that of the rows, on the side of `up`."""
    count = np.bincount(row)
    mean = np.column_stack([np.bincount(row, shots[:, axis]) / count for axis in (0, 1)])
    apart = shots - mean[row]
    if not np.abs(apart).max() > 0:
        return up
    across = np.linalg.eigh(apart.T @ apart)[1][:, 1]
    square = np.array([-across[1], across[0]])
    # a single wide row says nothing of the way up where it lies along it
    return square * np.sign(square @ up) if abs(square @ up) > 0.5 else up
