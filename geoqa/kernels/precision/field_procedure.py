"""The field test of real-time GNSS equipment on two points: blunders, achieved precision, and what it may be called."""

from __future__ import annotations

from dataclasses import dataclass
from math import nan, sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtri

from geoqa.errors import GeometryInputError, JobError
from geoqa.kernels.arrays import Booleans, Floats

SETS, POINTS = 5, 2
_BLUNDER = 2.5


@dataclass(frozen=True, kw_only=True, eq=False)
class ScreenedSets:
    """Sets of one shot on either point, compared with what is known between the points.

    Attributes
    ----------
    distance, height : (..., sets) float64
        Measured minus known distance and height difference (second point minus first); NaN
        where a shot is missing.
    limit_distance, limit_height : float
        What they may be: 2.5 sqrt(2) times the expected precision.
    suspect : (..., sets) bool
        Beyond a limit.
    passed : bool or None
        No set is suspect; None if none is, but some are incomplete.
    """

    distance: Floats
    height: Floats
    limit_distance: float
    limit_height: float
    suspect: Booleans
    passed: bool | None


@dataclass(frozen=True, kw_only=True, eq=False)
class FieldPrecision:
    """Precision of a single shot from the full test.

    Attributes
    ----------
    s_e, s_n, s_xy, s_h : float
        Standard deviations; s_xy is the root of the sum of both plan variances. NaN where the
        shots cannot tell.
    dof_xy, dof_h : int
        Degrees of freedom: 56 and 28 for the complete test.
    residuals : (series, sets, 2, 3) float64
        Shot minus mean of its point, in easting, northing and elevation.
    complete : bool
        Three series of five sets with every shot.
    """

    s_e: float
    s_n: float
    s_xy: float
    s_h: float
    dof_xy: int
    dof_h: int
    residuals: Floats
    complete: bool


@dataclass(frozen=True, kw_only=True)
class PrecisionDecision:
    """Whether an achieved precision agrees with a stated one; None where the shots cannot tell.

    Attributes
    ----------
    meets_xy, meets_h : bool or None
        Horizontal and vertical answer.
    high_xy, high_h : float
        Limits that the standard deviations must not exceed.
    ratio_xy, ratio_h : float
        Ratio of the variances, over the stated one.
    """

    meets_xy: bool | None
    meets_h: bool | None
    high_xy: float
    high_h: float
    ratio_xy: float
    ratio_h: float


def screen_sets(
    shots: ArrayLike, *, distance: float, height_difference: float, s_xy: float, s_h: float
) -> ScreenedSets:
    """Compare every set with the known distance and height difference; on one series this is the simplified test.

    Parameters
    ----------
    shots : (..., sets, 2, 3) array
        Easting, northing and elevation of a shot on the first and one on the second point. NaN is missing.
    distance, height_difference : float
        Between the points, second minus first, known independently and better.
    s_xy, s_h : float
        Expected standard deviation of one shot, horizontal (both axes together) and vertical.

    Returns
    -------
    ScreenedSets
        Suspect sets are to be replaced by NaN, or the test repeated.

    Raises
    ------
    GeometryInputError
        Shots of another shape.
    JobError
        An expected precision that is not above 0.

    Notes
    -----
    Layout and limits of ISO 17123-8, from memory.

    Examples
    --------
    >>> series = [[[0, 0, 10], [9, 0, 11]], [[0.01, 0, 10], [9, 0, 11]], [[0, 0, 10], [9, 0, 11.2]]]
    >>> screen_sets(series, distance=9, height_difference=1, s_xy=0.015, s_h=0.025).suspect.tolist()
    [False, False, True]
    """
    shots = _shots(shots)
    for name, value in (("horizontal", s_xy), ("vertical", s_h)):
        if not value > 0:
            raise JobError(f"The expected {name} precision {value} must be above 0.")
    apart = shots[..., 1, :] - shots[..., 0, :]
    away = np.hypot(apart[..., 0], apart[..., 1]) - distance
    height = apart[..., 2] - height_difference
    limit_distance, limit_height = _BLUNDER * sqrt(2) * s_xy, _BLUNDER * sqrt(2) * s_h
    suspect = (np.abs(away) > limit_distance) | (np.abs(height) > limit_height)
    complete = not (np.isnan(away).any() or np.isnan(height).any())
    return ScreenedSets(
        distance=away,
        height=height,
        limit_distance=limit_distance,
        limit_height=limit_height,
        suspect=suspect,
        passed=False if suspect.any() else (True if complete else None),
    )


def full_test(shots: ArrayLike) -> FieldPrecision:
    """Compute the precision of a single shot from three series of five sets on two points.

    Parameters
    ----------
    shots : (series, sets, 2, 3) array
        As in `screen_sets`, blunders removed. NaN is missing and costs its degree of freedom.

    Returns
    -------
    FieldPrecision
        Residuals are from the mean of each point over all its shots.

    Raises
    ------
    GeometryInputError
        Shots of another shape.

    Notes
    -----
    s_x² = sum r_x² / 28 and s_xy² = s_x² + s_y² with 56 degrees of freedom, s_h with 28; ISO 17123-8, from memory.

    Examples
    --------
    >>> shots = np.zeros((3, 5, 2, 3))
    >>> shots[::2, :, :, 2] = 0.01
    >>> found = full_test(shots)
    >>> found.dof_xy, found.dof_h, round(found.s_h, 6), found.s_xy
    (56, 28, 0.00488, 0.0)
    """
    shots = _shots(shots)
    if shots.ndim != 4:
        raise GeometryInputError(f"Shots {shots.shape} are not (series, sets, 2 points, 3 coordinates).")
    count = np.isfinite(shots).sum(axis=(0, 1))
    mean = np.where(count > 0, np.nansum(shots, axis=(0, 1)) / np.maximum(count, 1), nan)
    # a second look keeps the last digits of large coordinates
    mean = mean + np.where(count > 0, np.nansum(shots - mean, axis=(0, 1)) / np.maximum(count, 1), nan)
    residuals = shots - mean
    free = np.maximum(count - 1, 0).sum(axis=0)
    squares = np.nansum(residuals**2, axis=(0, 1, 2))
    variance = np.where(free > 0, squares / np.maximum(free, 1), nan)
    s_e, s_n, s_h = np.sqrt(variance).tolist()
    return FieldPrecision(
        s_e=s_e,
        s_n=s_n,
        s_xy=sqrt(variance[0] + variance[1]),
        s_h=s_h,
        dof_xy=int(free[0] + free[1]),
        dof_h=int(free[2]),
        residuals=residuals,
        complete=shots.shape == (3, SETS, POINTS, 3) and bool(np.isfinite(shots).all()),
    )


def meets_stated(
    precision: FieldPrecision, *, sigma_xy: float, sigma_h: float, alpha: float = 0.05
) -> PrecisionDecision:
    """Decide whether the achieved precision agrees with a stated one.

    Parameters
    ----------
    precision : FieldPrecision
        From `full_test`.
    sigma_xy, sigma_h : float
        Stated standard deviation of a single shot, horizontal (both axes together) and vertical.
    alpha : float
        Probability of refusing an instrument that meets the statement exactly.

    Returns
    -------
    PrecisionDecision
        Only too large a deviation fails.

    Notes
    -----
    Chi-square test, one-sided: s <= sigma sqrt(chi2(1 - alpha; dof)/dof), 1.15 and 1.22 sigma for 56 and 28 degrees of
    freedom; ISO 17123-8, from memory.

    Examples
    --------
    >>> found = full_test(np.zeros((3, 5, 2, 3)))
    >>> round(meets_stated(found, sigma_xy=1.0, sigma_h=1.0).high_xy, 4)
    1.1532
    """
    limit_xy, limit_h = (
        sigma * sqrt(float(chdtri(dof, alpha)) / dof) if dof else nan
        for sigma, dof in ((sigma_xy, precision.dof_xy), (sigma_h, precision.dof_h))
    )
    ratio_xy, ratio_h = (precision.s_xy / sigma_xy) ** 2, (precision.s_h / sigma_h) ** 2
    return PrecisionDecision(
        meets_xy=_at_most(precision.s_xy, limit_xy),
        meets_h=_at_most(precision.s_h, limit_h),
        high_xy=limit_xy,
        high_h=limit_h,
        ratio_xy=ratio_xy,
        ratio_h=ratio_h,
    )


def _shots(shots: ArrayLike) -> Floats:
    shots = np.asarray(shots, dtype=np.float64)
    if shots.ndim < 3 or shots.shape[-2:] != (POINTS, 3):
        raise GeometryInputError(f"Shots {shots.shape} are not (..., sets, 2 points, 3 coordinates).")
    return shots


def _at_most(value: float, limit: float) -> bool | None:
    return None if np.isnan(value) or np.isnan(limit) else bool(value <= limit)
