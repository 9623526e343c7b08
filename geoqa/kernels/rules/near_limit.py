"""How much of a tolerance the work of one kind uses up as a whole, its errors of measuring taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from geoqa.errors import GeometryInputError

OUTER = 0.8
"""Share of a limit from which a number lies near it. Common practice, no source: rules that forbid an undue proportion
of work near the limit give no number."""


@dataclass(frozen=True, kw_only=True)
class LimitUse:
    """What many numbers of one kind say together.

    Attributes
    ----------
    count : int
        Numbers.
    mean, u_mean : float
        Their mean, and 1 sigma of it: what they share is not made smaller by their number.
    spread : float
        Standard deviation of the work itself: of the numbers, less what their random errors make.
    used : float
        Mean over the limit on its side: 1 is all of it; NaN where that side has none.
    near, beyond : float
        Share of the work between `OUTER` of a limit and the limit, and beyond it, if the work is normal about the mean.
    """

    count: int
    mean: float
    u_mean: float
    spread: float
    used: float
    near: float
    beyond: float


def limit_use(value: ArrayLike, random: ArrayLike, common: ArrayLike, *, lower: float, upper: float) -> LimitUse | None:
    """Describe how numbers of one kind fill their tolerance.

    Parameters
    ----------
    value : (n,) array
        Signed deviations; NaN is left out.
    random, common : (n,) array
        1 sigma of each, for itself and shared.
    lower, upper : float
        Limits; infinite where there is none.

    Returns
    -------
    LimitUse or None
        None for fewer than two numbers.

    Raises
    ------
    GeometryInputError
        Arrays of different length, or limits that are crossed.

    Examples
    --------
    >>> found = limit_use([0.06, 0.07, 0.05, 0.06], [0.005] * 4, [0.01] * 4, lower=-0.08, upper=0.08)
    >>> round(found.mean, 3), round(found.used, 2), round(found.near, 2), round(found.spread, 4)
    (0.06, 0.75, 0.27, 0.0065)
    """
    value, random, common = (np.asarray(each, dtype=np.float64) for each in (value, random, common))
    if not value.shape == random.shape == common.shape or not lower <= upper:
        raise GeometryInputError(f"values {value.shape} and uncertainties differ, or {lower:g} is above {upper:g}.")
    kept = np.isfinite(value + random + common)
    value, random, common = value[kept], random[kept], common[kept]
    if len(value) < 2:
        return None
    mean, own = float(value.mean()), float(np.mean(random**2))
    variance = float(value.var(ddof=1))
    u_mean = float(np.hypot(np.sqrt(variance / len(value)), common.max()))
    spread = float(np.sqrt(max(variance - own, 0.0)))
    side = upper if mean > 0 else lower
    used = mean / side if np.isfinite(side) and side != 0 else np.nan

    def above(limit: float) -> float:
        beyond = (mean - limit) / spread if spread > 0 else np.inf * np.sign(mean - limit)
        return float(ndtr(beyond)) if np.isfinite(limit) else 0.0

    def below(limit: float) -> float:
        return 1.0 - above(limit) if np.isfinite(limit) else 0.0

    beyond = above(upper) + below(lower)
    outer = above(OUTER * upper) + below(OUTER * lower)
    return LimitUse(
        count=len(value), mean=mean, u_mean=u_mean, spread=spread, used=float(used),
        near=max(outer - beyond, 0.0), beyond=beyond,
    )  # fmt: skip
