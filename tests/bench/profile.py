"""Elevations along two grades joined by a vertical parabola."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError


def parabola_elevation(
    station: ArrayLike,
    *,
    pvi_station: float,
    pvi_elevation: float,
    grade_in: float,
    grade_out: float,
    length: float,
) -> np.ndarray:
    """Elevation on an equal-tangent vertical curve and on the grades beside it.

    Parameters
    ----------
    station : (n,) array
        Stations.
    pvi_station, pvi_elevation : float
        Where the two grades meet.
    grade_in, grade_out : float
        Rise over run before and after, positive uphill in the direction of
        stations (3 % is 0.03).
    length : float
        Length of the parabola, half of it to either side; 0 for none.

    Returns
    -------
    (n,) float array
        Elevation; before and after the curve that of the straight grade. NaN
        stays NaN. With x from the beginning of the curve the elevation is
        y + g1 x + (g2 - g1) x^2 / (2 L): plane geometry, no source.

    Raises
    ------
    GeometryInputError
        If the length is negative or not a number.

    Examples
    --------
    >>> crest = dict(pvi_station=4670.0, pvi_elevation=853.48, grade_in=0.03, grade_out=-0.024, length=600.0)
    >>> parabola_elevation([4300.0, 4370.0, 4700.0], **crest).round(4).tolist()
    [842.38, 844.48, 849.4795]
    """
    _check_length(length)
    from_pvi = np.asarray(station, dtype=np.float64) - pvi_station
    grade = np.where(from_pvi < 0, grade_in, grade_out)
    half = length / 2
    inside = np.abs(from_pvi) < half
    # distance into the curve from the end whose grade is used
    depth = np.where(inside, half - np.abs(from_pvi), 0.0)
    share = depth / length if length else depth
    return pvi_elevation + grade * from_pvi + (grade_out - grade_in) / 2 * depth * share


def turning_station(*, pvi_station: float, grade_in: float, grade_out: float, length: float) -> float:
    """Station of the high or low point of a vertical parabola.

    Parameters
    ----------
    pvi_station, grade_in, grade_out, length : float
        As in `parabola_elevation`.

    Returns
    -------
    float
        Where the grade is 0; NaN if that is not on the parabola.

    Raises
    ------
    GeometryInputError
        If the length is negative or not a number.

    Examples
    --------
    >>> round(turning_station(pvi_station=4670.0, grade_in=0.03, grade_out=-0.024, length=600.0), 3)
    4703.333
    """
    _check_length(length)
    if length == 0 or grade_in == grade_out:
        return float("nan")
    share = grade_in / (grade_in - grade_out)
    return pvi_station + (share - 0.5) * length if 0 <= share <= 1 else float("nan")


def _check_length(length: float) -> None:
    if not (np.isfinite(length) and length >= 0):
        raise GeometryInputError(f"A vertical curve of length {length} cannot be drawn; give 0 or a positive length.")
