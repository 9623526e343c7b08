"""A geoid grid the user brings, believed only after it has reproduced a known value."""

import hashlib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoqa.errors import FrameError
from geoqa.frames.systems import engine
from geoqa.frames.systems.geographic import to_geographic
from geoqa.model.frame import Frame
from geoqa.model.source import Evidence

if TYPE_CHECKING:
    import pyproj

CHECK_LIMIT = 0.005
"""Metres by which the grid may miss its check value: published values are rounded to the millimetre
and interpolated in other ways."""


@dataclass(frozen=True, kw_only=True)
class GeoidGrid:
    """Separation of geoid and ellipsoid from a grid file, on the datum the grid was made for.

    Build it with `open_geoid`, which verifies it.

    Attributes
    ----------
    path : pathlib.Path
    name : str
        For the title block, for example the model's name.
    sha256 : str
        Of the file, for the record.
    check : (latitude, longitude, separation)
        Degrees, degrees and metres, from the publisher of the grid.
    missed_by : float
        Grid minus published value at the check position, metres.
    """

    path: Path
    name: str
    sha256: str
    check: tuple[float, float, float]
    missed_by: float

    def separation(self, longitude: ArrayLike, latitude: ArrayLike) -> NDArray[np.float64]:
        """Height of the geoid above the ellipsoid.

        Parameters
        ----------
        longitude, latitude : array_like, (n,)
            Degrees, east and north positive.

        Returns
        -------
        (n,) array
            N in metres, negative where the geoid is below the ellipsoid; NaN where the position is missing.

        Raises
        ------
        FrameError
            A position lies outside the grid.
        """
        return _separation(self.path, self.name, longitude, latitude)

    def elevation(
        self, frame: Frame, easting: ArrayLike, northing: ArrayLike, ellipsoid_height: ArrayLike
    ) -> NDArray[np.float64]:
        """Elevation from ellipsoid height: ``H = h - N``.

        Parameters
        ----------
        frame : Frame
            On the datum the grid was made for.
        easting, northing, ellipsoid_height : array_like, (n,)
            In the frame's unit.

        Returns
        -------
        (n,) array
            In the frame's unit; NaN where something is missing.
        """
        longitude, latitude = to_geographic(frame, easting, northing)
        return np.asarray(ellipsoid_height, float) - self.separation(longitude, latitude) / frame.unit.metres_float

    def evidence(self) -> Evidence:
        """Which grid this is, and how well it met its check value."""
        latitude, longitude, separation = self.check
        return Evidence(
            what="geoid grid",
            answer=f"{self.name}, {self.path.name}, sha256 {self.sha256[:12]}",
            because=f"at latitude {latitude:g}, longitude {longitude:g} it gives the published separation "
            f"{separation:.3f} m to {abs(self.missed_by):.4f} m",
        )


def open_geoid(path: str | Path, name: str, *, check: tuple[float, float, float]) -> GeoidGrid:
    """Open a geoid grid (GTX or GeoTIFF) and verify it at a published position.

    Parameters
    ----------
    path : path
        The grid file; nothing is fetched.
    name : str
        Name of the geoid model.
    check : (latitude, longitude, separation)
        A published value: degrees north, degrees east (west negative), metres.

    Returns
    -------
    GeoidGrid

    Raises
    ------
    FrameError
        No such file, no such grid, or the grid does not give the published value.
    """
    path = Path(path)
    if not path.is_file():
        raise FrameError(f"Geoid grid '{path.name}' is not there; put the file where the job file says it is.")
    if '"' in str(path):
        raise FrameError(f"Geoid grid '{path.name}': a path with a double quote in it cannot be opened; rename it.")
    latitude, longitude, published = (float(value) for value in check)
    found = float(_separation(path, name, [longitude], [latitude])[0])
    if not abs(found - published) <= CHECK_LIMIT:
        flipped = " It agrees with the sign turned round." if abs(found + published) <= CHECK_LIMIT else ""
        raise FrameError(
            f"Geoid grid '{name}' ({path.name}) gives {found:.4f} m at latitude {latitude:g}, longitude {longitude:g}; "
            f"the job file says {published:.4f} m there (within {CHECK_LIMIT:g} m).{flipped} "
            "Is this the grid the job means, and is the check value geoid above ellipsoid, in metres?"
        )
    return GeoidGrid(
        path=path,
        name=name,
        sha256=hashlib.sha256(path.read_bytes()).hexdigest(),
        check=(latitude, longitude, published),
        missed_by=found - published,
    )


def _separation(path: Path, name: str, longitude: ArrayLike, latitude: ArrayLike) -> NDArray[np.float64]:
    lon, lat = np.broadcast_arrays(np.asarray(longitude, float), np.asarray(latitude, float))
    complete = np.isfinite(lon) & np.isfinite(lat)
    separation = np.full(lon.shape, np.nan)
    if not complete.any():
        return separation
    try:
        pipeline = _pipeline(str(path), path.stat().st_mtime_ns)
        height = pipeline.transform(lon[complete], lat[complete], np.zeros(int(complete.sum())), errcheck=True)[2]
    except engine.library().exceptions.ProjError as error:
        raise FrameError(
            f"Geoid grid '{name}' ({path.name}) cannot be used for all positions; they lie at longitude "
            f"{lon[complete].min():.4f} to {lon[complete].max():.4f}, latitude {lat[complete].min():.4f} to "
            f"{lat[complete].max():.4f}. Does the grid cover them, and is the file whole? The engine says: {error}"
        ) from error
    if not np.isfinite(height).all():
        raise FrameError(
            f"Geoid grid '{name}' ({path.name}) has no value at {int((~np.isfinite(height)).sum())} positions."
        )
    separation[complete] = -np.asarray(height, float)
    return separation


@cache
def _pipeline(path: str, changed: int) -> "pyproj.Transformer":
    # quoted, because a path may hold spaces; `changed` makes a replaced file a new entry of the cache
    return engine.library().Transformer.from_pipeline(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
        f'+step +inv +proj=vgridshift +grids="{path}" +multiplier=1 '
        "+step +proj=unitconvert +xy_in=rad +xy_out=deg"
    )
