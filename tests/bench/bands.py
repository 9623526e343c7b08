"""Bands round predicted counts."""

import numpy as np
from scipy.special import bdtr


def binomial_band(count: int, chance: float, *, confidence: float = 0.999) -> tuple[int, int]:
    """Smallest and largest number of successes that a binomial count keeps to, half of the doubt on either side.

    Parameters
    ----------
    count : int
        Trials.
    chance : float
        Of success in each; values a rounding error outside 0 to 1 are taken as 0 and 1.
    confidence : float

    Examples
    --------
    >>> binomial_band(60, 0.5), binomial_band(60, 1.0), binomial_band(60, 0.0)
    ((17, 43), (60, 60), (0, 0))
    """
    chance = min(max(chance, 0.0), 1.0)
    if chance in (0.0, 1.0):
        return int(count * chance), int(count * chance)
    below = bdtr(np.arange(count + 1, dtype=float), count, chance)
    doubt = (1 - confidence) / 2
    low = int(np.searchsorted(below, doubt, side="right"))
    high = int(np.searchsorted(below, 1 - doubt, side="left"))
    return low, min(high, count)
