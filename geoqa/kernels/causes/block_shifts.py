"""Shifts that whole blocks of shots share, found beside real defects of a few of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers

BOUND = 3.0
"""Standard uncertainties beyond which a residual says no more than that it is off."""
TURNS = 0.15
"""Sine of the most that lines turn from one another where they hardly show a shift along them: some 9 degrees."""
_ROUNDS = 30
_ONE, _OTHER = np.triu_indices(3)
_STILL = 1e-12
"""A shift that moves by less, of the prior spread, has settled."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SharedShift:
    """Shifts common to blocks; arrays of shape (b,) and (b, 3), or of one block without the first axis.

    Attributes
    ----------
    shift, u : (b, 3) float64
        Easting, northing, elevation, and 1 sigma; near the prior spread where the block does not tell.
    gain : (b,) float64
        Natural logarithm of how much better the shift explains the residuals than none does, every
        residual counting no more than `BOUND` squared.
    share : (b,) float64
        Share of the shots that the shift explains better than none.
    shots : (b,) int64
    """

    shift: Floats
    u: Floats
    gain: np.ndarray
    share: np.ndarray
    shots: np.ndarray

    def of(self, block: int) -> SharedShift:
        """One of the blocks."""
        return SharedShift(**{name: values[block] for name, values in vars(self).items()})


def shared_shifts(
    direction: ArrayLike,
    residual: ArrayLike,
    u: ArrayLike,
    shot: ArrayLike,
    block: ArrayLike,
    *,
    count: int,
    spread: float,
) -> SharedShift:
    """Fit the shift that the residuals of each block share, few of them being off by more.

    Parameters
    ----------
    direction : (n, 3) array
        What each residual sees of a shift: across a line, or up.
    residual, u : (n,) array
        Measured minus design, and 1 sigma with the scatter of sound construction. Rows with NaN are left out.
    shot : (n,) int array
        Which shot each residual is of; a shot is in one block.
    block : (n,) int array
        Block of each residual, from 0; -1 for none.
    count : int
        Number of blocks.
    spread : float
        Prior 1 sigma of each component of a shift.

    Returns
    -------
    SharedShift
        Of a block of which nothing was observed all NaN, with gain 0.

    Raises
    ------
    GeometryInputError
        Arrays that do not fit each other.

    Notes
    -----
    Iterated weighting for the truncated square loss in Welsch's smooth form, from the mean of residuals and from no
    shift as starts; a textbook robust regression. The gain is taken with the plain truncated square.

    Examples
    --------
    >>> up = np.tile([0.0, 0.0, 1.0], (6, 1))
    >>> found = shared_shifts(up, [0.3, 0.5, 0.31, 0.49, 0.29, 0.51], np.full(6, 0.03), range(6), [0, 1] * 3,
    ...                       count=2, spread=1.0)
    >>> found.shift[:, 2].round(2).tolist(), found.shots.tolist()
    ([0.3, 0.5], [3, 3])
    """
    rows = _Rows.of(direction, residual, u, shot, block, count)
    prior = np.eye(3) / spread**2
    nothing = rows.loss(np.zeros((count, 3)))
    best, least = np.zeros((count, 3)), nothing.copy()
    for start in (rows.solved(np.ones_like(rows.residual), prior), np.zeros((count, 3))):
        found = _settled(rows, start, prior, _STILL * spread)
        loss = rows.loss(found)
        better = loss < least
        best[better], least[better] = found[better], loss[better]
    left = rows.left(best)
    kept = np.abs(left) < BOUND
    covariance = np.linalg.inv(prior + rows.normal(kept.astype(float)))
    there = rows.sums(np.ones_like(left)) > 0
    shots, share = _agreeing(rows, np.minimum(rows.residual**2, BOUND**2) - np.minimum(left**2, BOUND**2))
    return SharedShift(
        shift=np.where(there[:, None], best, np.nan),
        u=np.where(there[:, None], np.sqrt(np.diagonal(covariance, axis1=1, axis2=2)), np.nan),
        gain=(nothing - least) / 2,
        share=share,
        shots=shots,
    )


def well_seen(direction: ArrayLike) -> Floats:
    """Take out of directions in plan what lines that run nearly alike hardly show: a shift along all of them.

    Errors that last along a line, divided by the sine of the little that two lines turn, would pass for such a shift.

    Parameters
    ----------
    direction : (n, 3) array
        What each residual sees of a shift: across a line, or up.

    Returns
    -------
    (n, 3) float64 array
        As they were, where some of them turn from the rest by more than `TURNS`; else with their part along the one
        that is seen. Of the other a fit then knows no more than before.

    Examples
    --------
    >>> well_seen([[1.0, 0.0, 0.0], [0.8, 0.6, 0.0], [0.0, 0.0, 1.0]]).tolist()
    [[1.0, 0.0, 0.0], [0.8, 0.6, 0.0], [0.0, 0.0, 1.0]]
    >>> well_seen([[1.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.99978, -0.02094, 0.0]]).round(3).tolist()
    [[1.0, -0.007, 0.0], [1.0, -0.007, 0.0], [1.0, -0.007, 0.0]]
    """
    given = np.array(direction, np.float64).reshape(-1, 3)
    plan = given[:, :2]
    size = np.hypot(*plan.T)
    seen = np.isfinite(size) & (size > 0)
    if not seen.any():
        return given
    unit = plan[seen] / size[seen, None]
    hardly, well = np.linalg.eigh(unit.T @ unit)[1].T
    if np.abs(unit @ hardly).max() <= TURNS:
        well = well * np.sign((unit @ well).sum() or 1.0)
        given[seen, :2] = (plan[seen] @ well)[:, None] * well
    return given


@dataclass(frozen=True, kw_only=True, eq=False)
class _Rows:
    """Residuals and directions in standard uncertainties, block by block, with where each block begins."""

    direction: Floats  # (3, n)
    residual: Floats
    shot: Integers
    block: Integers  # ascending
    count: int

    @classmethod
    def of(
        cls, direction: ArrayLike, residual: ArrayLike, u: ArrayLike, shot: ArrayLike, block: ArrayLike, count: int
    ) -> _Rows:
        direction, residual = np.asarray(direction, np.float64), np.asarray(residual, np.float64)
        u, shot, block = np.asarray(u, np.float64), np.asarray(shot, np.int64), np.asarray(block, np.int64)
        if direction.shape != (residual.size, 3) or not u.shape == shot.shape == block.shape == residual.shape:
            raise GeometryInputError(
                "Every residual of a block needs a direction, an uncertainty and the shot it is of."
            )
        used = np.isfinite(direction).all(axis=1) & np.isfinite(residual) & np.isfinite(u) & (u > 0) & (block >= 0)
        rows = np.flatnonzero(used)
        rows = rows[np.argsort(block[rows], kind="stable")]
        return cls(
            direction=np.ascontiguousarray((direction[rows] / u[rows, None]).T),
            residual=residual[rows] / u[rows],
            shot=shot[rows],
            block=block[rows],
            count=count,
        )

    def take(self, blocks: Integers) -> _Rows:
        """Some blocks, numbered anew."""
        number = np.full(self.count, -1)
        number[blocks] = np.arange(len(blocks))
        rows = np.flatnonzero(number[self.block] >= 0)
        return _Rows(
            direction=self.direction[:, rows],
            residual=self.residual[rows],
            shot=self.shot[rows],
            block=number[self.block[rows]],
            count=len(blocks),
        )

    @cached_property
    def _first(self) -> tuple[Integers, Integers]:
        """Blocks that have rows, and the first row of each."""
        first = np.flatnonzero(np.diff(self.block, prepend=-1))
        return self.block[first], first

    def sums(self, values: Floats) -> Floats:
        """Sum over each block; of (..., n) values."""
        block, first = self._first
        made = np.zeros((*values.shape[:-1], self.count))
        if first.size:
            made[..., block] = np.add.reduceat(values, first, axis=-1)
        return made

    def left(self, shift: Floats) -> Floats:
        """What shifts of the blocks leave of the residuals."""
        return self.residual - np.sum(self.direction * shift.T[:, self.block], axis=0)

    def loss(self, shift: Floats) -> Floats:
        """Truncated squares that the shifts leave."""
        return self.sums(np.minimum(self.left(shift) ** 2, BOUND**2))

    @cached_property
    def _products(self) -> Floats:
        """Of the directions with each other and with the residuals, (9, n); weighted, they are all that is summed."""
        along = self.direction
        return np.concatenate([along[_ONE] * along[_OTHER], along * self.residual])

    def _normal_and_right(self, weight: Floats) -> tuple[Floats, Floats]:
        summed = self.sums(self._products * weight)
        normal = np.empty((self.count, 3, 3))
        normal[:, _ONE, _OTHER] = normal[:, _OTHER, _ONE] = summed[:6].T
        return normal, summed[6:].T

    def normal(self, weight: Floats) -> Floats:
        """Normal matrices, (b, 3, 3)."""
        return self._normal_and_right(weight)[0]

    def solved(self, weight: Floats, prior: Floats) -> np.ndarray:
        """Weighted least squares of each block, (b, 3)."""
        normal, right = self._normal_and_right(weight)
        return np.linalg.solve(normal + prior, right[:, :, None])[:, :, 0]


def _settled(rows: _Rows, start: Floats, prior: Floats, still: float) -> Floats:
    """Shifts after reweighting until they move no more; blocks that have settled are left out of further rounds."""
    shift, moving = start.copy(), np.arange(rows.count)
    for _ in range(_ROUNDS):
        weight = np.maximum(np.exp(-((rows.left(shift[moving]) / BOUND) ** 2)), 1e-12)
        found = rows.solved(weight, prior)
        on = np.abs(found - shift[moving]).max(axis=1) > still
        shift[moving] = found
        if not on.any():
            break
        if not on.all():
            rows, moving = rows.take(np.flatnonzero(on)), moving[on]
    return shift


def _agreeing(rows: _Rows, gained: Floats) -> tuple[Integers, Floats]:
    """Shots of each block, and the share of them that gained."""
    shot, first, place = np.unique(rows.shot, return_index=True, return_inverse=True)
    better = np.bincount(place, gained, minlength=len(shot)) > 0
    block = rows.block[first]
    shots = np.bincount(block, minlength=rows.count)
    return shots, np.bincount(block, better, minlength=rows.count) / np.maximum(shots, 1)
