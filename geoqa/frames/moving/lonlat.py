"""Positions as longitude and latitude for maps, GeoJSON and links: to look at, never to measure.

A web map labels its coordinates WGS 84. Between a US frame and WGS 84 the known operation is a
null operation that is good to metres; the number stands beside every such output.
"""

from functools import cache

from numpy.typing import ArrayLike

from geoqa.errors import FrameError
from geoqa.frames.moving.operations import Operation, pick
from geoqa.frames.systems import engine
from geoqa.frames.systems.definitions import systems
from geoqa.frames.systems.geographic import Pair, text_of
from geoqa.model.frame import Frame

DISPLAY = "EPSG:4326"
"""WGS 84: what RFC 7946 and the ``geo:`` links of RFC 5870 expect."""


def to_lonlat(frame: Frame, easting: ArrayLike, northing: ArrayLike) -> Pair:
    """Longitude and latitude, labelled WGS 84, for display.

    Parameters
    ----------
    frame : Frame
    easting, northing : array_like, (n,)
        In the frame's unit, on the grid.

    Returns
    -------
    longitude, latitude : (n,) arrays
        Degrees, east and north positive; NaN where a position is missing or cannot be shown.

    Raises
    ------
    FrameError
        There is no known operation from the frame to WGS 84.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> lon, lat = to_lonlat(resolve("EPSG:6547"), [1968503.937], [0.0])
    >>> round(float(lon[0]), 6), round(float(lat[0]), 6)
    (-100.5, 45.666667)
    """
    return display_operation(frame).apply(easting, northing, what="map display", strict=False, epoch=frame.epoch)


def display_operation(frame: Frame) -> Operation:
    """Give the operation behind `to_lonlat`, with its stated accuracy in metres.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> display_operation(resolve("EPSG:6547")).accuracy
    2.0
    """
    return _operation(text_of(frame))


def on_earth(frame: Frame) -> bool:
    """Whether a way to longitude and latitude is known; a grid of the site's own, on a datum of its own, has none.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> on_earth(resolve("EPSG:6547"))
    True
    """
    try:
        display_operation(frame)
    except FrameError:
        return False
    return True


@cache
def _operation(text: str) -> Operation:
    plan = systems(text)[0]
    use = plan.area_of_use
    area = None if use is None or use.west > use.east else (use.west, use.south, use.east, use.north)
    # to look at a place, the best operation that is there will do; its accuracy is printed
    return pick(text, engine.crs(DISPLAY).to_wkt(), what="map display", area=area, accept_second_best=True)
