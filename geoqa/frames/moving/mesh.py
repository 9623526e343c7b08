"""Longitude and latitude on a small mesh round a place, for a page that must find them without this library.

A page holds hundreds of thousands of positions; two degrees written out for each would outweigh all
the rest. Over a few tens of kilometres longitude and latitude are so smooth that the polynomial
through 5 by 5 places gives them to a millimetre.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoqa.errors import FrameError
from geoqa.frames.moving.lonlat import display_operation, to_lonlat
from geoqa.model.frame import Frame

NODES = 5
"""Places along each side of the mesh."""
REACH = 40_000.0
"""Metres from the middle of the mesh to its sides."""
GOOD_TO = 0.3
"""Metres by which the mesh may miss; far below what the operation to WGS 84 is known to."""
LEAST_ACCURACY = 2.0
"""Metres: WGS 84 stands for several realizations, and is itself no better known than this."""
EARTH = 6_371_000.0
"""Metres, mean radius: enough to say how large a small angle is."""


@dataclass(frozen=True, eq=False)
class LonLatMesh:
    """Longitude and latitude at 5 by 5 places about a middle.

    Attributes
    ----------
    middle : (easting, northing)
        In the frame's unit.
    step : float
        Between neighbouring places, in the frame's unit.
    longitude, latitude : (5, 5) arrays
        Degrees, labelled WGS 84; rows from south to north, columns from west to east.
    accuracy : float
        Metres to which the positions are known, from the operation to WGS 84.
    """

    middle: tuple[float, float]
    step: float
    longitude: NDArray[np.float64]
    latitude: NDArray[np.float64]
    accuracy: float

    def at(self, easting: ArrayLike, northing: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Longitude and latitude of positions, by the polynomial through the mesh.

        Parameters
        ----------
        easting, northing : array_like, (n,)
            In the frame's unit.

        Returns
        -------
        longitude, latitude : (n,) arrays
            Degrees; NaN beyond the mesh and where a position is missing.
        """
        across = _weights((np.asarray(easting, float) - self.middle[0]) / self.step)
        up = _weights((np.asarray(northing, float) - self.middle[1]) / self.step)
        longitude, latitude = (np.einsum("jn,ji,in->n", up, each, across) for each in (self.longitude, self.latitude))
        return longitude, latitude


def lonlat_mesh(frame: Frame, easting: float, northing: float) -> LonLatMesh | None:
    """Make the mesh about a position.

    Parameters
    ----------
    frame : Frame
    easting, northing : float
        Its middle, in the frame's unit.

    Returns
    -------
    LonLatMesh or None
        None where no operation to WGS 84 is known, or the mesh would miss by more than `GOOD_TO`.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> mesh = lonlat_mesh(resolve("EPSG:6547"), 1968503.937, 0.0)
    >>> lon, lat = mesh.at([1968503.937], [0.0])
    >>> round(float(lon[0]), 6), round(float(lat[0]), 6), mesh.accuracy
    (-100.5, 45.666667, 2.0)
    """
    half = NODES // 2
    step = REACH / half / frame.unit.metres_float
    ticks = (np.arange(NODES) - half) * step
    east, north = (each.ravel() for each in np.meshgrid(easting + ticks, northing + ticks))
    try:
        longitude, latitude = to_lonlat(frame, east, north)
        accuracy = max(LEAST_ACCURACY, display_operation(frame).accuracy)
    except FrameError:
        return None
    shape = (NODES, NODES)
    mesh = LonLatMesh((easting, northing), step, longitude.reshape(shape), latitude.reshape(shape), accuracy)
    return mesh if worst_miss(mesh, frame) <= GOOD_TO else None


def worst_miss(mesh: LonLatMesh, frame: Frame, *, places: int = 21) -> float:
    """Largest distance in metres between the mesh and the operation itself, on a lattice over the mesh.

    Returns
    -------
    float
        Infinite where the operation gives no position, or positions across the 180th meridian.
    """
    half = NODES // 2 * mesh.step
    ticks = np.linspace(-half, half, places)
    east, north = (each.ravel() for each in np.meshgrid(mesh.middle[0] + ticks, mesh.middle[1] + ticks))
    longitude, latitude = mesh.at(east, north)
    true_longitude, true_latitude = to_lonlat(frame, east, north)
    aside = np.radians(longitude - true_longitude) * np.cos(np.radians(true_latitude))
    miss = EARTH * np.hypot(aside, np.radians(latitude - true_latitude))
    return float(miss.max()) if np.isfinite(miss).all() else float("inf")


def _weights(place: NDArray[np.float64]) -> NDArray[np.float64]:
    """Weights of the five places in Lagrange's polynomial, (5, n); NaN beyond the outer ones."""
    knots = np.arange(NODES) - NODES // 2
    inside = np.where(np.abs(place) <= NODES // 2 + 1e-9, place, np.nan)
    weights = [
        np.prod([(inside - other) / (knot - other) for other in knots if other != knot], axis=0) for knot in knots
    ]
    return np.array(weights)
