"""A shift that a whole block of shots shares, found beside real defects of a few of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError

BOUND = 3.0
"""Standard uncertainties beyond which a residual says no more than that it is off."""
_ROUNDS = 30


@dataclass(frozen=True, kw_only=True, eq=False)
class SharedShift:
    """A shift common to a block.

    Attributes
    ----------
    shift, u : (3,) float64
        Easting, northing, elevation, and 1 sigma; near the prior spread where the block does not tell.
    gain : float
        Natural logarithm of how much better the shift explains the residuals than none does, every
        residual counting no more than `BOUND` squared.
    share : float
        Share of the shots that the shift explains better than none.
    shots : int
    """

    shift: np.ndarray
    u: np.ndarray
    gain: float
    share: float
    shots: int


def shared_shift(
    direction: ArrayLike, residual: ArrayLike, u: ArrayLike, shot: ArrayLike, *, spread: float
) -> SharedShift:
    """Fit the shift that the residuals of a block share, few of them being off by more.

    Parameters
    ----------
    direction : (n, 3) array
        What each residual sees of a shift: across a line, or up.
    residual, u : (n,) array
        Measured minus design, and 1 sigma with the scatter of sound construction. Rows with NaN are left out.
    shot : (n,) int array
        Which shot each residual is of.
    spread : float
        Prior 1 sigma of each component of the shift.

    Returns
    -------
    SharedShift
        All NaN with gain 0 where nothing was observed.

    Raises
    ------
    GeometryInputError
        Arrays that do not fit each other.

    Notes
    -----
    Iterated weighting for the truncated square loss in Welsch's smooth form, from the median of
    residuals as a start; a textbook robust regression. The gain is taken with the plain truncated square.

    Examples
    --------
    >>> up = np.tile([0.0, 0.0, 1.0], (6, 1))
    >>> found = shared_shift(up, [0.60, 0.62, 0.61, 0.63, 0.64, 0.2], np.full(6, 0.03), range(6), spread=1.0)
    >>> round(float(found.shift[2]), 2), found.shots, round(found.share, 2)
    (0.62, 6, 0.83)
    """
    direction, residual = np.asarray(direction, np.float64), np.asarray(residual, np.float64)
    u, shot = np.asarray(u, np.float64), np.asarray(shot, np.int64)
    if direction.shape != (residual.size, 3) or u.shape != residual.shape or shot.shape != residual.shape:
        raise GeometryInputError("Every residual of a block needs a direction, an uncertainty and the shot it is of.")
    used = np.isfinite(direction).all(axis=1) & np.isfinite(residual) & np.isfinite(u) & (u > 0)
    direction, residual, shot = direction[used] / u[used, None], residual[used] / u[used], shot[used]
    if not residual.size:
        nothing = np.full(3, np.nan)
        return SharedShift(shift=nothing, u=nothing, gain=0.0, share=0.0, shots=0)
    prior = np.eye(3) / spread**2
    best, best_loss = np.zeros(3), _loss(residual)
    for shift in (_solved(direction, residual, np.ones_like(residual), prior), np.zeros(3)):
        for _ in range(_ROUNDS):
            weight = np.exp(-(((residual - direction @ shift) / BOUND) ** 2))
            shift = _solved(direction, residual, np.maximum(weight, 1e-12), prior)
        if _loss(residual - direction @ shift) < best_loss:
            best, best_loss = shift, _loss(residual - direction @ shift)
    left = residual - direction @ best
    kept = np.abs(left) < BOUND
    covariance = np.linalg.inv(prior + direction[kept].T @ direction[kept])
    number, place = np.unique(shot, return_inverse=True)
    better = np.bincount(place, np.minimum(residual**2, BOUND**2) - np.minimum(left**2, BOUND**2)) > 0
    return SharedShift(
        shift=best,
        u=np.sqrt(np.diag(covariance)),
        gain=(_loss(residual) - best_loss) / 2,
        share=float(better.mean()),
        shots=number.size,
    )


def _solved(direction: np.ndarray, residual: np.ndarray, weight: np.ndarray, prior: np.ndarray) -> np.ndarray:
    normal = (direction * weight[:, None]).T @ direction + prior
    return np.linalg.solve(normal, (direction * weight[:, None]).T @ residual)


def _loss(residual: np.ndarray) -> float:
    return float(np.minimum(residual**2, BOUND**2).sum())
