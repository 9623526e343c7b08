"""What the shots of a line or of a session share, and whether the rest of their misses is chance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtr, chdtrc, ndtr, ndtri

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers

RANDOM, WIDER, NARROWER, WAVING, FEW = 0, 1, 2, 3, -1
"""What is left of a line's misses: chance as stated; wider, or less wide, than stated; neighbours alike; too few."""
LEVEL = 0.01
"""Chance of calling what is chance otherwise, for each of the two tests. Common practice, no source."""
FEWEST = 6


@dataclass(frozen=True, kw_only=True, eq=False)
class Rest:
    """What is left when the mean is taken off, one row a line.

    Attributes
    ----------
    spread : (m,) float64
        Standard deviation; NaN of one.
    neighbours : (m,) float64
        Mean squared difference of neighbours over the variance: 2 for chance, near 0 where neighbours are alike.
    verdict : (m,) int64
        `RANDOM`, `WIDER`, `NARROWER`, `WAVING` or `FEW`.
    """

    spread: Floats
    neighbours: Floats
    verdict: Integers


def rest_of(line: ArrayLike, deviation: ArrayLike, u_random: ArrayLike) -> Rest:
    """Tell whether misses about the mean of their line are chance.

    Parameters
    ----------
    line : (n,) int array
        Number of the line, from 0; does not decrease. Rows of one line stand in its order.
    deviation, u_random : (n,) array
        Of each shot; its stated random part, 1 sigma.

    Returns
    -------
    Rest

    Notes
    -----
    Two tests. Neighbours: von Neumann's ratio, normal with mean 2 n / (n - 1) and variance 4 (n - 2) / (n² - 1) for
    chance; one side, for neighbours that are alike. Size: the weighted sum of squares follows chi-square with n - 1
    degrees of freedom if the stated u is right and nothing but it is in the misses.

    Examples
    --------
    >>> wave = np.sin(np.linspace(0, 6, 40)) * 0.05
    >>> rest_of([0] * 40, wave, [0.035] * 40).verdict.tolist()
    [3]
    """
    line, deviation, u = np.asarray(line, np.int64), np.asarray(deviation, np.float64), np.asarray(u_random, np.float64)
    if not line.shape == deviation.shape == u.shape or np.any(np.diff(line) < 0):
        raise GeometryInputError("Lines, deviations and uncertainties need one row a shot, sorted by line.")
    count = np.bincount(line)
    m = len(count)
    known = u > 0
    weight = np.where(known, 1 / np.where(known, u, 1.0) ** 2, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        left = deviation - (np.bincount(line, deviation, m) / count)[line]
        sum_of = np.bincount(line, left**2, m)
        spread = np.sqrt(sum_of / np.where(count > 1, count - 1, np.nan))
        same = line[1:] == line[:-1]
        steps = np.bincount(line[1:][same], np.diff(left)[same] ** 2, m)
        ratio = (steps / (count - 1)) / (sum_of / count)
        expected, wide = 2 * count / (count - 1), np.sqrt(4 * (count - 2) / (count**2 - 1))
        p_alike = ndtr((ratio - expected) / wide)
        mean = np.bincount(line, weight * deviation, m) / np.bincount(line, weight, m)
        size = np.bincount(line, weight * (deviation - mean[line]) ** 2, m)
        stated = np.bincount(line, ~known, m) == 0
        larger, smaller = chdtrc(count - 1, size), chdtr(count - 1, size)
    verdict = np.select(
        [count < FEWEST, p_alike < LEVEL, stated & (larger < LEVEL), stated & (smaller < LEVEL)],
        [FEW, WAVING, WIDER, NARROWER],
        RANDOM,
    )
    return Rest(spread=spread, neighbours=np.where(sum_of > 0, ratio, np.nan), verdict=verdict)


def proven_shift(mean: ArrayLike, u: ArrayLike, *, level: float = 0.05) -> np.ndarray:
    """Which means are not 0 by chance, over all of them together.

    Parameters
    ----------
    mean, u : (m,) array
        With the common part in u: a session that is off alike is expected, as far as it is stated.
    level : float
        Chance of calling any of them where none is shifted.

    Examples
    --------
    >>> proven_shift([0.12, 0.02, 0.05], [0.03, 0.02, 0.02]).tolist()
    [True, False, True]
    """
    mean, u = np.asarray(mean, dtype=np.float64), np.asarray(u, dtype=np.float64)
    count = max(int(np.isfinite(mean).sum()), 1)
    return np.asarray(np.abs(mean) > -ndtri(level / 2 / count) * u)


@dataclass(frozen=True, kw_only=True, eq=False)
class Moved:
    """A shift in plan that explains offsets from lines of several directions.

    Attributes
    ----------
    shift : (2,) float64
        Easting and northing; NaN where the lines run one way only.
    covariance : (2, 2) float64
        Of the random parts.
    """

    shift: Floats
    covariance: Floats


def moved_in_plan(offset: ArrayLike, azimuth: ArrayLike, u: ArrayLike) -> Moved:
    """Shift in plan of a group of shots that are offset from lines.

    Parameters
    ----------
    offset : (n,) array
        Positive right of the line's direction.
    azimuth : (n,) array
        Of the line there, degrees clockwise from grid north.
    u : (n,) array
        1 sigma of each offset for itself.

    Returns
    -------
    Moved

    Examples
    --------
    Right of a line to the north is east, right of one to the east is south.

    >>> moved_in_plan([0.10, 0.10, -0.05], [0.0, 0.0, 90.0], [0.02] * 3).shift.round(6).tolist()
    [0.1, 0.05]
    """
    offset, bearing, u = np.asarray(offset, np.float64), np.radians(np.asarray(azimuth, np.float64)), np.asarray(u)
    nothing = Moved(shift=np.full(2, np.nan), covariance=np.full((2, 2), np.nan))
    if not len(offset):
        return nothing
    right = np.column_stack([np.cos(bearing), -np.sin(bearing)]) / np.asarray(u, np.float64)[:, None]
    normal = right.T @ right
    if np.linalg.cond(normal) > 100:
        return nothing
    covariance = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    return Moved(shift=covariance @ right.T @ (offset / u), covariance=covariance)
