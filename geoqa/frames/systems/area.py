"""Whether positions lie where their coordinate system is meant to be used.

A position outside says that something is wrong, never what. Several mistakes look alike from
here, so the message lists what would bring the positions inside and names none as the cause.
"""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoqa.errors import AreaError
from geoqa.frames.systems.definitions import systems
from geoqa.frames.systems.geographic import Extent, text_of, to_geographic
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT
from geoqa.model.source import Evidence

MARGIN = 0.1
"""Degrees beyond the area of use that are still taken as inside: about 11 km north, 8 km east at 45°."""


def outside_area(frame: Frame, easting: ArrayLike, northing: ArrayLike, *, margin: float = MARGIN) -> NDArray[np.bool_]:
    """Positions outside the area of use of the frame's horizontal system.

    Parameters
    ----------
    frame : Frame
    easting, northing : array_like, (n,)
        In the frame's unit.
    margin : float
        Degrees around the area's box that still count as inside.

    Returns
    -------
    (n,) bool array
        False where the position is missing, and everywhere if the system states no area.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> frame = resolve("EPSG:6547")
    >>> outside_area(frame, [2228000.0, 444000.0, float("nan")], [444000.0, 2228000.0, 0.0]).tolist()
    [False, True, False]
    """
    easting, northing = np.broadcast_arrays(np.asarray(easting, float), np.asarray(northing, float))
    use = _area(text_of(frame))
    if use is None:
        return np.zeros(easting.shape, dtype=bool)
    there = np.isfinite(easting) & np.isfinite(northing)
    longitude, latitude = to_geographic(frame, easting, northing)
    if use.west <= use.east:
        across = (longitude >= use.west - margin) & (longitude <= use.east + margin)
    else:  # the box crosses the 180th meridian
        across = (longitude >= use.west - margin) | (longitude <= use.east + margin)
    inside = across & (latitude >= use.south - margin) & (latitude <= use.north + margin)
    return there & ~inside


def check_area(
    frame: Frame,
    easting: ArrayLike,
    northing: ArrayLike,
    *,
    what: str,
    tolerated: float = 0.0,
) -> tuple[Evidence, ...]:
    """Refuse positions outside the area of use, or say that there are a few.

    Parameters
    ----------
    frame : Frame
    easting, northing : array_like, (n,)
        In the frame's unit.
    what : str
        Whose positions these are.
    tolerated : float
        Share of the positions that may lie outside before all are refused (ratio).

    Returns
    -------
    tuple of Evidence
        Empty when nothing lies outside.

    Raises
    ------
    AreaError
        More than the tolerated share lies outside.
    """
    easting, northing = np.broadcast_arrays(np.asarray(easting, float), np.asarray(northing, float))
    outside = outside_area(frame, easting, northing)
    count = int(outside.sum())
    positioned = int((np.isfinite(easting) & np.isfinite(northing)).sum())
    use = _area(text_of(frame))
    if count == 0 or use is None:
        return ()
    row = int(np.flatnonzero(outside)[0])
    said = (
        f"{count} of {positioned} positions lie outside the area of use of {frame.horizontal_name} "
        f"(longitude {use.west:g} to {use.east:g}, latitude {use.south:g} to {use.north:g}, and {MARGIN:g}° around); "
        f"the first is row {row + 1}: easting {easting[row]:.3f}, northing {northing[row]:.3f}"
    )
    if count > tolerated * positioned:
        raise AreaError(f"{what}: {said}. {_possible(frame, easting, northing)}")
    return (Evidence(what="positions outside the area of use", answer=str(count), because=f"{what}: {said}"),)


def _possible(frame: Frame, easting: NDArray[np.float64], northing: NDArray[np.float64]) -> str:
    """Name the readings that would put more positions inside: possible, not proven."""
    there = np.isfinite(easting) & np.isfinite(northing)
    readings = {
        "easting and northing swapped": (northing, easting),
        "metres taken for feet": tuple(each / FOOT.metres_float for each in (easting, northing)),
        "feet taken for metres": tuple(each * FOOT.metres_float for each in (easting, northing)),
    }
    inside = {
        name: int((there & ~outside_area(frame, first, second)).sum()) for name, (first, second) in readings.items()
    }
    fitting = [f"{name} ({number} of {int(there.sum())} would lie inside)" for name, number in inside.items() if number]
    fitting += ["another zone or coordinate system", "ground or local coordinates"]
    return (
        f"Possible causes, none of them proven: {'; '.join(fitting)}. "
        "(The other foot moves positions by a few feet and cannot show here.) "
        "Check its columns, its unit, and the frame that is stated for it."
    )


@cache
def _area(text: str) -> Extent | None:
    return systems(text)[0].area_of_use
