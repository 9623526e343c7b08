"""The one door to the coordinate-system library: always offline, its database named, its surroundings watched.

Every other module of this room asks here, so that no run ever fetches a grid and every record
says which database answered.
"""

import os
import threading
from functools import cache
from typing import TYPE_CHECKING, Any

from geoqa.errors import FrameError

if TYPE_CHECKING:
    import pyproj

FOREIGN_DATA = ("PROJ_DATA", "PROJ_LIB")
"""Environment variables through which another installation can replace the coordinate-system database."""


_thread = threading.local()


def library() -> Any:
    """Give the coordinate-system library, with its network access switched off.

    The library keeps that switch per thread, and an environment variable can turn it on, so it
    is set once in every thread that asks.
    """
    import pyproj
    import pyproj.network

    if not getattr(_thread, "offline", False):
        pyproj.network.set_network_enabled(False)
        _thread.offline = True
    return pyproj


@cache
def crs(text: str) -> "pyproj.CRS":
    """Build a coordinate system from a code or WKT that is known to be good.

    Raises
    ------
    FrameError
        The text is no coordinate system; the library's own reason is kept.
    """
    pyproj = library()
    try:
        return pyproj.CRS.from_user_input(text)
    except pyproj.exceptions.CRSError as error:
        raise FrameError(f"'{text[:60]}' is not a coordinate system: {error}") from error


@cache
def database() -> str:
    """Version of the coordinate-system database and of the engine.

    Examples
    --------
    >>> database().startswith("EPSG v")
    True
    """
    pyproj = library()
    version = pyproj.database.get_database_metadata("EPSG.VERSION") or "of unknown version"
    return f"EPSG {version}, PROJ {pyproj.proj_version_str}"


def foreign_data() -> tuple[str, ...]:
    """Names of set environment variables that can bring in another installation's database.

    Examples
    --------
    >>> all(name in FOREIGN_DATA for name in foreign_data())
    True
    """
    return tuple(name for name in FOREIGN_DATA if os.environ.get(name))
