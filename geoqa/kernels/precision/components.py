"""Two sources of scatter told apart: one in every value, one that some values feel more than others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import eigh
from scipy.special import chdtri, fdtri

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats
from geoqa.kernels.precision.estimate import ONE_SIGMA, UNKNOWN, Estimate, declared, likely_estimate, spread_estimate

_NODES = 64  # quantiles of each chi-square; 64 x 64 equally likely pairs
_STEPS = 1500  # entries of the table by which the pivot is turned round


@dataclass(frozen=True, kw_only=True, eq=False)
class Contrasts:
    """Combinations of values that are free of all fixed effects and of each other.

    Attributes
    ----------
    value : (f,) float64
        Independent, mean 0, variance base² + multiplier · extra².
    multiplier : (f,) float64
        How much of the extra variance each one feels; 0 or more.
    """

    value: Floats
    multiplier: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class TwoSpreads:
    """Two standard deviations told apart.

    Attributes
    ----------
    base, extra : Estimate
        The spread every value has, and the one that comes on top; with its exact band for base.
    ratio : Estimate
        extra²/base², with an exact band.
    base_likely, extra_likely : (m,) float64
        Equally likely pairs of the two *variances* in the light of the data.
    """

    base: Estimate
    extra: Estimate
    ratio: Estimate
    base_likely: Floats
    extra_likely: Floats

    @property
    def extra_expected(self) -> float:
        """Mean of the likely extra variances: what one more value feels, with what the data leave open of it."""
        return float(np.mean(self.extra_likely)) if self.extra_likely.size else np.nan

    def together(self, multiplier: float = 1.0, *, confidence: float = 0.95) -> Estimate:
        """Estimate sqrt(base² + multiplier · extra²)."""
        if not np.isfinite(self.base.value + self.extra.value):
            return UNKNOWN
        likely = np.sqrt(self.base_likely + multiplier * self.extra_likely)
        value = sqrt(self.base.value**2 + multiplier * self.extra.value**2)
        return likely_estimate(value, likely, dof=self.extra.dof, confidence=confidence)


def contrasts(values: ArrayLike, *, fixed: ArrayLike, base: ArrayLike, extra: ArrayLike) -> Contrasts:
    """Turn values with fixed effects and two known patterns of covariance into independent contrasts.

    Parameters
    ----------
    values : (n,) or (n, k) array
        One column, or several independent ones of the same pattern. Normal, with mean ``fixed @ effects``
        and covariance base_variance · `base` + extra_variance · `extra`.
    fixed : (n, p) array
        Coefficients of effects nobody asks for; columns may depend on each other.
    base : (n, n) array
        Positive definite.
    extra : (n, n) array
        Positive semidefinite.

    Returns
    -------
    Contrasts
        n - rank(fixed) of them for every column.

    Raises
    ------
    GeometryInputError
        Arrays that do not fit each other.

    Notes
    -----
    Error contrasts K'y with K spanning what is square to `fixed`, turned so that both patterns
    become diagonal at once (the generalised eigenproblem). The residual sum of squares of weighted
    least squares with the two variances known is the sum of value²/(base² + multiplier · extra²).

    Examples
    --------
    >>> found = contrasts([1.0, 3.0, 2.0, 6.0], fixed=np.ones((4, 1)), base=np.eye(4), extra=np.diag([0, 0, 1, 1]))
    >>> found.value.size, found.multiplier.round(3).tolist()
    (3, [0.0, 0.5, 1.0])
    """
    values, fixed = np.asarray(values, dtype=np.float64), np.asarray(fixed, dtype=np.float64)
    base, extra = np.asarray(base, dtype=np.float64), np.asarray(extra, dtype=np.float64)
    values = values[:, None] if values.ndim == 1 else values
    n, columns = values.shape
    if fixed.shape[:1] != (n,) or base.shape != (n, n) or extra.shape != (n, n):
        raise GeometryInputError(
            f"Values {values.shape}, fixed {fixed.shape}, base {base.shape} and extra {extra.shape} do not fit; "
            "n values need n rows each and n x n patterns."
        )
    left, size, _ = np.linalg.svd(fixed, full_matrices=True)
    rank = int(np.sum(size > 1e-10 * size[0])) if size.size and size[0] > 0 else 0
    kernel = left[:, rank:]
    if kernel.shape[1] == 0:
        return Contrasts(value=np.empty(0), multiplier=np.empty(0))
    multiplier, turn = eigh(kernel.T @ extra @ kernel, kernel.T @ base @ kernel)
    value = turn.T @ (kernel.T @ values)
    return Contrasts(value=value.ravel(), multiplier=np.repeat(np.maximum(multiplier, 0.0), columns))


def joined(samples: Sequence[Contrasts]) -> Contrasts:
    """Contrasts of several sets of values that share no effect and no error, as one."""
    return Contrasts(
        value=np.concatenate([np.empty(0), *(each.value for each in samples)]),
        multiplier=np.concatenate([np.empty(0), *(each.multiplier for each in samples)]),
    )


def two_spreads(
    sample: Contrasts,
    *,
    sum_squares: float = 0.0,
    dof: float = 0.0,
    base: float | None = None,
    confidence: float = 0.95,
) -> TwoSpreads:
    """Estimate both standard deviations from independent contrasts.

    Parameters
    ----------
    sample : Contrasts
        As from `contrasts`; several sets of one pair of spreads may be put together.
    sum_squares, dof : float
        A further, independent sum of squares that feels the base variance alone, and its degrees of freedom.
    base : float, optional
        A declared base standard deviation; then nothing is learned about it.
    confidence : float
        Of every band.

    Returns
    -------
    TwoSpreads
        All unknown where nothing tells the base; extra unknown where no contrast feels it.

    Notes
    -----
    With the true pair of variances, Q = sum of value²/(base² + multiplier · extra²) is chi-square and
    independent of the sum of squares of the base. So the band of the ratio is exact (Wald 1947, reference
    from memory); the joint band takes pairs of equally likely quantiles of the two chi-squares and solves for
    the variances (generalised confidence intervals, Weerahandi 1993, reference from memory), negative
    solutions being 0. The estimate itself makes Q equal to its degrees of freedom.

    Examples
    --------
    >>> made = Contrasts(value=np.array([1.0, -1.0, 3.0, -3.0]), multiplier=np.array([0.0, 0.0, 2.0, 2.0]))
    >>> both = two_spreads(made)
    >>> both.base.value, both.extra.value
    (1.0, 2.0)
    """
    squares, multiplier, sum_squares, dof = _parted(sample, sum_squares, dof)
    plain = spread_estimate(sum_squares, dof, confidence=confidence) if base is None else declared(base)
    none = TwoSpreads(base=plain, extra=UNKNOWN, ratio=UNKNOWN, base_likely=np.empty(0), extra_likely=np.empty(0))
    free = squares.size
    if not np.isfinite(plain.value):
        return none
    if base is None:
        variances = sum_squares / chdtri(dof, _middles())
    else:
        variances, dof = np.full(1, base**2), np.inf
    if free == 0 or plain.value == 0:
        return none
    turned = _Turned(squares, multiplier)
    ratio = _ratio(turned, free, dof, plain.value**2, confidence)
    targets = variances[:, None] * chdtri(free, _middles())[None, :]
    ratios = turned.at(targets.ravel()).reshape(targets.shape)
    extra_likely = (variances[:, None] * ratios).ravel()
    extra = likely_estimate(
        plain.value * sqrt(ratio.value), np.sqrt(extra_likely), dof=float(free), confidence=confidence
    )
    return TwoSpreads(
        base=plain,
        extra=extra,
        ratio=ratio,
        base_likely=np.repeat(variances, _NODES),
        extra_likely=extra_likely,
    )


def exact_ratio(sample: Contrasts, *, sum_squares: float = 0.0, dof: float = 0.0, confidence: float = 0.95) -> Estimate:
    """Estimate extra²/base² with its exact band by F, and nothing else.

    Parameters
    ----------
    sample, sum_squares, dof, confidence
        As in `two_spreads`.

    Returns
    -------
    Estimate
        As `TwoSpreads.ratio`; its `se` is half the width of the 68 % band.

    Examples
    --------
    >>> made = Contrasts(value=np.array([1.0, -1.0, 3.0, -3.0]), multiplier=np.array([0.0, 0.0, 2.0, 2.0]))
    >>> found = exact_ratio(made)
    >>> found.value, found.low, round(found.high, 1)
    (4.0, 0.0, 175.0)
    """
    squares, multiplier, sum_squares, dof = _parted(sample, sum_squares, dof)
    if not (dof > 0 and squares.size and sum_squares > 0):
        return UNKNOWN
    return _ratio(_Turned(squares, multiplier), squares.size, dof, sum_squares / dof, confidence)


def _parted(sample: Contrasts, sum_squares: float, dof: float) -> tuple[Floats, Floats, float, float]:
    """Split off the contrasts that feel the base variance alone."""
    pure = sample.multiplier <= 1e-9 * max(float(sample.multiplier.max(initial=0.0)), 1e-300)
    sum_squares = sum_squares + float(np.sum(sample.value[pure] ** 2))
    return sample.value[~pure] ** 2, sample.multiplier[~pure], sum_squares, dof + int(pure.sum())


def _ratio(turned: _Turned, free: int, dof: float, variance: float, confidence: float) -> Estimate:
    beyond = [(1 + confidence) / 2, (1 - confidence) / 2, (1 + ONE_SIGMA) / 2, (1 - ONE_SIGMA) / 2]
    targets = [1.0, *(_f_quantile(free, dof, p) for p in beyond)]
    value, low, high, near_low, near_high = turned.at(free * variance * np.array(targets)).tolist()
    return Estimate(value=value, se=(near_high - near_low) / 2, low=low, high=high, dof=float(free))


def _middles() -> Floats:
    return (np.arange(_NODES) + 0.5) / _NODES


def _f_quantile(free: float, dof: float, probability: float) -> float:
    if np.isinf(dof):
        return float(chdtri(free, 1 - probability)) / free
    return float(fdtri(free, dof, probability))


class _Turned:
    """The ratio at which the sum of squares/(1 + multiplier · ratio) meets a target; 0 where it never reaches it."""

    def __init__(self, squares: Floats, multiplier: Floats) -> None:
        self.squares, self.multiplier = squares, multiplier

    def at(self, targets: Floats) -> Floats:
        whole = float(self.squares.sum())
        if whole == 0:
            return np.zeros(targets.shape)
        if np.ptp(self.multiplier) <= 1e-9 * self.multiplier.max():  # balanced data need no table
            return np.maximum(whole / targets - 1, 0.0) / self.multiplier.mean()
        middle = self.multiplier.mean()
        widest = max(whole / (float(targets.min()) * float(self.multiplier.min())), 1e-9)
        steps = np.linspace(0.0, np.log1p(widest * middle), _STEPS)
        ratios = np.expm1(steps) / middle
        sums = np.sum(self.squares / (1 + ratios[:, None] * self.multiplier), axis=1)
        return np.expm1(np.interp(-np.log(targets), -np.log(sums), steps)) / middle
