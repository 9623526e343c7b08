"""Level runs: heights of instrument, misclosure between marks, and what each point is worth after the adjustment."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoqa.errors import GeometryInputError


@dataclass(frozen=True, kw_only=True, eq=False)
class LevelRun:
    """Adjusted elevations of one run.

    Attributes
    ----------
    elevation : (n,) float64
        Adjusted; NaN where nothing was read, or where no mark of known elevation was read in the run.
    u_random : (n,) float64
        1 sigma of the levelling against the marks, 0 on a mark itself.
    u_common : (n,) float64
        1 sigma that the marks bring in.
    closed : (n,) bool
        Between two readings on marks, so that the misclosure proves it; False on an open end.
    misclosure, length : (m,) float64
        Levelled minus published between one reading on a mark and the next, and the length between them.
    first, last : (m,) int64
        Rows of these two readings.
    """

    elevation: NDArray[np.float64]
    u_random: NDArray[np.float64]
    u_common: NDArray[np.float64]
    closed: NDArray[np.bool_]
    misclosure: NDArray[np.float64]
    length: NDArray[np.float64]
    first: NDArray[np.int64]
    last: NDArray[np.int64]


def level_run(
    backsight: ArrayLike,
    intermediate: ArrayLike,
    foresight: ArrayLike,
    *,
    distance: ArrayLike,
    known: ArrayLike,
    u_known: ArrayLike,
    sigma: float,
    reading: float = 0.0,
) -> LevelRun:
    """Reduce and adjust the notes of a level run.

    A row is one point. The instrument stands above a point that was read as `backsight`; what is read from there as
    `intermediate` or `foresight` lies that much below it. A turning point has a foresight and a backsight.
    Between two marks the misclosure is spread in proportion to the length levelled, which is the least-squares
    solution where the variance grows with the length; a side reading takes the correction at the length it was
    read at. An open end carries the last correction on, and nothing proves it.

    Parameters
    ----------
    backsight, intermediate, foresight : (n,) array
        Rod readings, length units, in the order in which they were taken; NaN is not read.
    distance : (n,) array
        Length levelled from the turning point before to this one, not negative; of a side reading it counts for the
        side reading alone.
    known, u_known : (n,) array
        Published elevation of a mark and its 1 sigma; NaN is not a mark, and a mark of unknown sigma has 0.
    sigma : float
        1 sigma of a difference levelled over a length of 1, in length units to the power 1/2: it grows with the root.
    reading : float
        1 sigma of one reading of the rod: no point is known better than the two readings it hangs on.

    Returns
    -------
    LevelRun

    Raises
    ------
    GeometryInputError
        The notes do not hang together; the message says in which row, counted from 1.

    Examples
    --------
    From a mark over a turning point to a second mark, 0.02 short, spread over 200 and 100:

    >>> run = level_run(
    ...     [5.00, np.nan, 4.00, np.nan], [np.nan, 6.00, np.nan, np.nan], [np.nan, np.nan, 3.00, 2.02],
    ...     distance=[0, 50, 200, 100], known=[100.0, np.nan, np.nan, 104.0], u_known=[0.0, 0, 0, 0], sigma=0.001)
    >>> run.misclosure.round(3), run.elevation.round(4)
    (array([-0.02]), array([100.    ,  99.    , 102.0133, 104.    ]))
    """
    back, side, fore = (np.asarray(each, dtype=np.float64) for each in (backsight, intermediate, foresight))
    step = np.asarray(distance, dtype=np.float64)
    known, u_known = (np.asarray(each, dtype=np.float64) for each in (known, u_known))
    _check(back, side, fore, step, sigma)
    turning = ~np.isnan(back) | ~np.isnan(fore)
    raw, along = _reduced(back, side, fore, step, turning)
    marks = np.flatnonzero(turning & ~np.isnan(known))
    nothing = np.full(len(raw), np.nan)
    if not len(marks):
        return LevelRun(
            elevation=nothing, u_random=nothing, u_common=nothing, closed=np.zeros(len(raw), bool),
            misclosure=np.empty(0), length=np.empty(0), first=marks, last=marks,
        )  # fmt: skip
    at, correction = along[marks], known[marks] - raw[marks]
    elevation = raw + np.interp(along, at, correction)
    before = np.clip(np.searchsorted(at, along, side="right") - 1, 0, len(marks) - 1)
    after = np.clip(np.searchsorted(at, along, side="left"), 0, len(marks) - 1)
    back_by, ahead_by = np.abs(along - at[before]), np.abs(at[after] - along)
    closed = (along >= at[0]) & (along <= at[-1]) & (len(marks) > 1)
    whole = np.where(back_by + ahead_by > 0, back_by + ahead_by, 1.0)
    between = np.where(closed, back_by * ahead_by / whole, np.maximum(back_by, ahead_by))
    # the line of sight to a side reading is not part of the line that was closed
    variance = sigma**2 * (between + np.where(turning, 0.0, step)) + 2 * reading**2
    share = np.where(closed, ahead_by / whole, 1.0)
    u_mark = np.nan_to_num(u_known[marks])
    same = known[marks][before] == known[marks][after]
    parts = (share * u_mark[before]) ** 2 + ((1 - share) * u_mark[after]) ** 2
    u_common = np.where(same, u_mark[before], np.sqrt(parts))
    on_mark = turning & ~np.isnan(known)
    unread = np.isnan(raw)
    return LevelRun(
        elevation=np.where(on_mark, known, elevation),
        u_random=np.where(unread, np.nan, np.where(on_mark, 0.0, np.sqrt(variance))),
        u_common=np.where(unread, np.nan, u_common),
        closed=closed,
        misclosure=-np.diff(correction),
        length=np.diff(at),
        first=marks[:-1],
        last=marks[1:],
    )


def _reduced(
    back: np.ndarray, side: np.ndarray, fore: np.ndarray, step: np.ndarray, turning: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Heights against the first point, and the length levelled where each was read."""
    rise = np.where(turning, np.nan_to_num(back), 0.0)
    fall = np.where(turning, np.nan_to_num(fore), 0.0)
    # the instrument set up at a turning point stands at the sum of all backsights so far less all foresights so far
    instrument = np.cumsum(rise - fall)
    before = np.append(0.0, instrument[:-1])
    reading = np.where(turning, fore, side)
    raw = np.where(np.isnan(reading), np.nan, before - reading)
    raw[0] = 0.0
    along = np.cumsum(np.where(turning, step, 0.0))
    along -= along[0]
    return raw, along


def _check(back: np.ndarray, side: np.ndarray, fore: np.ndarray, step: np.ndarray, sigma: float) -> None:
    if not len(back) or np.isnan(back[0]):
        raise GeometryInputError("Row 1: a level run begins with a backsight on a point.")
    if not np.isfinite(sigma) or sigma <= 0:
        raise GeometryInputError(f"The 1 sigma of a level run must be more than 0, and {sigma} is not.")
    turning = ~np.isnan(back) | ~np.isnan(fore)
    both = turning & ~np.isnan(side)
    lost = np.append(False, ~np.isnan(back[1:]) & np.isnan(fore[1:]))
    ended = np.append(False, np.cumsum(turning & np.isnan(back))[:-1] > 0)
    wrong = (
        (both, "a point is read as intermediate or as turning point, not as both"),
        (lost, "a backsight on a point that has no foresight: the height was lost between two set-ups"),
        (ended, "nothing can be read after a foresight without a new backsight"),
        (~np.isfinite(step) | (step < 0), "the length from the point before must be 0 or more"),
    )
    for rows, message in wrong:
        if rows.any():
            raise GeometryInputError(f"Row {int(np.flatnonzero(rows)[0]) + 1}: {message}.")
