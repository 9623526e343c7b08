"""The one place where a measured number becomes a verdict.

A verdict is given in the light of the uncertainty of the number, without any prior belief about
the true value: given a measured deviation d with standard uncertainty u, the true one is taken
to be normal about d.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chndtr, ndtr

from geoqa.errors import JobError
from geoqa.kernels.arrays import Booleans, Floats

NO_DATA, IN, UNDECIDED, OUT = 0, 1, 2, 3
"""Codes of a verdict."""

CONFIDENCE = 0.95
_DOUBT = (1 - CONFIDENCE) * (1 + 1e-12)  # the last digits of a probability decide nothing
_FAR_INSIDE = 1e6  # of a limit that has no other side
_HALVINGS = 34  # of 100 times the margin: an uncertainty to 1e-8 of it, told to four digits
_FAR = 9.0  # beyond so many u no probability differs from 0 or 1 by 1e-18


@dataclass(frozen=True, kw_only=True, eq=False)
class Judged:
    """Verdicts on numbers, row by row; arrays of shape (n,).

    Attributes
    ----------
    verdict : int8
        0 NO_DATA, 1 IN, 2 UNDECIDED, 3 OUT.
    p_conform : float64
        Probability that the true value lies within the limits; NaN where unknown.
    excess : float64
        Distance beyond the nearer limit over u, negative inside; infinite for an exact number
        (u = 0) off the limit, NaN where unknown.
    """

    verdict: np.ndarray
    p_conform: Floats
    excess: Floats


def judge(deviation: ArrayLike, *, lower: ArrayLike, upper: ArrayLike, u: ArrayLike, rule: str = "guarded") -> Judged:
    """Judge signed deviations against limits.

    Parameters
    ----------
    deviation : (n,) array
        Measured minus design, any unit.
    lower, upper : float or (n,) array
        Limits on the deviation, in its unit; the limit itself still conforms. An infinite one is
        no limit on that side.
    u : float or (n,) array
        Standard uncertainty (1 sigma) of the deviation, in its unit; 0 is an exact number.
    rule : str
        ``guarded``: IN where P(lower <= X <= upper) >= 0.95, OUT where P(X > upper) >= 0.95 or
        P(X < lower) >= 0.95, else UNDECIDED. ``simple``: IN within the limits, OUT beyond, whatever
        u. ``guard R``: IN where the deviation lies within the limits by R times U, OUT where beyond
        by R times U, with U = 2u.

    Returns
    -------
    Judged
        NO_DATA where deviation or a limit is NaN, where both limits are infinite, or where u is
        missing though the rule asks for it.

    Raises
    ------
    JobError
        An unknown rule, a negative u, or limits the wrong way round.

    Notes
    -----
    OUT asks for one tail, not for a small probability of conformity: with u far larger than the
    limits even a deviation of 0 conforms with small probability, and it must not be OUT. A true
    value at a limit is so called OUT in 5 % of cases, and in up to 10 % where u is far larger than
    the limits, 5 % on either side.
    Rules after JCGM 106:2012 and ISO 14253-1:2017.

    Examples
    --------
    >>> found = judge([0.0, 0.16, 0.09, np.nan], lower=-0.1, upper=0.1, u=0.02)
    >>> found.verdict.tolist(), found.p_conform.round(4).tolist(), found.excess.round(2).tolist()
    ([1, 3, 2, 0], [1.0, 0.0013, 0.6915, nan], [-5.0, 3.0, -0.5, nan])
    """
    guard = _guard(rule)
    deviation, lower, upper, u = _floats(deviation, lower, upper, u)
    _refuse(lower, upper, u)
    known = np.isfinite(deviation) & ~np.isnan(lower) & ~np.isnan(upper) & (np.isfinite(lower) | np.isfinite(upper))
    above, below = deviation - upper, lower - deviation
    tail_above, tail_below = _tail(above, u), _tail(below, u)
    # the difference of two tails on the side of the deviation keeps the digits of a small probability
    p_conform = np.where(above > below, _tail(-above, u) - tail_below, _tail(-below, u) - tail_above)
    p_conform = np.where(u == 0, (above <= 0) & (below <= 0), p_conform)
    if guard is None:
        known &= np.isfinite(u)
        inside = tail_above + tail_below <= _DOUBT
        outside = (tail_above >= 1 - _DOUBT) | (tail_below >= 1 - _DOUBT)
    else:
        band = guard * 2 * u if guard else np.zeros_like(u)
        known &= np.isfinite(band)
        inside = (above <= -band) & (below <= -band)
        outside = (above > band) | (below > band)
    return _judged(known, inside, outside, u, p_conform, _over(np.maximum(above, below), u))


def judge_radial(distance: ArrayLike, *, limit: ArrayLike, u: ArrayLike, rule: str = "guarded") -> Judged:
    """Judge distances of plan positions from their design place against a radius.

    Parameters
    ----------
    distance : (n,) array
        From design to measured position, not negative.
    limit : float or (n,) array
        Largest distance that conforms.
    u : float or (n,) array
        Standard uncertainty of the position on each of two axes, taken as equal and independent.
    rule : str
        As in `judge`.

    Returns
    -------
    Judged
        IN where P(|d + e| <= R) >= 0.95, by the noncentral chi-square with two degrees of freedom.
        OUT where a place at the limit would be measured as far off as this in at most 5 % of
        cases; then P(|d + e| > R) >= 0.95 too. NO_DATA where something is missing.

    Raises
    ------
    JobError
        An unknown rule, or a negative distance, limit or u.

    Notes
    -----
    P(|d + e| > R) >= 0.95 alone would call a perfect position OUT once u exceeds three times R,
    because a position scattered over a wide plane lies in any one small circle with small
    probability. The two conditions differ by about u²/R in distance. With Marcum's function,
    Q(R, d) <= 0.05 implies Q(d, R) >= 0.95, for Q(a, b) + Q(b, a) >= 1.

    Examples
    --------
    >>> found = judge_radial([0.27, 0.40, 0.0], limit=0.30, u=[0.02, 0.02, 5.0])
    >>> found.verdict.tolist(), found.p_conform.round(4).tolist()
    ([2, 3, 2], [0.9285, 0.0, 0.0018])
    """
    guard = _guard(rule)
    distance, limit, u = _floats(distance, limit, u)
    for name, values in (("distance", distance), ("limit", limit), ("uncertainty", u)):
        if np.any(values < 0):
            raise JobError(f"A {name} of {values[values < 0].flat[0]} is negative; radial checks count from 0 outward.")
    known = np.isfinite(distance) & np.isfinite(limit)
    beyond = distance - limit
    p_conform = within_circle(limit, distance, u)
    if guard is None:
        known &= np.isfinite(u)
        inside = p_conform >= 1 - _DOUBT
        outside = (beyond > 0) & (1 - within_circle(distance, limit, u) <= _DOUBT)
    else:
        band = guard * 2 * u if guard else np.zeros_like(u)
        known &= np.isfinite(band)
        inside, outside = beyond <= -band, beyond > band
    return _judged(known, inside, outside, u, p_conform, _over(beyond, u))


def called_out_at(rule: str) -> float:
    """Chance to conform at which a number is out, by a rule; see `judge`.

    Raises
    ------
    JobError
        An unknown rule.

    Examples
    --------
    >>> [round(called_out_at(rule), 4) for rule in ("guarded", "simple", "guard 1")]
    [0.05, 0.5, 0.0228]
    """
    guard = _guard(rule)
    return 1 - CONFIDENCE if guard is None else float(ndtr(-2.0 * guard))


def provable(
    *, lower: ArrayLike, upper: ArrayLike, u: ArrayLike, rule: str = "guarded", radial: bool = False
) -> Booleans:
    """Tell whether the best deviation there is, midway between the limits, would be IN.

    Parameters
    ----------
    lower, upper, u, rule
        As in `judge`; for `radial`, `upper` is the radius.
    radial : bool
        The limit is a radius round a place.

    Returns
    -------
    (n,) bool array
        False where u is so large that this method can never prove the tolerance, and where
        something is missing.

    Examples
    --------
    >>> provable(lower=-0.05, upper=0.05, u=[0.0255, 0.0256, np.nan]).tolist()
    [True, False, False]
    >>> bool(provable(lower=4.0, upper=np.inf, u=0.5))
    True
    """
    if radial:
        return judge_radial(0.0, limit=upper, u=u, rule=rule).verdict == IN
    best, lower, upper = _best(lower, upper)
    return judge(best, lower=lower, upper=upper, u=u, rule=rule).verdict == IN


def deciding_u(
    deviation: ArrayLike, *, lower: ArrayLike, upper: ArrayLike, rule: str = "guarded", radial: bool = False
) -> Floats:
    """Largest standard uncertainty with which a deviation would be decided, IN or OUT.

    Parameters
    ----------
    deviation, lower, upper, rule
        As in `judge`; for `radial`, the distance, and `upper` the radius.
    radial : bool
        The limit is a radius round a place.

    Returns
    -------
    (n,) float64 array
        0 at a limit itself: nothing decides there. NaN where something is missing. Infinite under a
        rule that does not look at u.

    Notes
    -----
    Found by bisection of `judge` itself, so that it can never disagree with it.

    Examples
    --------
    >>> deciding_u([0.0, 0.09, 0.1, 0.14], lower=-0.1, upper=0.1).round(4).tolist()
    [0.051, 0.0061, 0.0, 0.0243]
    """
    deviation, lower, upper = _floats(deviation, lower, upper)

    def decided(u: np.ndarray) -> np.ndarray:
        if radial:
            verdict = judge_radial(deviation, limit=upper, u=u, rule=rule).verdict
        else:
            verdict = judge(deviation, lower=lower, upper=upper, u=u, rule=rule).verdict
        return (verdict == IN) | (verdict == OUT)

    margin = np.abs(upper - deviation)
    if not radial:
        margin = np.fmin(margin, np.abs(deviation - lower))
    missing = ~decided(np.zeros(deviation.shape))
    if _guard(rule) == 0:
        return np.where(missing, np.nan, np.inf)
    low, high = np.zeros(deviation.shape), np.where(np.isfinite(margin), margin, 0.0) * 100
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        reached = decided(middle)
        low, high = np.where(reached, middle, low), np.where(reached, high, middle)
    # at a limit itself a zero u says IN, and no other does
    return np.where(missing, np.nan, np.where(margin > 0, low, 0.0))


def best_deciding_u(*, lower: ArrayLike, upper: ArrayLike, rule: str = "guarded", radial: bool = False) -> Floats:
    """Largest standard uncertainty with which the tolerance can be proven at all.

    Examples
    --------
    >>> best_deciding_u(lower=-0.05, upper=0.05).round(5).tolist()
    0.02551
    """
    if radial:
        return deciding_u(0.0, lower=-np.inf, upper=upper, rule=rule, radial=True)
    best, lower, upper = _best(lower, upper)
    return deciding_u(best, lower=lower, upper=upper, rule=rule)


def _best(lower: ArrayLike, upper: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Deviation that is easiest to prove: midway, or with one limit only, on the design itself.

    A limit that leaves 0 out bounds no deviation from a design but a number of its own, such as a least width: what
    lies far beyond it is easiest to prove.
    """
    lower, upper = _floats(lower, upper)
    both = np.isfinite(lower) & np.isfinite(upper)
    middle = np.where(both, lower, 0.0) / 2 + np.where(both, upper, 0.0) / 2
    middle = np.where(~both & np.isfinite(lower) & (lower > 0), lower * _FAR_INSIDE, middle)
    middle = np.where(~both & np.isfinite(upper) & (upper < 0), upper * _FAR_INSIDE, middle)
    return np.where(np.isnan(lower) | np.isnan(upper), np.nan, middle), lower, upper


def _floats(*given: ArrayLike) -> tuple[Floats, ...]:
    arrays = [np.asarray(each, dtype=np.float64) for each in given]
    shape = max((each.shape for each in arrays), key=len)
    if all(each.shape in (shape, ()) for each in arrays):  # nearly always, and a judgement of few rows is all overhead
        return tuple(each if each.shape == shape else np.full(shape, each) for each in arrays)
    return np.broadcast_arrays(*arrays)


def _guard(rule: str) -> float | None:
    """Guard band in multiples of U; None for the rule that decides by probability."""
    if rule == "guarded":
        return None
    if rule == "simple":
        return 0.0
    word, _, number = rule.partition(" ")
    try:
        band = float(number) if word == "guard" else np.nan
    except ValueError:
        band = np.nan
    if not (np.isfinite(band) and band >= 0):
        raise JobError(
            f"'{rule}' is not a decision rule; allowed are guarded, simple, and guard R with a multiple "
            "of the expanded uncertainty that is 0 or more, for example 'guard 1'."
        )
    return band


def _refuse(lower: Floats, upper: Floats, u: Floats) -> None:
    if np.any(lower > upper):
        row = int(np.flatnonzero(lower > upper)[0])
        raise JobError(
            f"The lower limit {lower.flat[row]} stands above the upper limit {upper.flat[row]} (row {row}); swap them."
        )
    if np.any(u < 0):
        raise JobError(f"A standard uncertainty of {u[u < 0].flat[0]} is negative; give its size.")


def _tail(beyond: np.ndarray, u: Floats) -> np.ndarray:
    """Probability that the true value lies beyond a limit which the measured one passes by `beyond`."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        tail = ndtr(beyond / u)
    exact = u == 0
    if exact.any():
        tail = np.where(exact, np.where(np.isnan(beyond), np.nan, beyond > 0), tail)
    return tail


def within_circle(radius: Floats, distance: Floats, u: Floats) -> Floats:
    """P(|d + e| <= R) for a scatter of u on each of two axes.

    Parameters
    ----------
    radius, distance, u : (n,) arrays
        Of the circle, of the middle of the scatter from its centre, and 1 sigma per axis; one unit, not negative.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        r, d = radius / u, distance / u
        near = np.abs(r - d) <= _FAR
        p = np.where(np.isnan(r + d), np.nan, (r > d).astype(float))
        # far out the circle is nearly a straight limit; the exact series needs as many terms as d squared
        flat = near & (d > 300)
        p[flat] = ndtr((r - d - 0.5 / d)[flat])
    exact = near & ~flat
    p[exact] = chndtr(r[exact] ** 2, 2.0, d[exact] ** 2)
    return np.where(u == 0, np.where(np.isnan(radius + distance), np.nan, distance <= radius), p)


def _over(beyond: np.ndarray, u: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return np.where((u == 0) & (beyond == 0), 0.0, beyond / u)


def _judged(
    complete: np.ndarray, inside: np.ndarray, outside: np.ndarray, u: Floats, p: Floats, excess: Floats
) -> Judged:
    verdict = np.full(complete.shape, UNDECIDED, dtype=np.int8)
    verdict[inside] = IN
    verdict[outside] = OUT
    verdict = np.where(complete, verdict, np.int8(NO_DATA))
    told = complete & np.isfinite(u)
    p_conform = np.where(told, np.clip(p, 0.0, 1.0), np.nan)
    return Judged(verdict=verdict, p_conform=p_conform, excess=np.where(told, excess, np.nan))
