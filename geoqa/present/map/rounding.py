"""Numbers become whole numbers once, exactly as `geoqa.model.words` would print them.

The page holds whole thousandths (or what the quantity asks for) and prints them without any
further rounding, so that the map, the report and the tables show the same digits.
"""

import numpy as np
from numpy.typing import ArrayLike

from geoqa.model import words

QUANTITIES = ("length", "ratio", "angle", "count", "slope", "time")
"""Quantities in the order of their codes on the page; any other is printed as a length."""

_PERCENT = ("ratio", "slope")


def whole(values: ArrayLike, digits: int) -> np.ndarray:
    """Round to `digits` decimals as `round` does, and give the whole number of last digits.

    Parameters
    ----------
    values : array_like of float, shape (n,)
    digits : int
        Decimals kept.

    Returns
    -------
    ndarray of float64, shape (n,)
        Whole numbers; NaN and infinities stay what they are.

    Notes
    -----
    Scaling before rounding can move a value across a half; the few that lie next to one are
    rounded one by one from their exact value.

    Examples
    --------
    >>> whole([0.0005, 2.6755, 0.0004, float("nan")], 3)
    array([1.000e+00, 2.675e+03, 0.000e+00,       nan])
    >>> round(0.0005, 3), round(2.6755, 3)
    (0.001, 2.675)
    """
    exact = np.asarray(values, dtype=float)
    scaled = exact * 10.0**digits
    rounded = np.rint(scaled)
    with np.errstate(invalid="ignore"):
        near = np.abs(np.abs(scaled - np.trunc(scaled)) - 0.5) < 1e-9 + np.abs(scaled) * 1e-15
    for place in np.flatnonzero(near & np.isfinite(exact)):
        rounded[place] = round(round(float(exact[place]), digits) * 10**digits)
    return rounded


def whole_or_none(value: float) -> int | None:
    """A whole number as JSON knows it; None where there is none, or no end.

    Examples
    --------
    >>> whole_or_none(80.0), whole_or_none(float("inf"))
    (80, None)
    """
    return int(value) if np.isfinite(value) else None


def whole_stations(values: ArrayLike) -> np.ndarray:
    """Round stations to whole hundredths, as `words.station` does.

    Examples
    --------
    >>> whole_stations([1250.254, -5.0])
    array([125025.,   -500.])
    """
    return np.rint(np.asarray(values, dtype=float) * 100.0)


def whole_quantities(values: ArrayLike, codes: ArrayLike, unit: str) -> np.ndarray:
    """Round judged numbers by the quantity of their row.

    Parameters
    ----------
    values : array_like of float, shape (n,)
    codes : array_like of int, shape (n,)
        Place of the row's quantity in `QUANTITIES`.
    unit : str
        Name of the job's unit.

    Examples
    --------
    >>> whole_quantities([0.16, 1 / 48], [0, 1], "ft")
    array([ 160., 2083.])
    """
    exact = np.asarray(values, dtype=float)
    codes = np.asarray(codes)
    out = np.full(exact.shape, np.nan)
    for code, name in enumerate(QUANTITIES):
        rows = codes == code
        factor, digits = (100.0, 3) if name in _PERCENT else (1.0, words.decimals(name, unit))
        out[rows] = whole(exact[rows] * factor, digits)
    return out


def digits_of(unit: str) -> dict[str, int]:
    """Decimals of each quantity on the page, a ratio counted in percent.

    Examples
    --------
    >>> digits_of("ft")
    {'length': 3, 'ratio': 3, 'angle': 2, 'count': 0, 'slope': 3, 'time': 0}
    """
    return {name: 3 if name in _PERCENT else words.decimals(name, unit) for name in QUANTITIES}
