"""Two sources of scatter told apart where the first was only stated: the values say whether it is believed."""

from __future__ import annotations

from math import sqrt

import numpy as np
from scipy.special import chdtri

from geoqa.kernels.arrays import Floats
from geoqa.kernels.precision.components import Contrasts, TwoSpreads, two_spreads
from geoqa.kernels.precision.estimate import Estimate, declared, likely_estimate

_NODES = 64
_WIDEST, _STEPS = 1e6, 600


def stated_spreads(
    sample: Contrasts, *, stated: float, sum_squares: float = 0.0, dof: float = 0.0, confidence: float = 0.95
) -> TwoSpreads:
    """Estimate two standard deviations where the base was stated and no repeats tell it.

    Parameters
    ----------
    sample : Contrasts
        As from `contrasts`.
    stated : float
        The base as it was stated; 0 is never believed.
    sum_squares, dof : float
        A further, independent sum of squares that feels the base variance alone, and its degrees of freedom.
    confidence : float
        Of every band.

    Returns
    -------
    TwoSpreads
        The likely pairs are those of the values alone. The base is the stated one, with infinite degrees of freedom,
        unless they show it to be too small; then theirs, with those of the values. A base stated larger than they show
        is taken as it is, as by `two_spreads`; so is one where they are fewer than two.

    Notes
    -----
    Contrasts that feel much of the extra variance and contrasts that feel little of it are each a chi-square with the
    true pair of variances; pairs of their equally likely quantiles are solved for the variances, negative ones being
    0 (generalised confidence intervals, Weerahandi 1993, reference from memory). Where all feel alike the pairs run
    from all base to all extra: what cannot be told apart stays open.

    Examples
    --------
    >>> made = Contrasts(value=np.array([1.0, -1, 1, 3, -3, 3]), multiplier=np.array([0.0, 0, 0, 2, 2, 2]))
    >>> both = stated_spreads(made, stated=0.01)
    >>> round(both.base.value, 3), round(both.extra.value, 3), both.base.dof
    (1.0, 2.0, 3.0)
    >>> believed = stated_spreads(made, stated=1.2)
    >>> believed.base.value, believed.base.dof
    (1.2, inf)
    """
    order = np.argsort(sample.multiplier, kind="stable")
    squares, multiplier = sample.value[order] ** 2, sample.multiplier[order]
    if squares.size < 2 or not squares.sum() > 0:
        return two_spreads(sample, sum_squares=sum_squares, dof=dof, base=stated, confidence=confidence)
    half = squares.size // 2
    solve = _Pairs(squares, multiplier, half, sum_squares)
    few, many = half + dof, squares.size - half
    middles = (np.arange(_NODES) + 0.5) / _NODES
    low, high = (each.ravel() for each in np.meshgrid(chdtri(few, middles), chdtri(many, middles)))
    base_likely, extra_likely = solve.at(low, high)
    ends = np.quantile(np.sqrt(base_likely), [(1 - confidence) / 2, (1 + confidence) / 2])
    known = two_spreads(sample, base=stated, confidence=confidence)
    if stated > ends[1]:  # more than they show: the careful side
        return known
    if stated > 0 and ends[0] <= stated:
        base, ratio, extra = declared(stated), known.ratio, known.extra.value
    else:
        found = solve.at(np.array([float(few)]), np.array([float(many)]))
        base = likely_estimate(sqrt(found[0][0]), np.sqrt(base_likely), dof=float(few), confidence=confidence)
        ratio, extra = _no_ratio(found), sqrt(found[1][0])
    return TwoSpreads(
        base=base,
        extra=likely_estimate(extra, np.sqrt(extra_likely), dof=float(squares.size), confidence=confidence),
        ratio=ratio,
        base_likely=base_likely,
        extra_likely=extra_likely,
    )


def _no_ratio(found: tuple[Floats, Floats]) -> Estimate:
    value = float(found[1][0] / found[0][0]) if found[0][0] > 0 else np.inf
    return Estimate(value=value, se=np.nan, low=np.nan, high=np.nan, dof=np.nan)


class _Pairs:
    """Base and extra variance at which the sums of squares of two groups of contrasts meet their targets."""

    def __init__(self, squares: Floats, multiplier: Floats, half: int, more: float) -> None:
        scale = float(multiplier.mean()) or 1.0
        self.ratio = np.r_[0.0, np.geomspace(1e-4, _WIDEST, _STEPS)] / scale
        shares = squares / (1 + self.ratio[:, None] * multiplier)
        self.low, self.high = more + shares[:, :half].sum(axis=1), shares[:, half:].sum(axis=1)

    def at(self, low: Floats, high: Floats) -> tuple[Floats, Floats]:
        """The pairs, for targets of the group that feels little of the extra variance and of the other."""
        rise = np.log(self.low / np.maximum(self.high, 1e-300))
        ratio = np.interp(np.log(low / high), np.maximum.accumulate(rise), self.ratio)
        whole = np.interp(ratio, self.ratio, self.low + self.high)
        base = whole / (low + high)
        return base, base * ratio
