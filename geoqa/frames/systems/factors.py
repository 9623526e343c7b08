"""Scale and convergence of the grid, and what lies between grid and ground.

Factors are grid over ellipsoid (scale factor), ellipsoid over ground (elevation factor) and
grid over ground (combined factor). The elevation factor takes the height above the *ellipsoid*.
"""

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoqa.errors import FrameError
from geoqa.frames.systems import engine
from geoqa.frames.systems.definitions import systems
from geoqa.frames.systems.geographic import text_of, to_geographic
from geoqa.model.frame import Frame

if TYPE_CHECKING:
    import pyproj

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Distances:
    """One distance three ways; arrays of shape (n,), in the frame's unit.

    Attributes
    ----------
    grid, ellipsoid, ground : float64
        In the plane of the projection, on the ellipsoid, and at the height of the ground.
    factor : float64
        Grid over ground (ratio).
    """

    grid: Array
    ellipsoid: Array
    ground: Array
    factor: Array


def scale_factor(frame: Frame | str, easting: ArrayLike, northing: ArrayLike) -> Array:
    """Grid scale factor at points: grid distance over distance on the ellipsoid.

    Parameters
    ----------
    frame : Frame or str
        Or the code or WKT of a projected system.
    easting, northing : array_like, (n,)
        In the system's own unit.

    Returns
    -------
    (n,) array
        Ratio; NaN where the position is missing.

    Raises
    ------
    FrameError
        The projection is not conformal, so that the scale depends on the direction.

    Examples
    --------
    >>> round(float(scale_factor("EPSG:6547", [2228000.0], [444000.0])[0]), 6)
    0.999936
    """
    return _factors(systems(text_of(frame))[0], *to_geographic(frame, easting, northing))[0]


def convergence(frame: Frame | str, easting: ArrayLike, northing: ArrayLike) -> Array:
    """Grid convergence at points: azimuth of grid north, clockwise from true north.

    Parameters
    ----------
    frame : Frame or str
        Or the code or WKT of a projected system.
    easting, northing : array_like, (n,)
        In the system's own unit.

    Returns
    -------
    (n,) array
        Degrees; positive east of the central meridian; NaN where the position is missing.

    Examples
    --------
    >>> round(float(convergence("EPSG:6547", [1968503.937], [444000.0])[0]), 9) + 0.0
    0.0
    """
    return _factors(systems(text_of(frame))[0], *to_geographic(frame, easting, northing))[1]


def elevation_factor(frame: Frame, easting: ArrayLike, northing: ArrayLike, ellipsoid_height: ArrayLike) -> Array:
    """Elevation factor at points: distance on the ellipsoid over distance on the ground.

    Parameters
    ----------
    frame : Frame
    easting, northing : array_like, (n,)
        In the frame's unit.
    ellipsoid_height : array_like, (n,)
        Height above the ellipsoid, in the frame's unit; not the elevation.

    Returns
    -------
    (n,) array
        ``R / (R + h)`` with R the geometric mean of the two radii of curvature at the latitude;
        NaN where something is missing.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> float(elevation_factor(resolve("EPSG:6547"), [2228000.0], [444000.0], [0.0])[0])
    1.0
    """
    latitude = to_geographic(frame, easting, northing)[1]
    return _raised(systems(text_of(frame))[0], latitude, np.asarray(ellipsoid_height, float) * frame.unit.metres_float)


def _raised(plan: "pyproj.CRS", latitude: Array, height: Array) -> Array:
    """Elevation factor at a latitude in degrees and a height above the ellipsoid in metres."""
    latitude = np.radians(latitude)
    ellipsoid: Any = plan.ellipsoid
    squared = 1.0 - (ellipsoid.semi_minor_metre / ellipsoid.semi_major_metre) ** 2
    radius = ellipsoid.semi_major_metre * np.sqrt(1.0 - squared) / (1.0 - squared * np.sin(latitude) ** 2)
    return radius / (radius + height)


def combined_factor(frame: Frame, easting: ArrayLike, northing: ArrayLike, ellipsoid_height: ArrayLike) -> Array:
    """Combined factor at points: grid distance over ground distance.

    Parameters
    ----------
    frame : Frame
    easting, northing : array_like, (n,)
        In the frame's unit.
    ellipsoid_height : array_like, (n,)
        Height above the ellipsoid, in the frame's unit; not the elevation.

    Returns
    -------
    (n,) array
        Ratio; NaN where something is missing.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> round(float(combined_factor(resolve("EPSG:6547"), [2228000.0], [444000.0], [1360.0])[0]), 5)
    0.99987
    """
    longitude, latitude = to_geographic(frame, easting, northing)
    plan, height = systems(text_of(frame))[0], np.asarray(ellipsoid_height, float) * frame.unit.metres_float
    return _factors(plan, longitude, latitude)[0] * _raised(plan, latitude, height)


def ground_to_grid(frame: Frame, easting: ArrayLike, northing: ArrayLike) -> tuple[Array, Array]:
    """Ground coordinates to grid coordinates, about the frame's ground origin.

    Parameters
    ----------
    frame : Frame
        With `combined_factor` and `ground_origin`, and `ground_shift` where coordinates were shortened.
    easting, northing : array_like, (n,)
        Ground coordinates that agree with the grid at the origin, the shift taken off, in the frame's unit.

    Returns
    -------
    easting, northing : (n,) arrays

    Raises
    ------
    FrameError
        The frame has no combined factor.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> frame = resolve("EPSG:6547", combined_factor=0.9998, ground_origin=(2228000.0, 444000.0))
    >>> east, north = ground_to_grid(frame, [2229000.0], [444000.0])
    >>> float(east[0]), float(north[0])
    (2228999.8, 444000.0)
    """
    factor, origin = _ground(frame)
    east, north = (np.asarray(each, float) for each in (easting, northing))
    shift = frame.ground_shift
    return _about(origin[0], east - shift[0], factor), _about(origin[1], north - shift[1], factor)


def grid_to_ground(frame: Frame, easting: ArrayLike, northing: ArrayLike) -> tuple[Array, Array]:
    """Grid coordinates to ground coordinates, about the frame's ground origin; undoes `ground_to_grid`.

    Parameters
    ----------
    frame : Frame
        With `combined_factor` and `ground_origin`.
    easting, northing : array_like, (n,)
        In the frame's unit.

    Returns
    -------
    easting, northing : (n,) arrays

    Raises
    ------
    FrameError
        The frame has no combined factor.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> frame = resolve("EPSG:6547", combined_factor=0.9998, ground_origin=(2228000.0, 444000.0))
    >>> east, north = grid_to_ground(frame, [2228999.8], [444000.0])
    >>> round(float(east[0]), 6), float(north[0])
    (2229000.0, 444000.0)
    """
    factor, origin = _ground(frame)
    shift = frame.ground_shift
    east, north = _about(origin[0], easting, 1.0 / factor), _about(origin[1], northing, 1.0 / factor)
    return east + shift[0], north + shift[1]


def distances(frame: Frame, start: ArrayLike, end: ArrayLike) -> Distances:
    """Distances between grid positions, three ways.

    Parameters
    ----------
    frame : Frame
    start, end : (n, 3) array
        Easting, northing and height above the *ellipsoid*, in the frame's unit.

    Returns
    -------
    Distances
        NaN where something is missing.

    Notes
    -----
    The line scale factor is Simpson's (start + 4 middle + end) / 6, the elevation factor that of the mean height;
    common practice in state plane work.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> found = distances(resolve("EPSG:6547"), [[2228500.0, 446000.0, 1372.0]], [[2230468.5, 446000.0, 1372.0]])
    >>> found.grid.round(3).tolist(), found.ground.round(3).tolist()
    ([1968.5], [1968.755])
    """
    a, b = np.atleast_2d(np.asarray(start, float)), np.atleast_2d(np.asarray(end, float))
    grid = np.hypot(*(b - a)[:, :2].T)
    middle = (a + b) / 2
    places = [to_geographic(frame, each[:, 0], each[:, 1]) for each in (a, middle, b)]
    plan = systems(text_of(frame))[0]
    scale = [_factors(plan, *place)[0] for place in places]
    line = (scale[0] + 4 * scale[1] + scale[2]) / 6
    raised = _raised(plan, places[1][1], middle[:, 2] * frame.unit.metres_float)
    return Distances(grid=grid, ellipsoid=grid / line, ground=grid / (line * raised), factor=line * raised)


def _about(origin: float, values: ArrayLike, factor: float) -> Array:
    return origin + (np.asarray(values, float) - origin) * factor


def _ground(frame: Frame) -> tuple[float, tuple[float, float]]:
    if frame.combined_factor is None or frame.ground_origin is None:
        raise FrameError(
            "Ground coordinates need combined_factor and ground_origin in [frame]; "
            "the factor is grid over ground, from the height above the ellipsoid."
        )
    return frame.combined_factor, frame.ground_origin


def _factors(plan: "pyproj.CRS", longitude: Array, latitude: Array) -> tuple[Array, Array]:
    """Scale factor and convergence at places on the frame's own datum."""
    there = np.isfinite(longitude) & np.isfinite(latitude)
    scale = np.full(longitude.shape, np.nan)
    turn = np.full(longitude.shape, np.nan)
    if there.any():
        found = _projection(plan).get_factors(longitude[there], latitude[there])
        if np.max(np.abs(found.meridional_scale - found.parallel_scale)) > 1e-7:
            raise FrameError(
                "The projection is not conformal: its scale depends on the direction, and one factor cannot say it."
            )
        scale[there] = found.meridional_scale
        turn[there] = found.meridian_convergence
    return scale, turn


@cache
def _projection(plan: "pyproj.CRS") -> "pyproj.Proj":
    return engine.library().Proj(plan)
