"""A number learned from data, with how well it is known."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtri, stdtrit

from geoqa.errors import JobError
from geoqa.kernels.arrays import Floats

ONE_SIGMA = 0.6826894921370859  # probability within one standard deviation of a normal value


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """An estimated number and its band.

    Attributes
    ----------
    value : float
        The estimate; NaN where the data cannot tell.
    se : float
        Its standard error, same unit.
    low, high : float
        Ends of its confidence band; infinite or NaN where the data set no end.
    dof : float
        Degrees of freedom behind it; infinite for a declared number.
    """

    value: float
    se: float
    low: float
    high: float
    dof: float

    @property
    def significant(self) -> bool:
        """Whether the band leaves 0 out."""
        return self.low > 0 or self.high < 0


UNKNOWN = Estimate(value=np.nan, se=np.nan, low=np.nan, high=np.nan, dof=0.0)
"""What is said where the data cannot tell."""


def declared(value: float) -> Estimate:
    """Make an estimate of a number that was declared, not learned.

    Examples
    --------
    >>> declared(0.02).high
    0.02
    """
    return Estimate(value=value, se=0.0, low=value, high=value, dof=np.inf)


def linear_estimate(value: float, se: float, *, dof: float, confidence: float = 0.95) -> Estimate:
    """Give a linear estimate the band of Student's t.

    Examples
    --------
    >>> round(linear_estimate(0.0, 1.0, dof=np.inf).high, 4)
    1.96
    """
    reach = student(1 - _tail(confidence), dof) * se
    return Estimate(value=float(value), se=float(se), low=float(value - reach), high=float(value + reach), dof=dof)


def spread_estimate(sum_squares: float, dof: float, *, confidence: float = 0.95) -> Estimate:
    """Estimate a standard deviation from a sum of squares, with the exact band of chi-square.

    Parameters
    ----------
    sum_squares : float
        Of residuals of independent normal values of one spread.
    dof : float
        Degrees of freedom of the sum.
    confidence : float
        Probability with which bands of this kind hold the true standard deviation.

    Returns
    -------
    Estimate
        Its `se` is the usual s/sqrt(2 dof). Unknown without degrees of freedom.

    Notes
    -----
    sqrt(SS/chi2(0.975)) to sqrt(SS/chi2(0.025)); any textbook of statistics.

    Examples
    --------
    >>> found = spread_estimate(10.0, 10)
    >>> found.value, round(found.low, 3), round(found.high, 3)
    (1.0, 0.699, 1.755)
    """
    tail = _tail(confidence)
    if not (dof > 0 and np.isfinite(sum_squares)):
        return UNKNOWN
    value = sqrt(sum_squares / dof)
    low, high = (sqrt(sum_squares / float(chdtri(dof, p))) for p in (tail, 1 - tail))
    return Estimate(value=value, se=value / sqrt(2 * dof), low=low, high=high, dof=float(dof))


def likely_estimate(value: float, likely: ArrayLike, *, dof: float, confidence: float = 0.95) -> Estimate:
    """Give a value the band of a set of equally likely ones.

    Parameters
    ----------
    value : float
        The estimate itself.
    likely : (m,) array
        Equally likely values of the quantity in the light of the data.
    dof : float
        Degrees of freedom to record.
    confidence : float
        Share of the likely values within the band, as much left out below as above.

    Returns
    -------
    Estimate
        Its `se` is half the width of the band that holds 68 % of the likely values.

    Examples
    --------
    >>> found = likely_estimate(0.5, np.linspace(0, 1, 1001), dof=5)
    >>> round(found.low, 3), round(found.high, 3), round(found.se, 3)
    (0.025, 0.975, 0.341)
    """
    tail = _tail(confidence)
    ends = [tail, 1 - tail, (1 - ONE_SIGMA) / 2, (1 + ONE_SIGMA) / 2]
    low, high, near_low, near_high = np.quantile(np.asarray(likely, dtype=np.float64), ends).tolist()
    return Estimate(value=float(value), se=(near_high - near_low) / 2, low=low, high=high, dof=dof)


def relative_error_of_spread(shots: ArrayLike) -> Floats:
    """Relative standard error of a standard deviation learned from so many shots.

    Parameters
    ----------
    shots : (n,) array
        Independent shots about one mean.

    Returns
    -------
    (n,) float64 array
        1/sqrt(2(n - 1)), the usual approximation; infinite for one shot.

    Examples
    --------
    >>> relative_error_of_spread([10, 30]).round(2).tolist()
    [0.24, 0.13]
    """
    free = np.asarray(shots, dtype=np.float64) - 1
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(free >= 0, 1 / np.sqrt(2 * np.maximum(free, 0)), np.nan)


def shots_needed(relative_error: float) -> int:
    """Count the shots that make a standard deviation known to a relative standard error.

    Parameters
    ----------
    relative_error : float
        For example 0.10 for ten percent.

    Returns
    -------
    int
        Smallest n with 1/sqrt(2(n - 1)) at most `relative_error`; at least 2.

    Raises
    ------
    JobError
        A relative error that is not above 0.

    Examples
    --------
    >>> shots_needed(0.10), shots_needed(0.25)
    (51, 9)
    """
    if not relative_error > 0:
        raise JobError(f"A relative error of {relative_error} cannot be reached; give one above 0, for example 0.10.")
    return max(2, ceil(1 + 1 / (2 * relative_error**2) - 1e-9))


def student(probability: float, dof: float) -> float:
    """Quantile of Student's t; of the normal distribution for infinite degrees of freedom.

    Examples
    --------
    >>> round(student(0.995, 16), 4), round(student(0.975, np.inf), 4)
    (2.9208, 1.96)
    """
    if not dof > 0:
        return np.inf
    return float(stdtrit(min(dof, 1e12), probability))


def _tail(confidence: float) -> float:
    if not 0 < confidence < 1:
        raise JobError(f"A confidence of {confidence} is not between 0 and 1; 0.95 is usual.")
    return (1 - confidence) / 2
