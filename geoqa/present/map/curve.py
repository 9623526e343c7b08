"""Order of places along a space-filling curve, so that neighbours on the ground are neighbours in the file."""

import numpy as np
from numpy.typing import ArrayLike

BITS = 16
"""Cells along each side of the square: 2 to this power."""


def hilbert_order(easting: ArrayLike, northing: ArrayLike) -> np.ndarray:
    """Sort places along a Hilbert curve through their bounding square; those without a place come last.

    Parameters
    ----------
    easting, northing : array_like of float, shape (n,)

    Returns
    -------
    ndarray of int64, shape (n,)
        Rows in the new order; equal places keep their old order.

    Notes
    -----
    D. Hilbert, 1891; a bit at a time, turning the square as the curve turns.

    Examples
    --------
    >>> hilbert_order([0.0, 9.0, 0.0, 9.0, float("nan")], [0.0, 0.0, 9.0, 9.0, 1.0])
    array([0, 2, 3, 1, 4])
    """
    east = np.asarray(easting, dtype=float)
    north = np.asarray(northing, dtype=float)
    there = np.isfinite(east) & np.isfinite(north)
    key = np.full(len(east), np.iinfo(np.int64).max, dtype=np.int64)
    if there.any():
        key[there] = _distance(*_cells(east[there], north[there]))
    return np.argsort(key, kind="stable")


def _cells(east: np.ndarray, north: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    side = max(np.ptp(east), np.ptp(north), 1e-9)
    last = 2**BITS - 1
    column = ((east - east.min()) / side * last).astype(np.int64)
    row = ((north - north.min()) / side * last).astype(np.int64)
    return column, row


def _distance(column: np.ndarray, row: np.ndarray) -> np.ndarray:
    distance = np.zeros(len(column), dtype=np.int64)
    for bit in range(BITS - 1, -1, -1):
        side = np.int64(1) << bit
        right = (column & side) > 0
        upper = (row & side) > 0
        distance += side * side * ((3 * right) ^ upper)
        column, row = column & (side - 1), row & (side - 1)
        flip = right & ~upper
        column[flip], row[flip] = side - 1 - column[flip], side - 1 - row[flip]
        turn = ~upper
        column[turn], row[turn] = row[turn], column[turn]
    return distance
