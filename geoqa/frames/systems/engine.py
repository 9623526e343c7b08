"""The one door to the coordinate-system library: always offline, its database named, its surroundings watched.

Every other module of this room asks here, so that no run ever fetches a grid, every record says
which database answered, and a position that cannot be moved is never an infinity that looks like one.
"""

import os
import threading
from functools import cache
from types import ModuleType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoqa.errors import FrameError

if TYPE_CHECKING:
    import pyproj

FOREIGN_DATA = ("PROJ_DATA", "PROJ_LIB")
"""Environment variables through which another installation can replace the coordinate-system database."""

_thread = threading.local()


def library() -> ModuleType:
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


def move(
    transformer: "pyproj.Transformer",
    first: ArrayLike,
    second: ArrayLike,
    *,
    what: str,
    strict: bool = True,
    epoch: float | None = None,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Put positions through a transformer; a missing position stays missing.

    Parameters
    ----------
    transformer : pyproj.Transformer
        With east or longitude first on both sides.
    first, second : array_like, (n,)
        Easting and northing, or longitude and latitude.
    what : str
        Whose positions these are, for messages.
    strict : bool
        False gives NaN where the engine cannot place a position; True raises.
    epoch : float, optional
        Decimal year of the coordinates, for operations that move with time.

    Returns
    -------
    two arrays, (n,)

    Raises
    ------
    FrameError
        With `strict`, when a position lies where the operation is not defined.
    """
    one, two = np.broadcast_arrays(np.asarray(first, float), np.asarray(second, float))
    complete = np.isfinite(one) & np.isfinite(two)
    moved = np.full((2, *one.shape), np.nan)
    if not complete.any():
        return moved[0], moved[1]
    one, two = one[complete], two[complete]
    try:
        if epoch is None:
            answer: tuple[ArrayLike, ...] = transformer.transform(one, two, errcheck=strict)
        else:
            when = np.full(len(one), epoch)
            answer = transformer.transform(one, two, np.zeros(len(one)), when, errcheck=strict)
    except library().exceptions.ProjError as error:
        raise FrameError(f"{what}: a position lies where the coordinate operation is not defined: {error}") from error
    pair = np.stack([np.asarray(answer[0], float), np.asarray(answer[1], float)])
    bad = ~np.isfinite(pair).all(axis=0)
    if bad.any():
        if strict:
            where = np.flatnonzero(bad)[0]
            raise FrameError(
                f"{what}: {int(bad.sum())} positions lie where the coordinate operation is not defined; "
                f"the first is {one[where]:.3f}, {two[where]:.3f}."
            )
        pair[:, bad] = np.nan
    moved[:, complete] = pair
    return moved[0], moved[1]
