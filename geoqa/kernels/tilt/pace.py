"""How long a crew takes for one shot."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import bdtr

from geoqa.errors import JobError
from geoqa.kernels.precision.estimate import UNKNOWN, Estimate


def median_estimate(values: ArrayLike, *, confidence: float = 0.95) -> Estimate:
    """Estimate a median with a band of ranks, whatever the distribution is.

    Parameters
    ----------
    values : (n,) array
        Independent values; NaN is left out.
    confidence : float
        At least this probability has the band to hold the true median.

    Returns
    -------
    Estimate
        Unknown without values; from fewer than six a band without ends.

    Raises
    ------
    JobError
        A confidence not between 0 and 1.

    Notes
    -----
    Ranks of the sign test: the outermost that leave no more than half the doubt on either side.

    Examples
    --------
    >>> found = median_estimate([21, 22, 22, 23, 24, 25, 60, float("nan")])
    >>> found.value, found.low, found.high
    (23.0, 21.0, 60.0)
    """
    if not 0 < confidence < 1:
        raise JobError(f"A confidence of {confidence} is not between 0 and 1; 0.95 is usual.")
    values = np.asarray(values, dtype=np.float64)
    values = np.sort(values[np.isfinite(values)])
    count = values.size
    if not count:
        return UNKNOWN
    rank = int(np.sum(bdtr(np.arange(count), count, 0.5) <= (1 - confidence) / 2))
    low, high = (float(values[rank - 1]), float(values[count - rank])) if rank else (-np.inf, np.inf)
    return Estimate(value=float(np.median(values)), se=np.nan, low=low, high=high, dof=float(count - 1))
