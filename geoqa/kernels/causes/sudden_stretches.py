"""Stretches in the order of time whose numbers in plan and elevation leave their level, and come back, at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers

FEWEST = 5
"""Shots of a stretch: of fewer it is not told that they share one shift."""
SURE = 5.5
"""Standard uncertainties, of both numbers together, between two levels of which one is a step."""
AROUND = 9
"""Shots in a row whose middle bounds how far one of them may pull."""
BOUND = 3.0
"""Standard uncertainties that it may pull beyond that."""
WIDE = 1.75
"""Times its stated scatter that numbers may scatter about one level: a taper or a sag scatters more."""
BESIDE = 3
"""Shots on either side of a stretch that must not go along with it, most of them."""
FARTHER = 12
"""Shots on either side of which those beyond `BESIDE` tell where the numbers lie otherwise."""
SLOW = 0.35
"""Of a shift, how much may lie in the shots on both sides of an end, as a taper has it, and not between them."""
CHANCE = 3.0
"""Standard uncertainties of that share up to which it is chance."""
FEWEST_NEARER = 0.6
"""Of numbers that a small shift moves, how many must be nearer to it in any case."""
_FROM_MAD = 1.4826


def level_parts(value: ArrayLike, u: ArrayLike) -> Integers:
    """First rows of the parts between which one or both of two numbers step.

    Parameters
    ----------
    value, u : (2, n) array
        Across and up, in the order of time, all known, and 1 sigma of each.

    Returns
    -------
    (k,) int64
        The first is 0; none of no numbers.

    Raises
    ------
    GeometryInputError
        The two are not of one shape.

    Examples
    --------
    >>> up, across = np.repeat([0.0, 0.3, 0.0], 10), np.repeat([0.0, -0.2, 0.0], 10)
    >>> level_parts([across, up], np.full((2, 30), 0.04)).tolist()
    [0, 10, 20]
    """
    number, sigma = np.asarray(value, np.float64), np.asarray(u, np.float64)
    if number.shape != sigma.shape or number.ndim != 2 or number.shape[0] != 2:
        raise GeometryInputError("Numbers across and up need one row each, and as many uncertainties.")
    count = number.shape[1]
    if not count:
        return np.zeros(0, np.int64)
    tame = np.stack([_tamed(each, of) for each, of in zip(number, sigma, strict=True)])
    done, todo = [0], [(0, count)]
    while todo:
        first, last = todo.pop()
        at = _step(tame[:, first:last], sigma[:, first:last])
        if at is not None:
            done.append(first + at)
            todo += [(first, first + at), (first + at, last)]
    return np.array(sorted(done), dtype=np.int64)


def goes_along(value: ArrayLike, shifted: ArrayLike, u: ArrayLike, *, share: float) -> bool:
    """Whether numbers lie about a shift and not about 0, nearly all of them and no wider than they are stated to.

    Parameters
    ----------
    value, shifted, u : (n,) array
        As read, without the shift, and 1 sigma.
    share : float
        Of the numbers, how many must be nearer to the shift; fewer where chance turns more of them for their u.

    Examples
    --------
    All of a stretch 0.3 off, and a sag that is 0.3 deep in its middle:

    >>> u, box, sag = np.full(9, 0.03), np.full(9, 0.3), 0.6 * (1 - np.abs(np.linspace(-1, 1, 9)))
    >>> goes_along(box, box - 0.3, u, share=0.8), goes_along(sag, sag - 0.3, u, share=0.8)
    (True, False)
    """
    read, less, sigma = (np.asarray(each, np.float64) for each in (value, shifted, u))
    if not len(read):
        return False
    scatter = _FROM_MAD * float(np.median(np.abs(less - np.median(less)) / sigma))
    nearer = float(ndtr(np.abs(read - less) / (2 * sigma)).mean())
    least = min(share, nearer - 2 * np.sqrt(nearer * (1 - nearer) / len(read)))
    return bool((np.abs(less) < np.abs(read)).mean() >= max(least, FEWEST_NEARER) and scatter <= WIDE)


def steps_out(stays: ArrayLike, begin: int, end: int) -> bool:
    """Whether the shots just before and just after a stretch do not go along with it.

    Parameters
    ----------
    stays : (n,) bool array
        In the order of time: the shot lies nearer to no shift.
    begin, end : int
        First shot of the stretch, and the one past its last.

    Examples
    --------
    >>> steps_out([True, True, False, False, True], 2, 4), steps_out([True, True, False, False, False], 2, 4)
    (True, False)
    """
    there: Booleans = np.asarray(stays, np.bool_)
    sides = (there[max(begin - BESIDE, 0) : begin], there[end : end + BESIDE])
    return all(2 * side.sum() > len(side) for side in sides if len(side))


def begins_and_ends_at_once(share: ArrayLike, weight: ArrayLike, begin: int, end: int) -> bool:
    """Whether a shift is there whole from the first shot of a stretch to its last, and gone in those beside it.

    Parameters
    ----------
    share : (n,) array
        In the order of time: how much of the shift each shot shows, 0 none and 1 all of it.
    weight : (n,) array
        1 over the variance of that.
    begin, end : int
        First shot of the stretch, and the one past its last.

    Examples
    --------
    >>> box, tent = np.repeat([0.0, 1.0, 0.0], 12), np.interp(np.arange(36), [6, 18, 30], [0.0, 1.4, 0.0])
    >>> begins_and_ends_at_once(box, np.full(36, 100.0), 12, 24)
    True
    >>> begins_and_ends_at_once(tent, np.full(36, 100.0), 12, 24)
    False
    """
    part, sure = np.asarray(share, np.float64).clip(-0.5, 1.5), np.asarray(weight, np.float64)
    inside, outside = np.arange(begin, end), (np.arange(begin - 1, -1, -1), np.arange(end, len(part)))
    for first, beside in ((inside, outside[0]), (inside[::-1], outside[1])):
        within, u_within = _mean(part, sure, first[:BESIDE])
        near, u_near = _mean(part, sure, beside[:BESIDE])
        far, u_far = _mean(part, sure, beside[BESIDE:FARTHER])
        slow = 1.0 - within + (near - far if len(beside) else 0.0)
        if slow > max(SLOW, CHANCE * float(np.sqrt(u_within**2 + u_near**2 + u_far**2))):
            return False
    return True


def _mean(value: Floats, weight: Floats, row: Integers) -> tuple[float, float]:
    """Weighted mean of some, and its u; 0 of none."""
    total = float(weight[row].sum())
    return (float((value[row] * weight[row]).sum()) / total, float(total**-0.5)) if total > 0 else (0.0, 0.0)


def _tamed(value: Floats, u: Floats) -> Floats:
    """Numbers, none of them farther from the middle of those around it than `BOUND`."""
    half = AROUND // 2
    if len(value) <= half:
        return value
    around = np.lib.stride_tricks.sliding_window_view(np.pad(value, half, mode="reflect"), AROUND)
    middle = np.median(around, axis=1)
    return np.clip(value, middle - BOUND * u, middle + BOUND * u)


def _step(value: Floats, u: Floats) -> int | None:
    """Where the numbers before and after differ most for their u; None where they do not for sure."""
    count = value.shape[1]
    if count < 2 * FEWEST:
        return None
    at = np.arange(FEWEST, count - FEWEST + 1)
    total = np.concatenate([np.zeros((2, 1)), np.cumsum(value, axis=1)], axis=1)
    before, after = total[:, at] / at, (total[:, -1:] - total[:, at]) / (count - at)
    sigma = np.sqrt((u**2).mean(axis=1, keepdims=True)) * np.sqrt(1 / at + 1 / (count - at))
    sure = np.sqrt((((after - before) / sigma) ** 2).sum(axis=0))
    best = int(np.argmax(sure))
    return int(at[best]) if sure[best] > SURE else None
