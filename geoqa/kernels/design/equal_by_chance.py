"""How often honest work happens to equal the design at the resolution it was recorded in."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammainc, ndtr

from geoqa.errors import GeometryInputError


def expected_equal(resolution: ArrayLike, u: ArrayLike) -> float:
    """Expected number of rows that equal the design in every comparable component, by chance.

    Parameters
    ----------
    resolution : (n, k) array
        Step of the last recorded digit of each of k components; NaN for one that is not comparable.
    u : (n, k) array
        Standard deviation of measured minus design, in the unit of the resolution. NaN is unknown,
        and taken as if the component always agreed: the expectation is never understated.

    Returns
    -------
    float
        Sum over rows of the product over components; a row without any comparable component adds 0.

    Notes
    -----
    The rounding cell round a design value is one step wide, so a normal error of standard deviation
    u lands in it with probability Phi(r / 2u) - Phi(-r / 2u), nearly r / u times the normal density
    at 0 where r is small. Errors of construction make agreement rarer still, so the number is an
    upper bound for work that was staked where it was shot.

    Examples
    --------
    >>> round(expected_equal([[0.001] * 3] * 640, [[0.02, 0.02, 0.0283]] * 640), 5)
    0.00359
    """
    resolution, u = np.broadcast_arrays(np.asarray(resolution, float), np.asarray(u, float))
    if resolution.ndim != 2 or np.any(resolution <= 0) or np.any(u < 0):
        raise GeometryInputError(
            f"Resolutions of shape {resolution.shape} must be (rows, components) of positive steps, "
            "with standard deviations that are not negative."
        )
    comparable = ~np.isnan(resolution)
    with np.errstate(divide="ignore", invalid="ignore"):
        half = resolution / (2 * u)
    cell = np.where(u > 0, ndtr(half) - ndtr(-half), 1.0)
    return float(np.where(comparable, cell, 1.0).prod(axis=1)[comparable.any(axis=1)].sum())


def poisson_tail(count: int, expected: float) -> float:
    """Probability that a Poisson number with mean `expected` is `count` or more.

    Examples
    --------
    >>> round(poisson_tail(3, 0.5), 6), poisson_tail(0, 0.5)
    (0.014388, 1.0)
    """
    if count <= 0:
        return 1.0
    return float(gammainc(count, expected))


def poisson_limit(expected: float, *, tail: float = 1e-3) -> int:
    """Largest count that chance still explains: the smallest n with P(N > n) < `tail`.

    Examples
    --------
    >>> poisson_limit(0.0036), poisson_limit(18.0)
    (1, 32)
    """
    if not (expected >= 0 and np.isfinite(expected) and 0 < tail < 1):
        raise GeometryInputError(f"No limit for an expectation of {expected} and a tail of {tail}; give 0 < tail < 1.")
    low, high = -1, max(10, int(4 * expected) + 10)
    while poisson_tail(high + 1, expected) >= tail:
        high *= 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if poisson_tail(middle + 1, expected) < tail else (middle, high)
    return high
