"""What the errors of shots on one line have in common: by session, and while it lasts from shot to shot."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats
from geoqa.kernels.design.run_means import LASTING

_MEDIAN = 0.454936423119572  # of chi-square with one degree of freedom
_OF_MEDIAN = 2.3328  # relative 1 sigma of the median of n of them, times sqrt(n): by the density there
_ONE_SIDED = 1.6448536269514722


def error_covariance(
    random: ArrayLike, common: ArrayLike, group: ArrayLike, *, minutes: ArrayLike | None = None, lasting: float = 0.0
) -> Floats:
    """Covariance of the errors of shots.

    Parameters
    ----------
    random, common : (n,) arrays
        1 sigma that each shot has for itself, and shares with its group.
    group : (n,) int array
        -1 for a shot that shares nothing with another one.
    minutes : (n,) array, optional
        When each was taken; NaN is not known.
    lasting : float
        Share of the own variance that lasts from shot to shot of one group, 1/e in `LASTING` minutes.

    Returns
    -------
    (n, n) float64

    Examples
    --------
    >>> error_covariance([0.02, 0.02], [0.05, 0.05], [0, 0]).round(4).tolist()
    [[0.0029, 0.0025], [0.0025, 0.0029]]
    """
    own, shared = np.asarray(random, dtype=np.float64), np.asarray(common, dtype=np.float64)
    group = np.asarray(group)
    if not own.shape == shared.shape == group.shape or own.ndim != 1:
        raise GeometryInputError(f"random {own.shape}, common {shared.shape} and group {group.shape} differ.")
    alike = (group[:, None] == group) & (group >= 0)
    made = np.where(alike, np.outer(shared, shared), 0.0)
    if lasting > 0 and minutes is not None:
        time = np.asarray(minutes, dtype=np.float64)
        held = np.exp(-np.abs(time[:, None] - time) / LASTING)
        made += np.where(alike & np.isfinite(held), lasting * held * np.outer(own, own), 0.0)
    np.fill_diagonal(made, own**2 + shared**2)
    return np.asarray(made)


def lasting_at_least(
    line: ArrayLike, station: ArrayLike, deviation: ArrayLike, u: ArrayLike, group: ArrayLike, minutes: ArrayLike
) -> float:
    """Share of the own variance of shots that lasts to the next one, with 95 % no less.

    Parameters
    ----------
    line, group : (n,) int array
        Line of each shot, and what shares errors with it.
    station, deviation, u : (n,) arrays
        Along the line; elevation less that of the design; 1 sigma of the shot for itself.
    minutes : (n,) array
        Time of each shot.

    Returns
    -------
    float
        0 to 1; 0 where nothing proves more. Only neighbours with known times, less than `LASTING` apart, tell.

    Notes
    -----
    Neighbours differ by what does not last: 2 u² (1 - s exp(-t / `LASTING`)). The median of the squared
    differences stands for it, so that steps of the work matter little; rough work makes the share smaller.
    A difference of two shots gains by what lasts, so that the lower bound of it is the safe one here.

    Examples
    --------
    >>> wave = 0.03 * np.sin(np.arange(200) / 20)
    >>> at, same = np.arange(200), np.zeros(200, dtype=int)
    >>> round(lasting_at_least(same, at, wave, np.full(200, 0.02), same, at / 60), 2)
    1.0
    """
    line, group = np.asarray(line), np.asarray(group)
    at, value, own, time = (np.asarray(each, dtype=np.float64) for each in (station, deviation, u, minutes))
    usable = np.flatnonzero(np.isfinite(at) & np.isfinite(value) & (own > 0) & np.isfinite(time))
    order = usable[np.lexsort((value[usable], at[usable], line[usable]))]
    line, group, value, own, time = (each[order] for each in (line, group, value, own, time))
    apart = np.abs(np.diff(time))
    near = (line[1:] == line[:-1]) & (group[1:] == group[:-1]) & (apart < LASTING)
    squares = (np.diff(value) ** 2 / (own[1:] ** 2 + own[:-1] ** 2))[near]
    if len(squares) < 2:
        return 0.0
    most = float(np.median(squares)) / _MEDIAN * (1 + _ONE_SIDED * _OF_MEDIAN / np.sqrt(len(squares)))
    return float(np.clip((1 - most) / np.exp(-apart[near] / LASTING).mean(), 0.0, 1.0))
