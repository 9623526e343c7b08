"""How likely each verdict is, for a true value, a noise and a rule: the arithmetic the score is held against.

It shares no line with the decision rule of the tool. The rule is turned round first: which measured
values lead to which verdict? These are intervals, found by bisection on the rule's own words. The
chance of a verdict is the chance that the measurement falls into its interval.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import erfc, i0e

CONFIDENCE = 0.95
_ONE_SIDED = 1.6448536269514722
"""95 % quantile of the normal distribution."""


class Chances(NamedTuple):
    """Probability of each verdict; arrays of shape (n,), adding up to 1."""

    within: np.ndarray
    undecided: np.ndarray
    out: np.ndarray


def normal(x: ArrayLike) -> np.ndarray:
    """Distribution function of the normal distribution.

    Examples
    --------
    >>> normal([0.0, 1.6448536269514722]).round(6).tolist()
    [0.5, 0.95]
    """
    return erfc(-np.asarray(x, float) / np.sqrt(2.0)) / 2.0


def chances(
    mean: ArrayLike, *, sd: ArrayLike, lower: ArrayLike, upper: ArrayLike, u: ArrayLike, rule: str = "guarded"
) -> Chances:
    """Probability of each verdict on a signed number.

    Parameters
    ----------
    mean, sd : array
        The measurement is normal with this mean (true value, and the realised shift if there
        is one) and this standard deviation.
    lower, upper : array
        Limits; infinite where there is none.
    u : array
        Standard uncertainty the tool judges with; it may be larger than `sd`, which leaves out
        what is known of this one measurement.
    rule : str
        ``guarded``, ``simple`` or ``guard R``.

    Examples
    --------
    A value at the limit is called out in 5 % of the cases, and one 4.9 u beyond nearly always.

    >>> found = chances([0.05, 0.22], sd=0.0346, lower=-np.inf, upper=0.05, u=0.0346)
    >>> found.out.round(4).tolist(), found.within.round(4).tolist()
    ([0.05, 0.9995], [0.05, 0.0])
    """
    mean, sd, lower, upper, u = _arrays(mean, sd, lower, upper, u)
    low_in, high_in = _accepted(lower, upper, u, rule)
    band = _ONE_SIDED * u if rule == "guarded" else _guard(rule) * u
    below, above = lower - band, upper + band
    within = np.where(high_in >= low_in, normal((high_in - mean) / sd) - normal((low_in - mean) / sd), 0.0)
    out = normal((below - mean) / sd) + normal((mean - above) / sd)
    return Chances(within, np.clip(1.0 - within - out, 0.0, 1.0), out)


def _accepted(lower: np.ndarray, upper: np.ndarray, u: np.ndarray, rule: str) -> tuple[np.ndarray, np.ndarray]:
    """Ends of the interval of measured values that are IN; upside down where there is none."""
    if rule != "guarded":
        band = _guard(rule) * u
        return lower + band, upper - band
    one = _ONE_SIDED * u
    both = np.isfinite(lower) & np.isfinite(upper)
    finite_lower, finite_upper = np.where(both, lower, 0.0), np.where(both, upper, 0.0)
    middle = (finite_lower + finite_upper) / 2

    def conforms(value: np.ndarray) -> np.ndarray:
        return normal((finite_upper - value) / u) - normal((finite_lower - value) / u) >= CONFIDENCE

    possible = conforms(middle)
    inside, outside = middle.copy(), finite_upper.copy()
    for _ in range(60):
        half = (inside + outside) / 2
        good = conforms(half)
        inside, outside = np.where(good, half, inside), np.where(good, outside, half)
    reach = np.where(possible, inside - middle, -1.0)
    return np.where(both, middle - reach, lower + one), np.where(both, middle + reach, upper - one)


def _guard(rule: str) -> float:
    """Guard band in multiples of u; the expanded uncertainty is 2 u."""
    return 0.0 if rule == "simple" else 2.0 * float(rule.partition(" ")[2])


def chances_radial(mean: ArrayLike, *, sd: ArrayLike, limit: ArrayLike, u: ArrayLike, rule: str = "guarded") -> Chances:
    """Probability of each verdict on the distance of a position from its design place.

    Parameters
    ----------
    mean : array
        Distance of the place about which measurements scatter, by `sd` on each axis.
    limit : array
        Radius that conforms.
    u : array
        Standard uncertainty on each axis, as the tool judges.

    Notes
    -----
    IN where a true place scattered by u about the measured one lies within the radius with 95 %;
    OUT where a true place at the radius would be measured as far off in at most 5 % of cases.

    Examples
    --------
    >>> found = chances_radial(0.27, sd=0.02, limit=0.30, u=0.02)
    >>> [round(float(value), 3) for value in found]
    [0.414, 0.585, 0.001]
    """
    mean, sd, limit, u = _arrays(mean, sd, limit, u)
    if rule == "guarded":
        # the distance is IN up to where the chance of lying inside, seen from it, falls to 95 %
        nearest = _bisect(lambda distance: rice(limit, distance, u) >= CONFIDENCE, np.zeros_like(limit), limit + u)
        nearest = np.where(rice(limit, np.zeros_like(limit), u) >= CONFIDENCE, nearest, -1.0)
        farthest = _bisect(lambda distance: rice(distance, limit, u) <= CONFIDENCE, limit, limit + 6 * u)
    else:
        band = _guard(rule) * u
        nearest, farthest = limit - band, limit + band
    within = np.where(nearest >= 0, rice(np.maximum(nearest, 0.0), mean, sd), 0.0)
    out = 1.0 - rice(farthest, mean, sd)
    return Chances(within, np.clip(1.0 - within - out, 0.0, 1.0), out)


def _bisect(holds: Callable[[np.ndarray], np.ndarray], low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Largest value for which a condition holds, that holds at `low` and not at `high`."""
    for _ in range(50):
        middle = (low + high) / 2
        good = holds(middle)
        low, high = np.where(good, middle, low), np.where(good, high, middle)
    return low


_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(80)


def rice(radius: ArrayLike, distance: ArrayLike, sd: ArrayLike) -> np.ndarray:
    """Chance that a position scattered by `sd` on each axis about a place at `distance` falls within `radius`.

    By quadrature of the density ``x exp(-(x² + d²) / 2) I0(x d)`` in units of `sd`, over the part of
    the range within 9 of d.

    Examples
    --------
    Without a distance it is the closed form ``1 - exp(-r² / 2)``.

    >>> rice([0.30, 2.0], [0.27, 0.0], [0.02, 1.0]).round(4).tolist(), round(float(1 - np.exp(-2.0)), 4)
    ([0.9285, 0.8647], 0.8647)
    """
    radius, distance, sd = _arrays(radius, distance, sd)
    end, centre = radius / sd, distance / sd
    begin = np.clip(centre - 9.0, 0.0, end)
    stop = np.minimum(end, centre + 9.0)
    half = np.maximum(stop - begin, 0.0) / 2
    x = (begin + half)[..., None] + half[..., None] * _NODES
    density = x * np.exp(-((x - centre[..., None]) ** 2) / 2) * i0e(x * centre[..., None])
    return np.clip((density * _WEIGHTS).sum(axis=-1) * half, 0.0, 1.0)


def _arrays(*values: ArrayLike) -> tuple[np.ndarray, ...]:
    return np.broadcast_arrays(*(np.asarray(each, float) for each in values))
