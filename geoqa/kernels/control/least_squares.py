"""Least squares with weights: parameters, and how strongly every observation is checked by the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import solve_triangular
from scipy.special import chdtrc

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Adjustment:
    """A linear model adjusted to n observations with p parameters.

    Attributes
    ----------
    parameters : (p,) float64
        In the order of the design's columns.
    covariance : (p, p) float64
        Of the parameters: from the declared uncertainties where there are any, else from
        the residuals.
    residuals : (n,) float64
        Computed minus observed; NaN for observations left out.
    redundancy : (n,) float64
        Share of an error of the observation that shows in its own residual, 0 to 1; they add
        up to `dof`. NaN for observations left out.
    dof : int
        Degrees of freedom: observations used minus parameters.
    sigma0 : float
        Standard deviation of unit weight; near 1 where the declared uncertainties are true. In
        the unit of the observations where none were declared. NaN without degrees of freedom.
    p_global : float
        Probability of misfit as large as this if the declared uncertainties are true; NaN without.
    """

    parameters: Floats
    covariance: Floats
    residuals: Floats
    redundancy: Floats
    dof: int
    sigma0: float
    p_global: float

    @property
    def se(self) -> Floats:
        """Standard errors of the parameters."""
        return np.sqrt(np.diag(self.covariance))


def adjust(design: ArrayLike, observed: ArrayLike, *, u: ArrayLike | None = None) -> Adjustment:
    """Adjust a linear model, observed = design @ parameters + error, by least squares.

    Parameters
    ----------
    design : (n, p) array
        Coefficients. Columns of very different size are fine; large offsets are not: subtract
        them first.
    observed : (n,) array
        Observations.
    u : float or (n,) array, optional
        Standard uncertainty of every observation, above 0; weights are 1/u². Without, all weigh alike.

    Returns
    -------
    Adjustment
        Rows with a NaN anywhere are left out of the fit and get NaN.

    Raises
    ------
    GeometryInputError
        Fewer observations than parameters, observations that leave a parameter open, or an
        uncertainty that is not above 0.

    Notes
    -----
    By orthogonal triangulation of the weighted, column-scaled design; redundancy numbers are
    1 minus its leverages. Any textbook of adjustment computations.

    Examples
    --------
    >>> found = adjust([[1, 0], [1, 1], [1, 2], [1, np.nan]], [1.0, 3.0, 5.3, 7.0])
    >>> found.parameters.round(4).tolist(), found.residuals.round(4).tolist()
    ([0.95, 2.15], [-0.05, 0.1, -0.05, nan])
    >>> found.redundancy.round(4).tolist(), found.dof
    ([0.1667, 0.6667, 0.1667, nan], 1)
    """
    design = np.asarray(design, dtype=np.float64)
    observed = np.asarray(observed, dtype=np.float64)
    sigma = np.broadcast_to(np.asarray(1.0 if u is None else u, dtype=np.float64), observed.shape)
    if np.any(sigma <= 0):
        raise GeometryInputError("A standard uncertainty of 0 or less gives no weight; give every observation its own.")
    used = np.isfinite(design).all(axis=1) & np.isfinite(observed) & np.isfinite(sigma)
    weighted = design[used] / sigma[used, None]
    q, r, scale = _triangulated(weighted)
    parameters = solve_triangular(r, q.T @ (observed[used] / sigma[used])) / scale
    inverse = solve_triangular(r, np.eye(r.shape[0])) / scale[:, None]
    residuals, redundancy = np.full(observed.shape, np.nan), np.full(observed.shape, np.nan)
    residuals[used] = design[used] @ parameters - observed[used]
    redundancy[used] = np.clip(1 - np.sum(q**2, axis=1), 0.0, 1.0)
    dof = int(used.sum()) - parameters.size
    misfit = float(np.sum((residuals[used] / sigma[used]) ** 2))
    variance = misfit / dof if dof else np.nan
    return Adjustment(
        parameters=parameters,
        covariance=inverse @ inverse.T * (variance if u is None else 1.0),
        residuals=residuals,
        redundancy=redundancy,
        dof=dof,
        sigma0=float(np.sqrt(variance)),
        p_global=float(chdtrc(dof, misfit)) if dof and u is not None else np.nan,
    )


def _triangulated(weighted: Floats) -> tuple[Floats, Floats, Floats]:
    rows, columns = weighted.shape
    if rows < columns:
        raise GeometryInputError(
            f"{rows} complete observations cannot settle {columns} parameters; observe at least {columns}."
        )
    scale = np.sqrt(np.sum(weighted**2, axis=0))
    if np.all(scale > 0):
        q, r = np.linalg.qr(weighted / scale)
        if np.min(np.abs(np.diag(r))) > 1e-10:
            return q, r, scale
    raise GeometryInputError(
        f"The {rows} observations leave a parameter open (points that coincide, or all on one line, do that); "
        "add points that spread out in the missing direction."
    )
