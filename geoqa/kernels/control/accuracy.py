"""How accurate a data set is by its check points, and whether a published standard lets that be said."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, log1p, nan, sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats
from geoqa.kernels.control.check_points import SHARE, SPACING, PointSpread

NSSDA_POINTS, ASPRS_POINTS = 20, 30
NSSDA_RATIO = 0.6
_RADIAL, _EQUAL, _VERTICAL = 2.4477, 1.7308, 1.9600  # as the standard prints them
_ANGLES = 720


@dataclass(frozen=True, kw_only=True)
class StatedAccuracy:
    """Accuracy at 95 % confidence after the NSSDA.

    Attributes
    ----------
    allowed_h, allowed_v : bool
        Whether the standard lets the horizontal and the vertical number be stated.
    reasons : tuple of str
        Why not, in words.
    cautions : tuple of str
        What the standard advises and the points do not follow.
    points_h, points_v : int
        Check points with both plan components, and with an elevation.
    mean_e, mean_n, mean_z, rmse_e, rmse_n, rmse_r, rmse_z : float
        Of measured minus known; divisor n. NaN without points.
    ratio : float
        Smaller over larger of the two plan RMSE.
    accuracy_h, accuracy_v : float
        The numbers to state; NaN where not allowed. For unequal plan RMSE 2.4477 · (RMSEe + RMSEn)/2.
    accuracy_h_equal : float
        1.7308 · RMSEr, which the standard gives for equal plan RMSE and is the larger one; NaN where not allowed.
    exact_h : float
        Radius that holds 95 % of normal errors with these two RMSE and mean 0; never refused.
    """

    allowed_h: bool
    allowed_v: bool
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    points_h: int
    points_v: int
    mean_e: float
    mean_n: float
    mean_z: float
    rmse_e: float
    rmse_n: float
    rmse_r: float
    rmse_z: float
    ratio: float
    accuracy_h: float
    accuracy_v: float
    accuracy_h_equal: float
    exact_h: float

    @property
    def allowed(self) -> bool:
        """Whether both numbers may be stated."""
        return self.allowed_h and self.allowed_v


@dataclass(frozen=True, kw_only=True)
class ProductAccuracy:
    """Accuracy after the second edition of the ASPRS standards: RMSE, no 95 % numbers.

    Attributes
    ----------
    allowed : bool
        Whether the numbers may be stated.
    reasons : tuple of str
        Why not, in words.
    points_h, points_v : int
        Check points with both plan components, and with an elevation.
    fit_h, fit_v : float
        RMSE of the fit to the check points, horizontal (radial) and vertical.
    rmse_h, rmse_v, rmse_3d : float
        With the check points' own accuracy in it; NaN where that is missing.
    """

    allowed: bool
    reasons: tuple[str, ...]
    points_h: int
    points_v: int
    fit_h: float
    fit_v: float
    rmse_h: float
    rmse_v: float
    rmse_3d: float


def nssda(
    deviation_e: ArrayLike,
    deviation_n: ArrayLike,
    deviation_z: ArrayLike,
    *,
    counted: ArrayLike = True,
    spread: PointSpread | None = None,
) -> StatedAccuracy:
    """Compute accuracy at 95 % confidence after the NSSDA, or say why it may not be stated.

    Parameters
    ----------
    deviation_e, deviation_n, deviation_z : (n,) array
        Measured minus known at check points, one unit. A NaN leaves the row out of that component.
    counted : bool or (n,) array
        Rows that count, as from `checkpoints`.
    spread : PointSpread, optional
        Of the counted points; where it falls short of the standard's advice, that is a caution.

    Returns
    -------
    StatedAccuracy
        Refused below 20 points, and horizontally where the smaller plan RMSE is below 0.6 of the larger.

    Raises
    ------
    GeometryInputError
        Arrays of different length.

    Notes
    -----
    FGDC-STD-007.3-1998, 3.2.2, 3-A.1, 3-A.2 and 3-C.3 (seen in a third party's copy), with its rounded factors
    2.4477, 1.7308 and 1.9600. Blunders and mistaken frames are to be corrected before. Its advice on the spread of
    points cannot always be met: a corridor has no room for 20 points a tenth of its diagonal apart.

    Examples
    --------
    >>> found = nssda([0.1, -0.1] * 10, [0.08, -0.08] * 10, [0.05, -0.05] * 10)
    >>> round(found.accuracy_h, 6), round(found.accuracy_v, 6), round(found.exact_h, 6), found.allowed
    (0.220293, 0.098, 0.223029, True)
    """
    e, n, z, plan, level = _counted(deviation_e, deviation_n, deviation_z, counted)
    rmse_e, rmse_n, rmse_z = _rmse(e[plan]), _rmse(n[plan]), _rmse(z[level])
    larger, smaller = max(rmse_e, rmse_n), min(rmse_e, rmse_n)
    ratio = smaller / larger if larger > 0 else (1.0 if larger == 0 else nan)
    reasons = [
        f"{count} {what} check point{'s' * int(count != 1)}; {NSSDA_POINTS} are needed"
        for what, count in (("horizontal", plan.sum()), ("vertical", level.sum()))
        if count < NSSDA_POINTS
    ]
    allowed_h = plan.sum() >= NSSDA_POINTS
    if ratio < NSSDA_RATIO - 1e-12:
        allowed_h = False
        reasons.append(f"easting and northing RMSE differ too much: ratio {ratio:.2f}, below {NSSDA_RATIO}")
    rmse_r = hypot(rmse_e, rmse_n)
    equal = larger - smaller <= 1e-9 * larger
    stated = _EQUAL * rmse_r if equal else _RADIAL * (rmse_e + rmse_n) / 2
    allowed_v = bool(level.sum() >= NSSDA_POINTS)
    return StatedAccuracy(
        allowed_h=bool(allowed_h),
        allowed_v=allowed_v,
        reasons=tuple(reasons),
        cautions=_cautions(spread),
        points_h=int(plan.sum()),
        points_v=int(level.sum()),
        mean_e=_mean(e[plan]),
        mean_n=_mean(n[plan]),
        mean_z=_mean(z[level]),
        rmse_e=rmse_e,
        rmse_n=rmse_n,
        rmse_r=rmse_r,
        rmse_z=rmse_z,
        ratio=ratio,
        accuracy_h=stated if allowed_h else nan,
        accuracy_v=_VERTICAL * rmse_z if allowed_v else nan,
        accuracy_h_equal=_EQUAL * rmse_r if allowed_h else nan,
        exact_h=radius_95(rmse_e, rmse_n),
    )


def asprs(
    deviation_e: ArrayLike,
    deviation_n: ArrayLike,
    deviation_z: ArrayLike,
    *,
    checkpoint_h: float,
    checkpoint_v: float,
    counted: ArrayLike = True,
) -> ProductAccuracy:
    """Compute positional accuracy after the second edition of the ASPRS standards.

    Parameters
    ----------
    deviation_e, deviation_n, deviation_z, counted
        As in `nssda`.
    checkpoint_h, checkpoint_v : float
        Accuracy (RMSE, horizontal: radial) of the survey of the check points; NaN for not known,
        and then nothing may be stated.

    Returns
    -------
    ProductAccuracy
        Refused below 30 points.

    Raises
    ------
    GeometryInputError
        Arrays of different length.

    Notes
    -----
    ASPRS Positional Accuracy Standards, edition 2, 2023: 30 points, and check point accuracy enters (both seen in
    summaries); formulas from memory: RMSE² of the product = RMSE² of the fit + RMSE² of the check points.

    Examples
    --------
    >>> found = asprs([0.03, -0.03] * 15, [0.04, -0.04] * 15, [0.04, -0.04] * 15, checkpoint_h=0.12, checkpoint_v=0.03)
    >>> round(found.fit_h, 4), round(found.rmse_h, 4), round(found.rmse_v, 4), found.allowed
    (0.05, 0.13, 0.05, True)
    """
    e, n, z, plan, level = _counted(deviation_e, deviation_n, deviation_z, counted)
    fit_h, fit_v = hypot(_rmse(e[plan]), _rmse(n[plan])), _rmse(z[level])
    rmse_h, rmse_v = hypot(fit_h, checkpoint_h), hypot(fit_v, checkpoint_v)
    reasons = [
        f"{count} {what} check point{'s' * int(count != 1)}; {ASPRS_POINTS} are needed"
        for what, count in (("horizontal", plan.sum()), ("vertical", level.sum()))
        if count < ASPRS_POINTS
    ]
    reasons += [
        f"the {what} accuracy of the check points is not known"
        for what, u in (("horizontal", checkpoint_h), ("vertical", checkpoint_v))
        if not np.isfinite(u)
    ]
    return ProductAccuracy(
        allowed=not reasons,
        reasons=tuple(reasons),
        points_h=int(plan.sum()),
        points_v=int(level.sum()),
        fit_h=fit_h,
        fit_v=fit_v,
        rmse_h=rmse_h,
        rmse_v=rmse_v,
        rmse_3d=hypot(rmse_h, rmse_v),
    )


def radius_95(sigma_e: float, sigma_n: float, *, probability: float = 0.95) -> float:
    """Radius that holds a share of independent normal plan errors with mean 0.

    Parameters
    ----------
    sigma_e, sigma_n : float
        Standard deviation per axis; 0 is allowed.
    probability : float
        Share of the errors within the radius.

    Returns
    -------
    float
        NaN where a standard deviation is.

    Notes
    -----
    The density in polar coordinates, integrated over distance in closed form and over direction by the
    trapezoidal rule, which is exact to rounding for a smooth periodic function. The root lies between those of errors
    in one direction only and of equal errors in both.

    Examples
    --------
    >>> round(radius_95(0.10, 0.06), 6), round(radius_95(1.0, 1.0), 6), round(radius_95(1.0, 0.0), 6)
    (0.20813, 2.447747, 1.959964)
    """
    large, small = max(sigma_e, sigma_n), min(sigma_e, sigma_n)
    if np.isnan(sigma_e) or np.isnan(sigma_n):
        return nan
    if large == 0:
        return 0.0
    flat = small / large
    if flat < 0.02:  # too sharp in direction for the rule; nearly one-dimensional
        z = float(ndtri((1 + probability) / 2))
        return large * (z + flat**2 / (2 * z))
    squared = np.sin((np.arange(_ANGLES) + 0.5) * 2 * np.pi / _ANGLES) ** 2
    pull = (1 - squared) + squared / flat**2

    def inside(radius: float) -> float:
        return float(np.mean(-np.expm1(-(radius**2) * pull / 2) / pull)) / flat

    from scipy.optimize import brentq

    least, most = float(ndtri((1 + probability) / 2)), sqrt(-2 * log1p(-probability))
    return large * float(
        brentq(lambda radius: inside(radius) - probability, least * (1 - 1e-9), most * (1 + 1e-9), xtol=1e-15)
    )


def _counted(
    deviation_e: ArrayLike, deviation_n: ArrayLike, deviation_z: ArrayLike, counted: ArrayLike
) -> tuple[Floats, Floats, Floats, Booleans, Booleans]:
    e, n, z = (np.asarray(each, dtype=np.float64) for each in (deviation_e, deviation_n, deviation_z))
    if not e.shape == n.shape == z.shape:
        raise GeometryInputError(
            f"Deviations in easting {e.shape}, northing {n.shape}, elevation {z.shape} differ in length."
        )
    use = _flags(counted, e)
    return e, n, z, use & np.isfinite(e) & np.isfinite(n), use & np.isfinite(z)


def _cautions(spread: PointSpread | None) -> tuple[str, ...]:
    if spread is None:
        return ()
    said = []
    if not spread.quadrants_met:
        said.append(f"fewer than {SHARE:.0%} of the points in a quadrant of the data set")
    if not spread.spacing_met:
        said.append(f"points closer together than {SPACING:.0%} of the diagonal of the data set")
    return tuple(said)


def _flags(given: ArrayLike, like: Floats) -> Booleans:
    return np.broadcast_to(np.asarray(given, dtype=bool), like.shape)


def _mean(values: Floats) -> float:
    return float(values.mean()) if values.size else nan


def _rmse(values: Floats) -> float:
    return sqrt(float(np.mean(values**2))) if values.size else nan
