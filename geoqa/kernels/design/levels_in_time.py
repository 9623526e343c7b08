"""Levels between which the elevations of a session step from one moment to the next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers

FEWEST = 8
"""Shots of a level: fewer of them are a reach of work, or strays."""
SURE = 5.0
"""Standard uncertainties between two levels of which one is a step."""
OF_A_LINE = 3
"""Shots of a line that count it among those of a level."""
AROUND = 9
"""Shots in a row whose middle bounds how far one of them may pull."""
BOUND = 3.0
"""Standard uncertainties that it may pull beyond that."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Levels:
    """Levels in the order of time, one after the other.

    Attributes
    ----------
    begin : (k,) int64
        First row of each.
    level, u : (k,) float64
        Middle of its numbers, and 1 sigma of that by each number for itself.
    lines : (k,) int64
        Lines with at least `OF_A_LINE` shots of it.
    stays : (k,) bool
        It is the first or the last of several, and no shot at that end comes back to the level beside it.
    """

    begin: Integers
    level: Floats
    u: Floats
    lines: Integers
    stays: Booleans


def untold(found: Levels, noise: ArrayLike) -> Booleans:
    """Levels along one line from the first number on, or to the last, that do not come back: work built off, or more.

    What is changed in the survey while that line is measured looks the same, and no later number tells the two apart.

    Parameters
    ----------
    found : Levels
    noise : (k,) array or float
        How far a level may lie off by chance.

    Examples
    --------
    The last third of a line is high; or it is, but for its last three shots:

    >>> line, high = np.repeat([0, 1, 2], 10), np.repeat([0.0, 0.3], [20, 10])
    >>> untold(levels_in_time(high, [0.02] * 30, line, least=0.05), 0.03).tolist()
    [False, True]
    >>> high[-3:] = 0.0
    >>> untold(levels_in_time(high, [0.02] * 30, line, least=0.05), 0.03).tolist()
    [False, False]
    """
    return (np.abs(found.level) > np.asarray(noise, np.float64)) & found.stays & (found.lines < 2)


def step_together(found: Levels, noise: ArrayLike, *, base: float = 0.0) -> bool:
    """Whether levels are more than one line that is built off: two steps that do not come back, or more lines than one.

    Parameters
    ----------
    found : Levels
    noise : (k,) array or float
        How far a level may lie off by chance.
    base : float
        What all of it is off by in any case.

    Examples
    --------
    >>> line = np.repeat([0, 1, 2], 10)
    >>> ends = levels_in_time(np.repeat([0.0, 0.3], [20, 10]), [0.02] * 30, line, least=0.05)
    >>> steps = levels_in_time(np.repeat([0.0, 0.3], 15), [0.02] * 30, line, least=0.05)
    >>> step_together(ends, 0.03), step_together(steps, 0.03)
    (False, True)
    """
    off = np.abs(found.level - base) > np.asarray(noise, np.float64)
    return len(off) > 1 and bool(off.any() and (len(off) > 2 or (off & (found.lines > 1)).any()))


def levels_in_time(value: ArrayLike, u: ArrayLike, line: ArrayLike, *, least: float) -> Levels:
    """Find the moments at which numbers step, and the level between them.

    Parameters
    ----------
    value : (n,) array
        Deviations in elevation, in the order of time; all known.
    u : (n,) array
        1 sigma of each for itself.
    line : (n,) int array
        Number of the line of each.
    least : float
        Smallest step.

    Returns
    -------
    Levels
        A level along one line alone, after which the numbers come back to where they were, is a reach of work and is
        counted to what surrounds it.

    Raises
    ------
    GeometryInputError
        The three are not of one length.

    Examples
    --------
    A rod changed in the middle of the second of three lines:

    >>> high = np.repeat([0.0, 0.10], 15)
    >>> found = levels_in_time(high, [0.02] * 30, np.repeat([0, 1, 2], 10), least=0.05)
    >>> found.begin.tolist(), found.level.tolist(), found.lines.tolist()
    ([0, 15], [0.0, 0.1], [2, 2])

    One line built high is no step:

    >>> high = np.repeat([0.0, 0.10, 0.0], 10)
    >>> levels_in_time(high, [0.02] * 30, np.repeat([0, 1, 2], 10), least=0.05).level.tolist()
    [0.0]
    """
    number, sigma, of = np.asarray(value, np.float64), np.asarray(u, np.float64), np.asarray(line, np.int64)
    if not number.shape == sigma.shape == of.shape or number.ndim != 1:
        raise GeometryInputError("Numbers, uncertainties and lines need one row a shot.")
    if not len(number):
        none = np.zeros(0, np.int64)
        return Levels(begin=none, level=np.zeros(0), u=np.zeros(0), lines=none, stays=np.zeros(0, np.bool_))
    tame = _tamed(number, sigma)
    begin = _splits(tame, sigma, least)
    while True:
        found = _levels(number, sigma, of, begin)
        drop = _back_again(found, least)
        if drop is None:
            return found
        begin = np.delete(begin, [drop, drop + 1])


def _tamed(value: np.ndarray, u: np.ndarray) -> np.ndarray:
    """Numbers, none of them farther from the middle of those around it than `BOUND`."""
    half = AROUND // 2
    around = (
        np.lib.stride_tricks.sliding_window_view(np.pad(value, half, mode="reflect"), AROUND)
        if len(value) > half
        else value[:, None]
    )
    middle = np.median(around, axis=1)
    return np.clip(value, middle - BOUND * u, middle + BOUND * u)


def _splits(value: np.ndarray, u: np.ndarray, least: float) -> np.ndarray:
    """First rows of the parts into which the plainest steps divide the numbers, the plainest first."""
    done, todo = [0], [(0, len(value))]
    while todo:
        first, last = todo.pop()
        at = _step(value[first:last], u[first:last], least)
        if at is not None:
            done.append(first + at)
            todo += [(first, first + at), (first + at, last)]
    return np.array(sorted(done), dtype=np.int64)


def _step(value: np.ndarray, u: np.ndarray, least: float) -> int | None:
    """Where the numbers before and after differ most for their u; None where they do not for sure."""
    count = len(value)
    if count < 2 * FEWEST:
        return None
    at = np.arange(FEWEST, count - FEWEST + 1)
    total = np.append(0.0, np.cumsum(value))
    before, after = total[at] / at, (total[-1] - total[at]) / (count - at)
    sure = np.abs(after - before) / (np.sqrt((u**2).mean()) * np.sqrt(1 / at + 1 / (count - at)))
    best = int(np.argmax(sure))
    # how large a step is, is asked of what lies beside it: the wholes before and after may hold further steps
    place = int(at[best])
    step = np.median(value[place : place + 2 * FEWEST]) - np.median(value[max(place - 2 * FEWEST, 0) : place])
    return place if sure[best] > SURE and abs(step) >= least else None


def _levels(value: np.ndarray, u: np.ndarray, line: np.ndarray, begin: np.ndarray) -> Levels:
    parts = [slice(first, last) for first, last in zip(begin, [*begin[1:], len(value)], strict=True)]
    level = np.array([np.median(value[part]) for part in parts])
    stays = np.zeros(len(level), np.bool_)
    if len(level) > 1:
        stays[0] = not _back(value[:FEWEST], u[:FEWEST], level[0], level[1])
        stays[-1] = not _back(value[: -FEWEST - 1 : -1], u[: -FEWEST - 1 : -1], level[-1], level[-2])
    return Levels(
        begin=begin,
        level=level,
        stays=stays,
        u=np.array([1.2533 * np.sqrt((u[part] ** 2).sum()) / (part.stop - part.start) for part in parts]),
        lines=np.array([(np.unique(line[part], return_counts=True)[1] >= OF_A_LINE).sum() for part in parts], np.int64),
    )


def _back(value: np.ndarray, u: np.ndarray, own: float, beside: float) -> bool:
    """Whether the outermost numbers, the first of `value`, are surely off their level, to where the one beside lies."""
    nearer = np.abs(value - beside) < np.abs(value - own)
    count = len(value) if nearer.all() else int(np.argmin(nearer))
    if count < 2:  # one alone may be a stray
        return False
    return bool(np.abs(value[:count].mean() - own) > SURE * np.sqrt((u[:count] ** 2).sum()) / count)


def _back_again(found: Levels, least: float) -> int | None:
    """A level along one line alone, with the same level before and after; the farthest off of them."""
    level = found.level
    inner = np.arange(1, len(level) - 1)
    apart = np.abs(level[inner - 1] - level[inner + 1])
    alone = inner[
        (found.lines[inner] < 2) & (apart < np.maximum(least, SURE * np.hypot(found.u[inner - 1], found.u[inner + 1])))
    ]
    return None if not len(alone) else int(alone[np.argmax(np.abs(level[alone] - level[alone - 1]))])
