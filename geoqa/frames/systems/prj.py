"""A coordinate system as the older text that a shapefile's ``.prj`` holds."""

from geoqa.errors import FrameError
from geoqa.frames.systems import engine
from geoqa.model.frame import Frame


def wkt_esri(frame: Frame) -> str:
    """Write a frame's horizontal system as WKT 1 in the ESRI dialect, on one line.

    Raises
    ------
    FrameError
        The system cannot be said in that dialect.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> wkt_esri(resolve("EPSG:6547"))[-20:]
    'UNIT["foot",0.3048]]'
    """
    from pyproj.exceptions import CRSError

    try:
        text = engine.crs(frame.horizontal_wkt).to_wkt("WKT1_ESRI")
    except CRSError as error:
        raise FrameError(f"{frame.horizontal_name} cannot be written for a shapefile: {error}") from error
    return str(text)
