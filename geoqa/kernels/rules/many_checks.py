"""What verdicts mean when many numbers are judged at once: some are out by chance alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import digamma

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats


def false_discovery(p: ArrayLike, *, dependent: bool = True, below: float = 1.0) -> Floats:
    """Smallest rate of false claims at which each of many claims would still be made.

    Parameters
    ----------
    p : (n,) array
        Chance of each, if the claim were false; NaN is not counted.
    dependent : bool
        The numbers may hang together in any way; otherwise they are independent, or pull each other the same way.
    below : float
        Chances above it are no claims and are not counted among them, and the others are divided by it: where most
        numbers lie well within their limits, theirs say nothing of those that do not.

    Returns
    -------
    (n,) float64 array
        A claim stands at a rate of 5 % where it is at most 0.05; 1 above `below`, NaN where `p` is.

    Raises
    ------
    GeometryInputError
        A chance below 0 or above 1, or more than one dimension.

    Notes
    -----
    Benjamini and Hochberg (1995), J. R. Stat. Soc. B 57, 289; for any dependence times 1 + 1/2 + … + 1/n, Benjamini
    and Yekutieli (2001), Ann. Stat. 29, 1165. What is left out above `below`: Zhao, Small and Su (2019), J. Am. Stat.
    Assoc. 114, 1291 (from memory): right where a sound number is the less likely to seem bad the farther within it is.

    Examples
    --------
    >>> false_discovery([0.001, 0.04, 0.03, np.nan], dependent=False).round(3).tolist()
    [0.003, 0.04, 0.04, nan]
    >>> false_discovery([0.001, 0.9, 0.9, 0.9], dependent=False, below=0.5).tolist()
    [0.002, 1.0, 1.0, 1.0]
    """
    p = np.asarray(p, dtype=np.float64)
    if p.ndim != 1 or ((p < 0) | (p > 1)).any():
        raise GeometryInputError("chances must be one row of numbers from 0 to 1, or NaN.")
    there = np.flatnonzero(p <= below)
    made, count = np.where(np.isnan(p), np.nan, 1.0), len(there)
    if not count:
        return made
    order = there[np.argsort(p[there], kind="stable")]
    factor = digamma(count + 1) - digamma(1) if dependent else 1.0
    scaled = p[order] / below * count / np.arange(1, count + 1) * factor
    made[order] = np.minimum(np.minimum.accumulate(scaled[::-1])[::-1], 1.0)
    return made


def out_by_chance(p: ArrayLike, *, at: float, below: float = 0.5) -> float:
    """How many sound numbers are called out of tolerance by chance, on average at most.

    Parameters
    ----------
    p : (n,) array
        Chance of each to lie within its limits; NaN is not counted.
    at : float
        Chance at which a number is called out, as 0.05 by the rule "guarded".
    below : float
        Chances above it say nothing, as for `false_discovery`.

    Returns
    -------
    float
        NaN where `at` is not below `below`: then all that could tell is called out itself.

    Notes
    -----
    The chances of numbers whose true value is at a limit are spread evenly, and those of numbers within are seldom
    small. So the count from `at` to `below`, by the widths of the two stretches, tells how many lie under `at` by
    chance. One is added, for none seen is not none there: Storey, Taylor and Siegmund (2004), J. R. Stat. Soc. B 66,
    187 (from memory). Defects too small to prove are counted with the sound: it says rather too many.

    Examples
    --------
    >>> round(out_by_chance([0.001, 0.2, 0.3, 0.4, 0.9, np.nan], at=0.05), 3)
    0.444
    """
    if not at < below:
        return np.nan
    p = np.asarray(p, dtype=np.float64)
    return float((np.count_nonzero((p > at) & (p <= below)) + 1) * at / (below - at))
