"""Lines that all miss their design by one shift, and whether the survey could have made it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers
from geoqa.kernels.linework.shift import moved_in_plan

FEWEST = 5
"""Shots that a line has at the least, to be one that misses as a whole."""
TOGETHER = 0.8
"""Least share of the shots of a line, and of the lines that miss, that have the shift."""
SURE = 3.0
"""Standard uncertainties."""
ALIKE = 2 / 3
"""Most, of the shift itself, that a line or a session with it may differ from it."""
_MEDIAN = 1.2533141373155001
"""u of a median over that of a mean, of normal numbers: sqrt(pi / 2)."""
_SPREAD = 1.4826022185056018


@dataclass(frozen=True, kw_only=True, eq=False)
class SharedMiss:
    """A shift that lines share.

    Attributes
    ----------
    lines : (k,) int64 array
        Numbers of these lines.
    shift : float
        Across, positive right, or in elevation; NaN where lines of several directions share a shift in plan.
    moved : (2,) float64
        Easting and northing of a shift in plan; NaN where `shift` holds.
    u : float
        1 sigma of the shift, without what all shots share.
    missed : (n,) float64
        What each row misses by the shift, whatever its line is.
    surveyed : (n,) float64
        What each row would miss if its coordinates were off as those of the lines seem to be.
    """

    lines: Integers
    shift: float
    moved: Floats
    u: float
    missed: Floats
    surveyed: Floats


def shared_miss(
    line: ArrayLike,
    deviation: ArrayLike,
    u_common: ArrayLike,
    u_random: ArrayLike,
    limit: ArrayLike,
    *,
    asked: ArrayLike,
    right: ArrayLike | None = None,
) -> SharedMiss | None:
    """Shift that whole lines share; None where no line misses as a whole, or they do not agree.

    Parameters
    ----------
    line : (n,) int array
        Number of the line, from 0.
    deviation, u_common, u_random : (n,) array
    limit : (n,) array
        Finite and above 0.
    asked : (n,) bool array
        Rows of the lines that are looked at.
    right : (n, 2) array, optional
        Easting and northing of the direction to the right of each line there; deviations are elevations without it.

    Raises
    ------
    GeometryInputError
        The arrays have no common length.

    Notes
    -----
    A line misses as a whole where its median is beyond half of its limit and 3 u (stated common part, and the scatter
    of its shots), and 80 % of its shots lie about it, within 3 u or half of the limit. A shift across the lines is
    tried first, then one in plan, which lines drawn in opposite directions share.

    Examples
    --------
    >>> line = np.repeat([0, 1, 2], 6)
    >>> off = np.where(line < 2, 0.35, 0.0) + np.tile([0.01, -0.01], 9)
    >>> found = shared_miss(line, off, np.zeros(18), np.full(18, 0.02), np.full(18, 0.15), asked=line < 3)
    >>> found.lines.tolist(), round(found.shift, 3)
    ([0, 1], 0.35)
    """
    line = np.asarray(line, dtype=np.int64)
    value, common, random, limit = (np.asarray(each, np.float64) for each in (deviation, u_common, u_random, limit))
    asked = np.asarray(asked, dtype=bool)
    direction = None if right is None else np.asarray(right, dtype=np.float64)
    if not line.shape == value.shape == common.shape == random.shape == limit.shape == asked.shape:
        raise GeometryInputError("Lines, deviations, uncertainties and limits need one row a shot.")
    off = _off_as_a_whole(line, value, common, random, limit, asked)
    if not len(off):
        return None
    mine = np.isin(line, off)
    models = ["across"] if direction is None else ["across", "plan"]
    for model in models:
        fit = _fitted(model, line, value, common, random, limit, direction, mine)
        if fit is not None:
            return fit
    return None


def _off_as_a_whole(
    line: Integers, value: Floats, common: Floats, random: Floats, limit: Floats, asked: Booleans
) -> Integers:
    found = []
    for number in np.unique(line[asked]).tolist():
        rows = np.flatnonzero(line == number)
        if len(rows) < FEWEST:
            continue
        middle, half = float(np.median(value[rows])), float(np.median(limit[rows])) / 2
        about = np.abs(value[rows] - middle)
        u = np.hypot(common[rows].mean(), _MEDIAN * _SPREAD * np.median(about) / np.sqrt(len(rows)))
        near = about <= np.maximum(SURE * np.hypot(common[rows], random[rows]), half)
        if abs(middle) > max(half, SURE * u) and near.mean() >= TOGETHER:
            found.append(number)
    return np.array(found, dtype=np.int64)


def _fitted(
    model: str, line: Integers, value: Floats, common: Floats, random: Floats, limit: Floats, right: Floats | None,
    mine: Booleans,
) -> SharedMiss | None:  # fmt: skip
    """The shift of one model, over the lines that have it; None where too few of those that miss do."""
    whole, kept = int(mine.sum()), mine
    for _ in range(2):
        missed, shift, moved = _shift(model, value, random, right, kept)
        if missed is None:
            return None
        agree = []
        for number in np.unique(line[mine]).tolist():
            rows = np.flatnonzero(line == number)
            size = abs(float(np.median(missed[rows])))
            room = max(float(np.median(limit[rows])) / 2, SURE * np.sqrt(2) * float(common[rows].mean()))
            if abs(float(np.median(value[rows] - missed[rows]))) <= min(room, ALIKE * size):
                agree.append(number)
        kept = mine & np.isin(line, agree)
        if not kept.any() or kept.sum() < TOGETHER * whole:
            return None
    missed, shift, moved = _shift(model, value, random, right, kept)
    if missed is None:
        return None
    lines = np.unique(line[kept])
    each = [float(np.median((value - missed)[line == number])) for number in lines.tolist()]
    u = max(
        float(np.std(each, ddof=1)) / np.sqrt(len(each)) if len(each) > 1 else 0.0,
        _MEDIAN * float(np.sqrt(np.mean(random[kept] ** 2) / kept.sum())),
    )
    return SharedMiss(
        lines=lines,
        shift=shift,
        moved=moved,
        u=u,
        missed=missed,
        surveyed=_surveyed(value, random, right, kept, missed),
    )


def _shift(
    model: str, value: Floats, random: Floats, right: Floats | None, kept: Booleans
) -> tuple[Floats | None, float, Floats]:
    """What each row misses, and the shift: one number, or easting and northing."""
    nothing = np.full(2, np.nan)
    if model == "across" or right is None:
        shift = float(np.median(value[kept]))
        return np.full(len(value), shift), shift, nothing
    moved = _in_plan(value, random, right, kept)
    if not np.isfinite(moved).all():
        return None, np.nan, nothing
    return np.asarray(right @ moved), np.nan, moved


def _in_plan(value: Floats, random: Floats, right: Floats, rows: Booleans) -> Floats:
    azimuth = np.degrees(np.arctan2(-right[rows, 1], right[rows, 0]))
    return moved_in_plan(value[rows], azimuth, np.maximum(random[rows], 1e-9)).shift


def _surveyed(value: Floats, random: Floats, right: Floats | None, kept: Booleans, missed: Floats) -> Floats:
    """What a survey off by as much would make of every row; of lines in one direction, square to it."""
    if right is None:
        return missed
    moved = _in_plan(value, random, right, kept)
    if not np.isfinite(moved).all():
        moved = (right[kept] * value[kept, None]).mean(axis=0)
        size = float(np.linalg.norm(right[kept].mean(axis=0)))
        moved = moved / max(size, 1e-9)
    return np.asarray(right @ moved)


def share_of(deviation: ArrayLike, expected: ArrayLike) -> tuple[float, float]:
    """Share of an expected shift that numbers show, by their median, and how many of them show half of it and more.

    Parameters
    ----------
    deviation, expected : (n,) array
        Expected are not 0.

    Returns
    -------
    share, having : float
        1 is all of the shift, and all of the numbers; NaN of none.

    Examples
    --------
    >>> share_of([0.2, -0.2, 0.0], [0.2, -0.2, 0.2])[0]
    1.0
    >>> share_of([0.0, -0.01, 0.2, 0.2], [0.2, 0.2, 0.2, 0.2])
    (0.5, 0.5)
    """
    value, wanted = np.asarray(deviation, np.float64), np.asarray(expected, np.float64)
    if not len(value):
        return np.nan, np.nan
    each = value / wanted
    return float(np.median(each)), float((each >= 0.5).mean())
