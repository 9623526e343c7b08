"""How large a part of the uncertainty sessions share, from how far each of them was found off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtrc, stdtrit

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats

_NORMAL = 1.959963984540054
MOST = 2.0
"""Times what is known of other sessions that an unchecked one is taken to be off by, at most: one session in two axes
would ask for 2.2, a single number for 6.5, which nobody could work with."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SharedPart:
    """What sessions share.

    Attributes
    ----------
    held : (s,) float64
        Root mean square of what each session may be off by, in the light of its shifts; NaN where none is known.
    elsewhere : float
        The same for a session of which nothing is known; 0 where the shifts are no more than their own uncertainty.
    p : float
        Chance of shifts as large if sessions are off by no more than was stated; NaN without any.
    """

    held: Floats
    elsewhere: float
    p: float


def shared_part(shift: ArrayLike, u: ArrayLike, *, least: ArrayLike) -> SharedPart:
    """Learn from the shifts of sessions what their shots share.

    Parameters
    ----------
    shift, u : (s, a) array
        Shift of each session along each axis, and 1 sigma of it; NaN where not known.
    least : (s,) array
        1 sigma that the shots of a session are stated to share.

    Returns
    -------
    SharedPart

    Raises
    ------
    GeometryInputError
        Arrays that do not fit each other.

    Notes
    -----
    Empirical Bayes, any textbook: sessions are normal about 0 with a variance that is the stated one or the mean
    square of the shifts, whichever is larger. Then the mean square of a session's shift given its estimate is
    w²·shift² + w·u² with w = variance / (variance + u²). The larger axis counts. The variances of the shifts are not
    taken off that mean square: of three sessions what is left would be 0 too often. For an unchecked session they are,
    and it takes the root, enlarged by Student's factor for so few numbers, at most `MOST`.

    Examples
    --------
    >>> found = shared_part([[0.03], [-0.05], [0.01]], [[0.01]] * 3, least=[0.0, 0.0, 0.0])
    >>> found.held.round(3).tolist(), round(found.elsewhere, 3), round(found.p, 6)
    ([0.029, 0.047, 0.013], 0.053, 0.0)
    """
    shift, u, least = (np.asarray(each, dtype=np.float64) for each in (shift, u, least))
    if shift.shape != u.shape or shift.ndim != 2 or least.shape != shift.shape[:1]:
        raise GeometryInputError(f"shift {shift.shape}, u {u.shape} and least {least.shape} do not fit.")
    known = np.isfinite(shift) & np.isfinite(u)
    count = int(known.sum())
    if not count:
        return SharedPart(held=np.full(len(shift), np.nan), elsewhere=0.0, p=np.nan)
    size, own = np.where(known, np.abs(shift), 0.0), np.where(known, u, 0.0)
    expected = (own**2 + least[:, None] ** 2)[known]
    with np.errstate(divide="ignore"):
        p = float(chdtrc(count, float(np.sum(size[known] ** 2 / expected))))
    square = float(np.mean(size[known] ** 2))
    variance = max(square - float(np.mean(own[known] ** 2)), 0.0)
    prior, largest = np.maximum(square, least**2), own.max(axis=1)
    share = prior / np.maximum(prior + largest**2, np.finfo(float).tiny)
    held = np.sqrt((share * size.max(axis=1)) ** 2 + share * largest**2)
    few = min(float(stdtrit(count, 0.975)) / _NORMAL, MOST)
    return SharedPart(held=np.where(known.any(axis=1), held, np.nan), elsewhere=few * float(np.sqrt(variance)), p=p)
