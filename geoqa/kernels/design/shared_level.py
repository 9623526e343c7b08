"""The level that the shots of several lines share against their design."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from geoqa.errors import GeometryInputError

_OF_A_MEDIAN = 1.2533
"""Times the standard deviation of a mean is that of a median, of normal numbers: the root of pi / 2."""
_FROM_MAD = 1.4826
"""Standard deviation over median absolute deviation, of normal numbers."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SharedLevel:
    """What lines lie off by together.

    Attributes
    ----------
    shift : float
        Middle of the middles of all lines, positive high; NaN of none.
    u : float
        1 sigma of it, by how far the lines differ among each other and by the shots themselves; of one line by its
        shots alone.
    share : float
        Of the shots, how many lie nearer to it than to the design.
    lines, shots : int
    """

    shift: float
    u: float
    share: float
    lines: int
    shots: int


def shared_level(line: ArrayLike, deviation: ArrayLike, u_random: ArrayLike) -> SharedLevel:
    """Estimate what lines share, so that one that is built off, or a sag in one, moves it little.

    Parameters
    ----------
    line : (n,) int array
        Number of the line of each shot.
    deviation : (n,) array
        In elevation, measured minus design; NaN counts for nothing.
    u_random : (n,) array
        1 sigma of each for itself.

    Returns
    -------
    SharedLevel

    Raises
    ------
    GeometryInputError
        The three are not of one length.

    Examples
    --------
    Two lines 0.10 high and one of them with a sag:

    >>> found = shared_level([0, 0, 0, 1, 1, 1, 2, 2, 2], [0.10, 0.11, 0.09] * 2 + [0.10, -0.15, 0.10], [0.02] * 9)
    >>> round(found.shift, 3), found.lines, round(found.share, 2)
    (0.1, 3, 0.89)
    """
    of, value, u = np.asarray(line, np.int64), np.asarray(deviation, np.float64), np.asarray(u_random, np.float64)
    if not of.shape == value.shape == u.shape or of.ndim != 1:
        raise GeometryInputError("Lines, deviations and uncertainties need one row a shot.")
    known = np.isfinite(value)
    of, value, u = of[known], value[known], u[known]
    if not len(of):
        return SharedLevel(shift=np.nan, u=np.nan, share=np.nan, lines=0, shots=0)
    names = np.unique(of)
    middles = np.array([np.median(value[of == each]) for each in names])
    shift = float(np.median(middles))
    own = _OF_A_MEDIAN * float(np.sqrt(np.nansum(u**2))) / len(of)
    among = 0.0
    if len(names) > 1:
        wider = float(stdtrit(len(names) - 1, 0.975)) / 1.959963984540054
        few = len(names) / (len(names) - 0.8)  # of few numbers it comes out too small
        spread = few * _FROM_MAD * float(np.median(np.abs(middles - shift)))
        among = _OF_A_MEDIAN * spread * wider / np.sqrt(len(names))
    share = float((np.abs(value - shift) < np.abs(value)).mean())
    return SharedLevel(shift=shift, u=float(np.hypot(own, among)), share=share, lines=len(names), shots=len(of))
