"""A design surface that is given as a raster of elevations.

A raster is read as faces: each four neighbouring centres of cells are two of them, so that all that asks a surface asks
one kind of thing. Nothing is extrapolated beyond the outermost centres, and a cell without a number leaves a hole.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import Field

from geoqa.errors import SourceError
from geoqa.model.format import Format
from geoqa.model.source import Evidence, Peek, Reader, Source
from geoqa.model.tables.columns import conform
from geoqa.read.sealed import OFFLINE, refuse_pointers

if TYPE_CHECKING:
    from rasterio.io import DatasetReader

MOST_CELLS = 4_000_000
"""Of a raster: as faces they take some hundred megabytes."""


class DesignRaster(Reader):
    """Elevations of a design surface as a GeoTIFF, in the job's unit of elevations or that of its [[design]].

    Examples
    --------
    >>> DesignRaster().band
    1
    """

    format: ClassVar[Format | None] = Format(
        title="GeoTIFF of elevations of a design surface",
        keeps="the elevation of every centre of a cell, place, coordinate system, holes",
        loses="between centres two faces stand in for a curved patch; the unit of elevations is the job’s word",
    )
    role: ClassVar[str] = "design"

    surface: str = Field("", description="name of the surface; that of the file, if left out")
    band: int = Field(1, ge=1, description="band with the elevations, counted from 1")

    def peek(self, path: Path) -> Peek:
        """Look at size and coordinate system."""
        with _opened(path) as raster:
            return Peek(columns=(), layers=(self._name(path),), crs=_stated(raster), evidence=_evidence(raster))

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole raster.

        Raises
        ------
        SourceError
            It cannot be read, has no place on the ground, is too large, or holds no elevation.
        """
        with _opened(path) as raster:
            values = _elevations(raster, self.band, path.name)
            a, b, c, d, e, f = tuple(raster.transform)[:6]
            crs, evidence = _stated(raster), _evidence(raster)
        points, faces = as_faces(values)
        if not len(faces):
            raise SourceError(f"{path.name}: no four neighbouring cells hold elevations, so there is no surface in it.")
        row, column = points.T
        x, y = column + 0.5, row + 0.5
        place = a * x + b * y + c, d * x + e * y + f
        return Source(
            layers=_tables(self._name(path), source, place, values[row, column], faces),
            crs=crs,
            facts={"holds": f"{len(points):,} cells with an elevation"},
            evidence=evidence,
        )

    def _name(self, path: Path) -> str:
        return self.surface or Path(path).stem


def as_faces(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Cells that hold a number, as rows and columns (p, 2), and faces between their centres (m, 3).

    Examples
    --------
    Where one of four is missing, the other three are one face.

    >>> cells, faces = as_faces(np.array([[1.0, 2.0, 3.0], [4.0, 5.0, np.nan]]))
    >>> cells.tolist(), faces.tolist()
    ([[0, 0], [0, 1], [0, 2], [1, 0], [1, 1]], [[0, 3, 4], [0, 4, 1], [1, 4, 2]])
    """
    there = np.isfinite(values)
    number = np.full(values.shape, -1, dtype=np.int32)
    number[there] = np.arange(int(there.sum()), dtype=np.int32)
    one, two, three, four = number[:-1, :-1], number[:-1, 1:], number[1:, :-1], number[1:, 1:]
    missing = sum((each < 0).astype(int) for each in (one, two, three, four))
    whole = [(one, three, four), (one, four, two)]
    corner = [
        ((one, three, four), two),
        ((one, four, two), three),
        ((three, four, two), one),
        ((one, three, two), four),
    ]
    faces = [np.column_stack([each[missing == 0] for each in face]) for face in whole]
    faces += [np.column_stack([each[(missing == 1) & (lost < 0)] for each in face]) for face, lost in corner]
    return np.argwhere(there), np.concatenate(faces).reshape(-1, 3)


def _tables(name: str, source: str, place: tuple[np.ndarray, ...], elevation: np.ndarray, faces: np.ndarray) -> dict:
    import pandas as pd

    points = {"point": np.arange(len(elevation)), "easting": place[0], "northing": place[1], "elevation": elevation}
    corners = dict(zip(("first", "second", "third"), faces.T, strict=True))
    return {
        table: conform(table, pd.DataFrame(columns).assign(surface=name, source=source))
        for table, columns in (("surface_points", points), ("surface_faces", corners))
    }


@contextmanager
def _opened(path: Path) -> Iterator[DatasetReader]:
    """Open a raster; whatever the library says against it is told with the file's name."""
    import rasterio
    from rasterio.errors import CRSError, NotGeoreferencedWarning, RasterioError

    refuse_pointers(Path(path))
    name = Path(path).name
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # refused here, in words
            with rasterio.Env(GDAL_NUM_THREADS="1", **OFFLINE), rasterio.open(path, driver="GTiff") as raster:
                if raster.transform.is_identity or raster.transform.determinant == 0:
                    raise SourceError(
                        f"{name}: has no place on the ground, neither in the file nor in a world file beside it; "
                        "export it again with its georeference."
                    )
                yield raster
    except (RasterioError, CRSError) as error:
        reason = str(error.__cause__ or error).strip().replace(f"{Path(path).parent}/", "").rstrip(".")
        raise SourceError(
            f"{name}: cannot be read as a GeoTIFF ({reason}); is the file whole? Export it again."
        ) from error


def _elevations(raster: DatasetReader, band: int, name: str) -> np.ndarray:
    if band > raster.count:
        raise SourceError(f"{name}: has {raster.count} of bands, and band = {band} was asked; name one that is there.")
    if raster.width * raster.height > MOST_CELLS:
        raise SourceError(
            f"{name}: {raster.width:,} by {raster.height:,} cells are more than {MOST_CELLS:,}; cut it to the site, or "
            "have it made with larger cells."
        )
    if "complex" in raster.dtypes[band - 1]:
        raise SourceError(
            f"{name}: band {band} holds complex numbers, which are no elevations; name another: band = 2."
        )
    cells = raster.read(band, masked=True)
    values: np.ndarray = np.ma.filled(cells.astype(np.float64), np.nan)
    values = values * raster.scales[band - 1] + raster.offsets[band - 1]
    return np.where(np.isfinite(values), values, np.nan)


def _stated(raster: DatasetReader) -> str | None:
    return str(raster.crs.to_wkt(version="WKT2_2019")) if raster.crs else None


def _evidence(raster: DatasetReader) -> tuple[Evidence, ...]:
    size = f"{raster.width:,} by {raster.height:,} cells"
    because = "four neighbouring centres of cells are two faces; nothing lies beyond the outermost centres"
    return (Evidence(what="surface", answer=size, because=because),)
