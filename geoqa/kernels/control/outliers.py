"""Which value does not belong, and when nobody can tell which."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtr, chdtrc, chdtri, chndtrinc, ndtri

from geoqa.errors import GeometryInputError, JobError
from geoqa.kernels.arrays import Booleans, Floats

AGREE, NAMED, UNLOCATED, TOO_FEW = "agree", "named", "disagree, cannot be located", "too few"
"""What a test can say. UNLOCATED: something is wrong, and the data cannot say with which value."""

_TIE = 1e-6  # two statistics closer than this, relatively, are the same
_UNCHECKED = 1e-9  # redundancy below this: no other observation checks this one


@dataclass(frozen=True, kw_only=True, eq=False)
class Snooped:
    """Residuals of an adjustment, each tested for a blunder in its own observation.

    Attributes
    ----------
    statistic : (n,) float64
        Size of the residual over its own standard deviation (of several components: root of the sum of
        squares); NaN where no other observation checks this one.
    critical : float
        What it may be.
    detectable : (n,) or (n, k) float64
        Smallest blunder found with the asked-for power, in the unit of the residuals; infinite
        where unchecked.
    p_global : float
        Probability of so much misfit in all if the declared uncertainties are true.
    rows : tuple of int
        The row named; empty if none is.
    verdict : str
        AGREE, NAMED, UNLOCATED, or TOO_FEW where nothing is checked.
    """

    statistic: Floats
    critical: float
    detectable: Floats
    p_global: float
    rows: tuple[int, ...]
    verdict: str


@dataclass(frozen=True, kw_only=True, eq=False)
class SnoopedInTurn:
    """Blunders named one after the other.

    Attributes
    ----------
    rows : tuple of int
        Rows named, in turn; empty if none is, or if those left do not agree with each other either.
    verdict : str
        AGREE: nothing to name. NAMED: the others agree. UNLOCATED: they disagree, and it cannot be said
        which is wrong. TOO_FEW: nothing checks anything.
    first, last : Snooped
        The tests before anything was named, and of those left at the end (NaN in named rows).
    """

    rows: tuple[int, ...]
    verdict: str
    first: Snooped
    last: Snooped


def snoop(
    residuals: ArrayLike, *, u: ArrayLike, redundancy: ArrayLike, alpha: float = 0.001, power: float = 0.80
) -> Snooped:
    """Test every residual of an adjustment for a blunder in its own observation.

    Parameters
    ----------
    residuals : (n,) or (n, k) array
        Of n observations, or of n marks with k coordinates each, taken as independent of each
        other; a row with a NaN is not tested.
    u : float or array
        Declared standard uncertainty of the observations, shape of the residuals.
    redundancy : float or array
        Redundancy numbers, shape of the residuals.
    alpha : float
        Probability of one test calling a good observation bad.
    power : float
        Probability with which the `detectable` blunder is found.

    Returns
    -------
    Snooped
        Names one row at most: that of the largest statistic. UNLOCATED where two have the same, as
        two shots of one point always do, or where all of it is too much and no one stands out.

    Raises
    ------
    JobError
        A probability not between 0 and 1.

    Notes
    -----
    Data snooping after Baarda: w = v/(u sqrt(r)); detectable blunder u delta0/sqrt(r), delta0 = 4.13 for alpha
    0.001 and power 0.80 (constants from memory, recomputed). For k coordinates the sum of w² is chi-square
    with k degrees of freedom.

    Examples
    --------
    >>> z = np.array([100.012, 100.008, 100.011, 100.009, 100.010, 100.060])
    >>> found = snoop(z - z.mean(), u=0.010, redundancy=5 / 6)
    >>> found.statistic.round(3).tolist(), found.rows, found.detectable.round(4).tolist()[0]
    ([0.694, 1.132, 0.803, 1.022, 0.913, 4.564], (5,), 0.0453)
    """
    _probability(alpha, "alpha")
    _probability(power, "power")
    v = np.asarray(residuals, dtype=np.float64)
    u, r = (np.broadcast_to(np.asarray(each, dtype=np.float64), v.shape) for each in (u, redundancy))
    with np.errstate(divide="ignore", invalid="ignore"):
        checked = r > _UNCHECKED
        w = np.where(checked, v / (u * np.sqrt(r)), np.nan)
        components = 1 if v.ndim == 1 else v.shape[1]
        delta = _delta(alpha, power, components)
        detectable = np.where(np.isnan(v), np.nan, np.where(checked, u * delta / np.sqrt(r), np.inf))
    statistic = np.sqrt(np.sum(w.reshape(len(v), -1) ** 2, axis=1))
    critical = sqrt(float(chdtri(components, alpha)))
    used = np.isfinite(v)
    dof = float(r[used].sum())
    p_global = float(chdtrc(dof, np.sum((v[used] / u[used]) ** 2))) if dof > _UNCHECKED else np.nan
    rows, verdict = _largest(statistic, critical, p_global < alpha)
    return Snooped(
        statistic=statistic, critical=critical, detectable=detectable, p_global=p_global, rows=rows, verdict=verdict
    )


def snoop_in_turn(
    fit: Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]],
    count: int,
    *,
    u: ArrayLike,
    most: int | None = None,
    alpha: float = 0.001,
    power: float = 0.80,
) -> SnoopedInTurn:
    """Name blunders one after the other, fitting anew without those named.

    Parameters
    ----------
    fit : callable
        Takes a (n,) bool array of the rows to use; returns their residuals and redundancy
        numbers, shape (n,) or (n, k), NaN in the rows left out.
    count : int
        Number of rows n.
    u : float or array
        As in `snoop`, for all rows.
    most : int, optional
        Largest number of rows to name; without, fewer than half of them.
    alpha, power : float
        As in `snoop`.

    Returns
    -------
    SnoopedInTurn
        NAMED only if those left agree with each other.

    Examples
    --------
    >>> z = np.array([100.00, 100.50])
    >>> snoop_in_turn(mean_of(z, u=0.02), 2, u=0.02).verdict
    'disagree, cannot be located'
    """
    most = (count - 1) // 2 if most is None else most
    keep = np.ones(count, dtype=bool)
    named: list[int] = []
    first = last = _tested(fit, keep, u, alpha, power)
    while last.verdict == NAMED and len(named) < most:
        named += last.rows
        keep[named] = False
        try:
            last = _tested(fit, keep, u, alpha, power)
        except GeometryInputError:  # too few left to fit: nothing vouches for those named
            return SnoopedInTurn(rows=(), verdict=UNLOCATED, first=first, last=last)
    verdict = last.verdict
    if named:
        verdict = NAMED if last.verdict == AGREE else UNLOCATED
    elif verdict == NAMED:
        verdict = UNLOCATED
    return SnoopedInTurn(rows=tuple(named) if verdict == NAMED else (), verdict=verdict, first=first, last=last)


def mean_of(values: ArrayLike, *, u: ArrayLike) -> Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]:
    """Make the fit of a weighted mean to shots of one mark, for `snoop_in_turn`.

    Parameters
    ----------
    values : (n,) or (n, k) array
        One row a shot.
    u : float or array
        Standard uncertainty, shape of the values.

    Returns
    -------
    callable
        From the rows to use to residuals (value minus mean) and redundancy numbers.

    Examples
    --------
    >>> v, r = mean_of([1.0, 3.0, 50.0], u=1.0)(np.array([True, True, False]))
    >>> v.tolist(), r.tolist()
    ([-1.0, 1.0, nan], [0.5, 0.5, nan])
    """
    values = np.asarray(values, dtype=np.float64)
    weight = 1 / np.broadcast_to(np.asarray(u, dtype=np.float64), values.shape) ** 2

    def fit(keep: Booleans) -> tuple[Floats, Floats]:
        used = (keep if values.ndim == 1 else keep[:, None]) & np.isfinite(values) & np.isfinite(weight)
        share = np.where(used, weight, 0.0)
        total = share.sum(axis=0)
        if np.any(total == 0):
            raise GeometryInputError("No shot is left to take the mean of.")
        mean = np.sum(np.where(used, values, 0.0) * share, axis=0) / total
        return np.where(used, values - mean, np.nan), np.where(used, 1 - share / total, np.nan)

    return fit


def _tested(
    fit: Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]],
    keep: Booleans,
    u: ArrayLike,
    alpha: float,
    power: float,
) -> Snooped:
    residuals, redundancy = fit(keep.copy())
    return snoop(residuals, u=u, redundancy=redundancy, alpha=alpha, power=power)


def _largest(statistic: Floats, critical: float, too_much: bool) -> tuple[tuple[int, ...], str]:
    if not np.isfinite(statistic).any():
        return (), TOO_FEW
    worst = int(np.nanargmax(statistic))
    if statistic[worst] <= critical:
        return (), UNLOCATED if too_much else AGREE
    if _tied(statistic, worst):
        return (), UNLOCATED
    return (worst,), NAMED


def _tied(statistic: Floats, worst: int) -> bool:
    return int(np.sum(np.abs(statistic - statistic[worst]) <= _TIE * statistic[worst])) > 1


def _delta(alpha: float, power: float, components: int) -> float:
    """Shift of the statistic at which the test finds it with the asked-for power."""
    if components == 1:
        return float(ndtri(1 - alpha / 2) + ndtri(power))
    critical = float(chdtri(components, alpha))
    if chdtr(components, critical) <= 1 - power:
        return 0.0
    return sqrt(float(chndtrinc(critical, components, 1 - power)))


def _probability(value: float, name: str) -> None:
    if not 0 < value < 1:
        raise JobError(f"{name} {value} is not a probability between 0 and 1.")
