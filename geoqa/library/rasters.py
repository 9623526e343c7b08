"""Elevations of a design that is given as a raster."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from geoqa.errors import FrameError, LayerError, QuantityError, SourceError
from geoqa.frames.systems.definitions import linear_unit, systems
from geoqa.frames.systems.projection import same_projection
from geoqa.kernels.arrays import Floats
from geoqa.kernels.design.grid_elevation import grid_elevation, grid_places
from geoqa.library.shapes import places_of, series_of
from geoqa.library.systems import projected
from geoqa.model.quantity import FRAME_UNITS, LengthUnit

if TYPE_CHECKING:
    from rasterio.io import DatasetReader

    from geoqa.library.accepted import Placed

FORMATS = {".asc": "AAIGrid", ".bil": "EHdr", ".img": "HFA"}
"""Driver of a suffix; any other name is opened as a GeoTIFF. Files of other formats could name data on a network."""
_TILE = 1024
"""Cells of a side that are read at once: a raster may be larger than the memory."""


def design_elevation(
    points: Placed, raster: str | Path | DatasetReader, *, vertical_unit: str, band: int = 1
) -> pd.Series[float]:
    """Elevation of a design raster at every point.

    Parameters
    ----------
    points : GeoDataFrame or GeoSeries
        Points in a projected system; their own elevations are not used.
    raster : str, Path or open rasterio dataset
        A grid of elevations (GeoTIFF, ``.img``, ``.asc``, ``.bil``) in the projected system of `points`, in the same
        foot; it may be turned. An open dataset may be of any format, and stays open.
    vertical_unit : {"m", "ft", "ftUS"}
        Unit of the elevations in the raster, which hardly any file states.
    band : int
        Band of the raster, counted from 1.

    Returns
    -------
    Series
        ``design_elevation``, float64, on the index of `points`, in the unit of their elevations: that of the vertical
        part of their system, or else of its plan. NaN for a point without a place, beyond the outermost centres of
        cells (nothing is extrapolated, be it by half a cell), and where one of the cells around it holds no data.

    Raises
    ------
    FrameError
        Points or raster have no system, or not the same one; or heights in the system of the raster contradict
        `vertical_unit`, or those of the points' system.
    GeometryInputError
        A row holds something other than a point.
    LayerError
        There is no such band, or it holds no elevations.
    QuantityError
        `vertical_unit` is no unit of elevations.
    SourceError
        The raster cannot be read, or has no place on the ground.

    Notes
    -----
    The kernel `geoqa.kernels.design.grid_elevation`: bilinear between the centres of the four cells around a point,
    in float64; a place at a centre has that cell's value. Scale and offset of the band are applied. A value that the
    file does not declare as missing is an elevation.

    Examples
    --------
    Four cells of 10 by 10 ft that rise to the east by 1 ft a cell; the second point lies off the grid.

    >>> import geopandas, numpy as np, geoqa
    >>> from rasterio import Affine, MemoryFile
    >>> shots = geopandas.GeoSeries.from_wkt(["POINT (2228010 443990)", "POINT (2228050 443990)"], crs="EPSG:6547")
    >>> with MemoryFile() as memory:
    ...     with memory.open(driver="GTiff", width=2, height=2, count=1, dtype="float32", crs="EPSG:6547",
    ...                      transform=Affine(10, 0, 2228000, 0, -10, 444000)) as made:
    ...         made.write(np.array([[100.0, 101.0], [100.0, 101.0]], dtype="float32"), 1)
    ...     with memory.open() as design:
    ...         print(geoqa.design_elevation(shots, design, vertical_unit="ft"))
    0    100.5
    1      NaN
    Name: design_elevation, dtype: float64
    """
    series = series_of(points, what="points")
    own = projected(series, what="points")
    unit = _unit(vertical_unit)
    places = places_of(series)
    with _opened(raster) as grid:
        _refuse_unplaced(grid)
        _refuse_band(grid, band)
        _refuse_other_system(own, grid, unit)
        elevation = _elevations(grid, band, places)
    wanted = _height_unit(own)
    if wanted != unit:
        elevation = elevation * float(unit.metres / wanted.metres)
    return pd.Series(elevation, index=series.index, name="design_elevation")


def _unit(name: Any) -> LengthUnit:
    for unit in FRAME_UNITS:
        if unit.name == name:
            return unit
    raise QuantityError(
        f"vertical_unit is {name!r}; say in which unit the elevations of the raster are: ft (international foot), "
        "ftUS (US survey foot) or m."
    )


@contextmanager
def _opened(raster: Any) -> Iterator[DatasetReader]:
    """The dataset as it was given, or opened for a while; whatever the library says against it is told by its name."""
    import rasterio
    from rasterio.errors import CRSError, NotGeoreferencedWarning, RasterioError

    try:
        if hasattr(raster, "read") and hasattr(raster, "transform"):
            if raster.closed:
                raise SourceError(f"{_name(raster)}: is closed; give the dataset while it is open, or its path.")
            yield raster
            return
        path = _path(raster)
        driver = FORMATS.get(path.suffix.lower(), "GTiff")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # refused here, in words
            with rasterio.Env(PROJ_NETWORK="OFF", GDAL_NUM_THREADS="1"), rasterio.open(path, driver=driver) as grid:
                yield grid
    except (RasterioError, CRSError) as error:
        path = Path(str(raster.name if hasattr(raster, "read") else _path(raster)))
        reason = str(error.__cause__ or error).strip().replace(f"{path.parent}/", "").rstrip(".")
        raise SourceError(
            f"{path.name}: cannot be read as a raster ({reason}). Known are GeoTIFF, HFA (.img), ASCII grid (.asc) "
            "and EHdr (.bil); is the file whole? Any other can be given as an open rasterio dataset."
        ) from error


def _path(raster: Any) -> Path:
    if not isinstance(raster, str | Path):
        raise SourceError(
            f"raster is a {type(raster).__name__}; give the path of a file, or a dataset that rasterio.open gave."
        )
    path = Path(raster)
    if not path.is_file():
        raise SourceError(f"raster: there is no file '{path.name}' there; give the path of a grid on this disk.")
    return path.absolute()


def _name(grid: Any) -> str:
    return Path(str(grid.name)).name


def _refuse_unplaced(grid: DatasetReader) -> None:
    if grid.transform.is_identity or grid.transform.determinant == 0:
        raise SourceError(
            f"{_name(grid)}: has no place on the ground, neither in the file nor in a world file beside it; export it "
            "again with its georeference."
        )


def _refuse_band(grid: DatasetReader, band: Any) -> None:
    if isinstance(band, bool) or not isinstance(band, int | np.integer) or not 1 <= band <= grid.count:
        raise LayerError(
            f"band is {band!r}, and {_name(grid)} has {grid.count} of them, counted from 1; name the one with the "
            "elevations."
        )
    if "complex" in grid.dtypes[band - 1]:
        raise LayerError(f"band {band} of {_name(grid)} holds complex numbers, which are no elevations; name another.")


def _refuse_other_system(own: str, grid: DatasetReader, unit: LengthUnit) -> None:
    """Refuse a raster in another system than the points, and heights that contradict each other."""
    name = _name(grid)
    if not grid.crs:
        raise FrameError(
            f"{name}: has no coordinate system, so nobody knows where its cells lie; state the one it was made in in a "
            "copy of the file: rasterio.open(copy, 'r+').crs = 'EPSG:6547' only names it and moves nothing."
        )
    theirs = str(grid.crs.to_wkt(version="WKT2_2019"))
    (plan, height), (their_plan, their_height) = systems(own), systems(theirs, f"The system of {name}:")
    foot, their_foot = linear_unit(plan, what="The system of points"), linear_unit(their_plan, what=name)
    if foot != their_foot or not same_projection(own, theirs):
        raise FrameError(
            f"points are in {plan.name} ({foot.full_name}), {name} in {their_plan.name} ({their_foot.full_name}); "
            "bring the points into the system of the raster with geoqa.convert, or have the raster made in theirs."
        )
    if their_height is None:
        return
    stated = linear_unit(their_height, what=name)
    if stated != unit:
        raise FrameError(
            f"{name}: its system has heights in {stated.name} ({their_height.name}), and vertical_unit is {unit.name}; "
            "find out which of them is true, and say that."
        )
    if height is not None and not _same_surface(height, their_height):
        raise FrameError(
            f"points have elevations in {height.name}, {name} in {their_height.name}; bring one of the two into the "
            "system of the other first, so that the difference is one of height."
        )


def _same_surface(one: Any, other: Any) -> bool:
    """Whether two vertical systems count from one surface, be it in two units."""
    if one.equals(other):
        return True
    if one.datum is None or other.datum is None:
        return False
    return bool(one.datum.name.casefold() == other.datum.name.casefold())


def _height_unit(own: str) -> LengthUnit:
    """Unit of the elevations of points."""
    plan, height = systems(own)
    return linear_unit(plan if height is None else height, what="The system of points")


def _elevations(grid: DatasetReader, band: int, places: Floats) -> Floats:
    """Elevations at places, (n,), tile by tile; in the unit of the raster."""
    column, row = grid_places(places, tuple(grid.transform)[:6]).T
    with np.errstate(invalid="ignore"):
        inside = (column >= 0) & (column <= grid.width - 1) & (row >= 0) & (row <= grid.height - 1)
    found = np.full(len(places), np.nan)
    rows = np.flatnonzero(inside)
    across = -(-grid.width // _TILE)
    tile = (row[rows] // _TILE).astype(np.int64) * across + (column[rows] // _TILE).astype(np.int64)
    order = np.argsort(tile, kind="stable")
    for mine in np.split(rows[order], np.flatnonzero(np.diff(tile[order])) + 1):
        if not len(mine):
            continue
        top, left = (int(each[mine[0]] // _TILE) * _TILE for each in (row, column))
        values = _block(grid, band, top, left)
        found[mine] = grid_elevation(column[mine] - left, row[mine] - top, values)
    return found


def _block(grid: DatasetReader, band: int, top: int, left: int) -> Floats:
    """Cells of a tile and the first row and column of the next ones, in float64; missing is NaN."""
    window = ((top, min(top + _TILE + 1, grid.height)), (left, min(left + _TILE + 1, grid.width)))
    cells = grid.read(band, window=window, masked=True)
    values: Floats = np.ma.filled(cells.astype(np.float64), np.nan)
    values = values * grid.scales[band - 1] + grid.offsets[band - 1]
    return np.where(np.isfinite(values), values, np.nan)
