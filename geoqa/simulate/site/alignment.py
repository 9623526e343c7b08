"""The centre line: tangent, circular arc, tangent; and its profile with one vertical curve.

Places are relative to station 10+00 (easting, northing 0, 0), so that every zone sees the same shape
and no digit is lost beside a large false origin.
"""

import numpy as np
from numpy.typing import ArrayLike

AZIMUTH = 80.0
PC, RADIUS, DELTA = 1800.0, 500.0, 15.0
ARC_LENGTH = RADIUS * np.radians(DELTA)
PT = PC + ARC_LENGTH
START = 1000.0

PVI, PVI_ELEVATION = 2000.0, 1456.0
GRADE_IN, GRADE_OUT, CURVE = -0.006, 0.005, 200.0


def _bearing(azimuth: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    angle = np.radians(azimuth)
    return np.sin(angle), np.cos(angle)


_AHEAD = np.array(_bearing(AZIMUTH))
_RIGHT = np.array(_bearing(AZIMUTH + 90.0))
CENTRE = _AHEAD * (PC - START) + _RIGHT * RADIUS
"""Centre of the arc, relative to station 10+00."""


def azimuth(station: ArrayLike) -> np.ndarray:
    """Azimuth of the centre line, degrees clockwise from grid north.

    Examples
    --------
    >>> azimuth([1000.0, 2500.0]).tolist()
    [80.0, 95.0]
    """
    station = np.asarray(station, float)
    return AZIMUTH + np.clip((station - PC) / ARC_LENGTH, 0.0, 1.0) * DELTA


def place(station: ArrayLike, offset: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    """Easting and northing of stations and offsets, relative to station 10+00.

    Parameters
    ----------
    station, offset : array
        Feet along the centre line and right of it.

    Examples
    --------
    >>> east, north = place(1010.0, 34.0)
    >>> round(float(east), 3), round(float(north), 3)
    (15.752, -31.747)
    """
    station, offset = np.broadcast_arrays(np.asarray(station, float), np.asarray(offset, float))
    aside, ahead = _bearing(azimuth(station) + 90.0), _bearing(azimuth(station))
    before = np.minimum(station, PC) - START
    turned = np.clip(station, PC, PT) > PC
    past = np.maximum(station - PT, 0.0)
    east = np.where(turned, CENTRE[0] - aside[0] * RADIUS, _AHEAD[0] * before)
    north = np.where(turned, CENTRE[1] - aside[1] * RADIUS, _AHEAD[1] * before)
    return east + ahead[0] * past + aside[0] * offset, north + ahead[1] * past + aside[1] * offset


def along(station: ArrayLike, offset: float) -> np.ndarray:
    """Length of a parallel line from station 10+00 on, as its own station.

    A line on the outside of the arc is longer than the centre line, so its own
    stations run ahead behind the arc.

    Examples
    --------
    >>> round(float(along(2000.0, -21.0)), 3)
    2005.498
    """
    station = np.asarray(station, float)
    return station - offset * np.radians(azimuth(station) - AZIMUTH)


def profile(station: ArrayLike) -> np.ndarray:
    """Elevation of the centre line.

    A parabola between two grades: ``z = z_bvc + g1 x + (g2 - g1) x² / 2L``.

    Examples
    --------
    >>> profile([1000.0, 2970.0]).round(3).tolist()
    [1462.0, 1460.85]
    """
    station = np.asarray(station, float)
    begin = PVI - CURVE / 2
    level = PVI_ELEVATION - GRADE_IN * CURVE / 2
    into = np.clip(station - begin, 0.0, CURVE)
    bent = level + GRADE_IN * into + (GRADE_OUT - GRADE_IN) * into**2 / (2 * CURVE)
    return bent + GRADE_IN * np.minimum(station - begin, 0.0) + GRADE_OUT * np.maximum(station - begin - CURVE, 0.0)
