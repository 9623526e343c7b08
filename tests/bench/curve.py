"""The parts of a simple horizontal curve, and how it is laid out from its beginning."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike


class CurveParts(NamedTuple):
    """Parts of circular curves, arrays of one shape, in the unit of the radius.

    `tangent` runs from the point of curvature to the point of intersection,
    `length` along the arc, `long_chord` straight between its ends; `external` is
    the distance from the point of intersection to the middle of the arc, and
    `middle` from there to the middle of the chord.
    """

    tangent: np.ndarray
    length: np.ndarray
    long_chord: np.ndarray
    external: np.ndarray
    middle: np.ndarray


class Layout(NamedTuple):
    """Deflection angles from the tangent in degrees, and chords from the beginning of the curve."""

    deflection: np.ndarray
    chord: np.ndarray


def radius_of_degree(degree: ArrayLike, *, arc: float = 100.0) -> np.ndarray:
    """Radius of a curve given by its degree, arc definition.

    Parameters
    ----------
    degree : array
        Central angle, in degrees, of an arc of the length `arc`.
    arc : float
        The arc that the degree belongs to; by common practice 100 ft.

    Returns
    -------
    array
        Radius in the unit of `arc`; inf for a degree of 0.

    Examples
    --------
    >>> radius_of_degree(2.0).round(3).item()
    2864.789
    """
    with np.errstate(divide="ignore"):
        return np.divide(arc, np.radians(np.asarray(degree, dtype=np.float64)))


def curve_parts(radius: ArrayLike, angle: ArrayLike) -> CurveParts:
    """Tangent, length, long chord, external and middle distance of circular curves.

    Parameters
    ----------
    radius : array
        Radius, positive.
    angle : array
        Central angle, equal to the deflection between the tangents, in degrees,
        from 0 to less than 180. Outside of that, and where missing, all is NaN.

    Returns
    -------
    CurveParts
        With R and I: R tan(I/2), R I, 2 R sin(I/2), R (sec(I/2) - 1),
        R (1 - cos(I/2)); plane geometry, no source.

    Examples
    --------
    >>> [part.round(3).item() for part in curve_parts(2864.789, 8.4)]
    [210.377, 420.0, 419.624, 7.714, 7.693]
    """
    radius, angle = np.broadcast_arrays(np.asarray(radius, dtype=np.float64), np.asarray(angle, dtype=np.float64))
    fits = (angle >= 0) & (angle < 180) & (radius > 0)
    half = np.where(fits, np.radians(angle) / 2, np.nan)
    # sec x - 1 = tan x tan(x/2) and 1 - cos x = 2 sin^2(x/2) keep their digits on flat curves
    return CurveParts(
        tangent=radius * np.tan(half),
        length=2 * radius * half,
        long_chord=2 * radius * np.sin(half),
        external=radius * np.tan(half) * np.tan(half / 2),
        middle=2 * radius * np.sin(half / 2) ** 2,
    )


def curve_layout(station: ArrayLike, *, begin: float, radius: float) -> Layout:
    """Deflection angle and chord from the beginning of a curve to stations on it.

    Parameters
    ----------
    station : (n,) array
        Stations on the curve.
    begin : float
        Station of the point of curvature.
    radius : float
        Radius, in the unit of the stations.

    Returns
    -------
    Layout
        NaN for stations before the beginning or more than a full circle past it.

    Examples
    --------
    >>> layout = curve_layout([6300.0], begin=6217.083, radius=2864.789)
    >>> layout.deflection.round(4).item(), layout.chord.round(3).item()
    (0.8292, 82.914)
    """
    along = np.asarray(station, dtype=np.float64) - begin
    half = np.where((along >= 0) & (along <= 2 * np.pi * radius), along / (2 * radius), np.nan)
    return Layout(np.degrees(half), 2 * radius * np.sin(half))
