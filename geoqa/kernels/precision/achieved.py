"""What measurements achieved where the truth is known: the root mean square of residuals, with its band."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtri

FEWEST = 3
"""Independent groups below which no band is told."""


@dataclass(frozen=True, kw_only=True)
class Achieved:
    """1 sigma as it was achieved.

    Attributes
    ----------
    u, low, high : float
        Root mean square and its 95 % band; NaN where it is not known.
    values, groups : int
        What it rests on: values, and groups that are independent of each other.
    """

    u: float
    low: float
    high: float
    values: int
    groups: int


def achieved(residuals: ArrayLike, groups: ArrayLike, *, level: float = 0.95) -> Achieved:
    """Root mean square of residuals, with a band that holds even if all values of a group share one error.

    Parameters
    ----------
    residuals : (n,) or (n, k) array
        Measured minus true, along k axes that are taken together; rows with NaN count for nothing.
    groups : (n,) array
        Which values may share an error, such as those of one session.
    level : float
        Of the band, by the chi-square distribution with a degree of freedom for each group.

    Examples
    --------
    >>> found = achieved([0.02, -0.02, 0.02, -0.02], ["a", "a", "b", "c"])
    >>> round(found.u, 3), round(found.low, 3), round(found.high, 3), found.groups
    (0.02, 0.011, 0.075, 3)
    >>> achieved([0.02, 0.01], ["a", "b"]).high
    nan
    """
    values = np.asarray(residuals, float)
    values = values[:, None] if values.ndim == 1 else values
    known = np.isfinite(values).all(axis=1)
    count = len(set(np.asarray(groups, dtype=object)[known].tolist()))
    nan = float("nan")
    if not known.any():
        return Achieved(u=nan, low=nan, high=nan, values=0, groups=0)
    u = float(np.sqrt((values[known] ** 2).mean()))
    tail = (1.0 - level) / 2.0
    low, high = (float(u * np.sqrt(count / chdtri(count, part))) for part in (tail, 1.0 - tail))
    few = count < FEWEST
    return Achieved(u=u, low=nan if few else low, high=nan if few else high, values=int(known.sum()), groups=count)
