"""A plane through elevation differences: constant, or leaning over the site."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtrc, fdtrc

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats
from geoqa.kernels.control.least_squares import adjust


@dataclass(frozen=True, kw_only=True, eq=False)
class VerticalPlane:
    """dz = shift + slope_e (E - centre E) + slope_n (N - centre N).

    Attributes
    ----------
    shift : float
        Of the plane at the centre of the points; its standard error is `se[0]`.
    slope_e, slope_n : float
        Per unit of easting and northing; their standard errors are `se[1]` and `se[2]`.
    centre : (2,) float64
        Easting and northing of the points' centre.
    se : (3,) float64
        Standard errors of shift, slope_e and slope_n.
    covariance : (3, 3) float64
        Of the same.
    residuals, redundancy : (n,) float64
        Computed minus given difference, and the share of an error that shows in it.
    dof, sigma0, p_global
        As in `Adjustment`.
    p_level : float
        Probability of slopes as large as these if there is a constant shift only; NaN where the
        data cannot tell.
    """

    shift: float
    slope_e: float
    slope_n: float
    centre: Floats
    se: Floats
    covariance: Floats
    residuals: Floats
    redundancy: Floats
    dof: int
    sigma0: float
    p_global: float
    p_level: float

    def at(self, easting: ArrayLike, northing: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
        """Give the plane's difference and its standard uncertainty at places; NaN stays NaN."""
        e = np.asarray(easting, dtype=np.float64) - self.centre[0]
        n = np.asarray(northing, dtype=np.float64) - self.centre[1]
        rows = np.stack([np.ones_like(e), e, n], axis=-1)
        value = rows @ np.array([self.shift, self.slope_e, self.slope_n])
        return value, np.sqrt(np.einsum("...i,ij,...j->...", rows, self.covariance, rows))


def fit_vertical_plane(
    easting: ArrayLike, northing: ArrayLike, difference: ArrayLike, *, u: ArrayLike | None = None
) -> VerticalPlane:
    """Fit a plane to elevation differences by least squares.

    Parameters
    ----------
    easting, northing : (n,) array
        Places; coordinates of any size, they are taken from their centre first.
    difference : (n,) array
        Elevation, measured minus known, positive high.
    u : float or (n,) array, optional
        Standard uncertainty of the differences. Without, all weigh alike.

    Returns
    -------
    VerticalPlane
        Rows with a NaN are left out of the fit and get NaN.

    Raises
    ------
    GeometryInputError
        Fewer than three places, or all on one line.

    Notes
    -----
    `p_level` is the chi-square test of both slopes with declared uncertainties, else the F test.

    Examples
    --------
    >>> found = fit_vertical_plane([0, 100, 0, 100], [0, 0, 100, 100], [1.0, 1.1, 1.0, 1.1])
    >>> round(found.shift, 9), round(found.slope_e, 9), round(abs(found.slope_n), 9)
    (1.05, 0.001, 0.0)
    """
    e, n, dz = (np.asarray(each, dtype=np.float64) for each in (easting, northing, difference))
    if not e.shape == n.shape == dz.shape or e.ndim != 1:
        raise GeometryInputError(f"Easting {e.shape}, northing {n.shape} and difference {dz.shape} differ in length.")
    used = np.isfinite(e) & np.isfinite(n) & np.isfinite(dz)
    centre = np.array([e[used].mean(), n[used].mean()]) if used.any() else np.zeros(2)
    found = adjust(np.column_stack([np.ones_like(e), e - centre[0], n - centre[1]]), dz, u=u)
    shift, slope_e, slope_n = found.parameters.tolist()
    return VerticalPlane(
        shift=shift,
        slope_e=slope_e,
        slope_n=slope_n,
        centre=centre,
        se=found.se,
        covariance=found.covariance,
        residuals=found.residuals,
        redundancy=found.redundancy,
        dof=found.dof,
        sigma0=found.sigma0,
        p_global=found.p_global,
        p_level=_p_level(found.parameters[1:], found.covariance[1:, 1:], found.dof, u_declared=u is not None),
    )


def _p_level(slopes: Floats, covariance: Floats, dof: int, *, u_declared: bool) -> float:
    if u_declared:
        return float(chdtrc(2, slopes @ np.linalg.solve(covariance, slopes)))
    if dof == 0:
        return np.nan
    if not covariance.any():  # a perfect fit leaves no doubt
        return float(not slopes.any())
    return float(fdtrc(2, dof, slopes @ np.linalg.solve(covariance, slopes) / 2))
