"""Grid position to longitude and latitude on the frame's own datum, and back: projection only, no datum shift."""

from functools import cache
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoqa.frames.systems import engine
from geoqa.frames.systems.definitions import systems
from geoqa.model.frame import Frame

if TYPE_CHECKING:
    import pyproj

Pair = tuple[NDArray[np.float64], NDArray[np.float64]]
Bounds = tuple[float, float, float, float]
"""West, south, east, north in degrees."""


class Extent(Protocol):
    """Where a system is meant to be used, in degrees; the engine has several classes for it."""

    @property
    def west(self) -> float:
        """Western edge; east of `east` where it crosses the antimeridian."""

    @property
    def south(self) -> float:
        """Southern edge."""

    @property
    def east(self) -> float:
        """Eastern edge."""

    @property
    def north(self) -> float:
        """Northern edge."""

    @property
    def name(self) -> str | None:
        """In words."""


def to_geographic(frame: Frame | str, easting: ArrayLike, northing: ArrayLike) -> Pair:
    """Longitude and latitude on the frame's own datum.

    Parameters
    ----------
    frame : Frame or str
        Or the code or WKT of a projected system.
    easting, northing : array_like, (n,)
        In the system's own unit.

    Returns
    -------
    longitude, latitude : (n,) arrays
        Degrees, east and north positive; NaN where the position is missing or beyond the projection.

    Examples
    --------
    >>> lon, lat = to_geographic("EPSG:6547", [1968503.937], [0.0])
    >>> round(float(lon[0]), 6), round(float(lat[0]), 6)
    (-100.5, 45.666667)
    """
    return engine.move(_inverse(text_of(frame)), easting, northing, what="inverse projection", strict=False)


def from_geographic(frame: Frame | str, longitude: ArrayLike, latitude: ArrayLike) -> Pair:
    """Easting and northing of a longitude and latitude given on the frame's own datum.

    Parameters
    ----------
    frame : Frame or str
        Or the code or WKT of a projected system.
    longitude, latitude : array_like, (n,)
        Degrees, east and north positive.

    Returns
    -------
    easting, northing : (n,) arrays
        In the system's own unit; NaN where the position is missing or beyond the projection.

    Examples
    --------
    >>> easting, northing = from_geographic("EPSG:6547", [-100.5], [46.0])
    >>> round(float(easting[0]), 3)
    1968503.937
    """
    return engine.move(_forward(text_of(frame)), longitude, latitude, what="projection", strict=False)


def bounds(frame: Frame | str, easting: ArrayLike, northing: ArrayLike) -> Bounds | None:
    """Box of positions in longitude and latitude, on the frame's own datum; None where nothing has a place.

    Examples
    --------
    >>> [round(each, 3) for each in bounds("EPSG:6547", [1968503.937, float("nan")], [0.0, 0.0])]
    [-100.5, 45.667, -100.5, 45.667]
    """
    longitude, latitude = to_geographic(frame, easting, northing)
    there = np.isfinite(longitude) & np.isfinite(latitude)
    if not there.any():
        return None
    lon, lat = longitude[there], latitude[there]
    return float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max())


def text_of(frame: Frame | str) -> str:
    """Definition of the horizontal system of a frame, or the text itself."""
    return frame.horizontal_wkt if isinstance(frame, Frame) else frame


@cache
def _inverse(text: str) -> "pyproj.Transformer":
    plan = systems(text)[0]
    return engine.library().Transformer.from_crs(plan, plan.geodetic_crs, always_xy=True)


@cache
def _forward(text: str) -> "pyproj.Transformer":
    plan = systems(text)[0]
    return engine.library().Transformer.from_crs(plan.geodetic_crs, plan, always_xy=True)
