"""How one set of points lies on another: shift, turn and scale."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, degrees, hypot

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats
from geoqa.kernels.control.least_squares import Adjustment, adjust


@dataclass(frozen=True, kw_only=True, eq=False)
class Similarity:
    """A fitted shift, turn and scale: E = a e - b n + TE, N = b e + a n + TN.

    Attributes
    ----------
    a, b : float
        Scale times cosine and sine of the rotation.
    scale : float
        Target length over source length; its standard error is `scale_se`.
    rotation : float
        Degrees counter-clockwise, -180 to 180: an azimuth in the source is larger by this than in
        the target. Its standard error is `rotation_se`.
    shift : (2,) float64
        TE and TN, what the source's origin moves to; far from the points it is known badly, as
        `shift_se` says. To move points, use `apply`.
    residuals : (n, 2) float64
        Computed minus given target, easting and northing; NaN for points left out.
    redundancy : (n, 2) float64
        Share of an error that shows in its own residual.
    dof, sigma0, p_global
        As in `Adjustment`.
    covariance : (4, 4) float64
        Of a, b and the shift of the centre of the points in easting and northing.
    source_centre, target_centre : (2,) float64
        The centre of the points in both.
    """

    a: float
    b: float
    scale: float
    scale_se: float
    rotation: float
    rotation_se: float
    shift: Floats
    shift_se: Floats
    residuals: Floats
    redundancy: Floats
    dof: int
    sigma0: float
    p_global: float
    covariance: Floats
    source_centre: Floats
    target_centre: Floats

    def apply(self, easting: ArrayLike, northing: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
        """Move source coordinates to the target; NaN stays NaN."""
        e = np.asarray(easting, dtype=np.float64) - self.source_centre[0]
        n = np.asarray(northing, dtype=np.float64) - self.source_centre[1]
        return (
            self.a * e - self.b * n + self.target_centre[0],
            self.b * e + self.a * n + self.target_centre[1],
        )


def similar(
    easting: ArrayLike, northing: ArrayLike, *, scale: float, rotation: float, shift: tuple[float, float]
) -> tuple[Floats, Floats]:
    """Move points by known parameters: E = a e - b n + TE, N = b e + a n + TN.

    Parameters
    ----------
    easting, northing : (n,) array
        Source coordinates.
    scale : float
        Target length over source length.
    rotation : float
        Degrees, counter-clockwise.
    shift : (float, float)
        TE and TN.

    Returns
    -------
    tuple of (n,) float64 array
        Target easting and northing.

    Examples
    --------
    >>> e, n = similar([100.0], [0.0], scale=1.0, rotation=90.0, shift=(10.0, 20.0))
    >>> float(e[0].round(6)), float(n[0].round(6))
    (10.0, 120.0)
    """
    e, n = np.asarray(easting, dtype=np.float64), np.asarray(northing, dtype=np.float64)
    a, b = scale * np.cos(np.radians(rotation)), scale * np.sin(np.radians(rotation))
    return a * e - b * n + shift[0], b * e + a * n + shift[1]


def fit_similarity(source: ArrayLike, target: ArrayLike, *, u: ArrayLike | None = None) -> Similarity:
    """Fit the shift, turn and scale that lay source points on target points best.

    Parameters
    ----------
    source, target : (n, 2) array
        Easting and northing of the same points. Coordinates of any size: they are taken from
        their centre first.
    u : float, (n,) or (n, 2) array, optional
        Standard uncertainty of the difference per point or coordinate, in target units. Without,
        all weigh alike.

    Returns
    -------
    Similarity
        A coordinate with a NaN on either side is left out, with NaN residual.

    Raises
    ------
    GeometryInputError
        Fewer than two distinct points, or arrays that do not fit each other.

    Notes
    -----
    Two-dimensional conformal transformation, least squares; any textbook of adjustment
    computations. To check control, give the measured points as source: then the residuals are
    measured minus published, after the fit.

    Examples
    --------
    >>> found = fit_similarity([[0, 0], [100, 0], [0, 100]], [[10, 20], [10, 120], [-90, 20]])
    >>> round(found.scale, 9), round(found.rotation, 9), found.shift.round(6).tolist(), found.dof
    (1.0, 90.0, [10.0, 20.0], 2)
    """
    source, target = _pairs(source, target)
    sigma = _per_coordinate(u, target)
    here, there = _centres(source, target)
    e, n = (source - here).T
    one, none = np.ones_like(e), np.zeros_like(e)
    rows = np.stack([np.stack([e, -n, one, none], axis=1), np.stack([n, e, none, one], axis=1)], axis=1)
    found = adjust(rows.reshape(-1, 4), (target - there).ravel(), u=sigma)
    a, b = found.parameters[:2].tolist()
    scale = hypot(a, b)
    along, across = np.array([a, b, 0, 0]) / scale, np.array([-b, a, 0, 0]) / scale**2
    origin = np.array([[-here[0], here[1], 1, 0], [-here[1], -here[0], 0, 1]])
    centre = there + found.parameters[2:]
    return Similarity(
        a=a,
        b=b,
        scale=scale,
        scale_se=_spread(along, found),
        rotation=degrees(atan2(b, a)),
        rotation_se=degrees(_spread(across, found)),
        shift=centre - np.array([a * here[0] - b * here[1], b * here[0] + a * here[1]]),
        shift_se=np.array([_spread(row, found) for row in origin]),
        residuals=found.residuals.reshape(-1, 2),
        redundancy=found.redundancy.reshape(-1, 2),
        dof=found.dof,
        sigma0=found.sigma0,
        p_global=found.p_global,
        covariance=found.covariance,
        source_centre=here,
        target_centre=centre,
    )


def _pairs(source: ArrayLike, target: ArrayLike) -> tuple[Floats, Floats]:
    source, target = np.asarray(source, dtype=np.float64), np.asarray(target, dtype=np.float64)
    if source.shape != target.shape or source.ndim != 2 or source.shape[1] != 2:
        raise GeometryInputError(
            f"Source points {source.shape} and target points {target.shape} do not fit; both are (n, 2), in one order."
        )
    return source, target


def _per_coordinate(u: ArrayLike | None, target: Floats) -> Floats | None:
    if u is None:
        return None
    u = np.asarray(u, dtype=np.float64)
    return np.broadcast_to(u[:, None] if u.ndim == 1 else u, target.shape).ravel()


def _centres(source: Floats, target: Floats) -> tuple[Floats, Floats]:
    used = np.isfinite(source).all(axis=1) & np.isfinite(target).all(axis=1)
    if not used.any():
        raise GeometryInputError("No point has all its coordinates on both sides; at least two are needed.")
    return source[used].mean(axis=0), target[used].mean(axis=0)


def _spread(coefficients: Floats, adjustment: Adjustment) -> float:
    return float(np.sqrt(coefficients @ adjustment.covariance @ coefficients))
