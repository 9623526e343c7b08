"""An orthophoto or design raster as a picture in the job's grid: read coarsely, warped, encoded small.

Only the part the map needs is read, in windows no finer than it can be shown. A file is opened as
what its name says and as nothing else, because a raster may otherwise be a recipe that opens other
files or a network.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from geoqa.errors import SourceError
from geoqa.frames.moving.picture import picture_frame
from geoqa.model.background import BackgroundReader, Box, Picture
from geoqa.model.format import Format
from geoqa.model.frame import Frame
from geoqa.model.source import Evidence, Peek, Source
from geoqa.read import pixels
from geoqa.read.sealed import OFFLINE, refuse_pointers

if TYPE_CHECKING:
    from numpy.typing import ArrayLike
    from rasterio import Affine
    from rasterio.crs import CRS
    from rasterio.io import DatasetReader
    from rasterio.windows import Window

FORMATS = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG", ".jp2": "JP2OpenJPEG"}
"""Driver of a suffix; any other name is opened as a GeoTIFF."""
MOST_PIXELS = 4_000_000
"""Of the picture: what a phone still draws without delay."""
LONGEST_SIDE = 12_000
"""Pixels: the format holds 16,383."""
MOST_BYTES = 2_250_000
"""Of the encoded picture: 3 MB of text in the page."""
MOST_READ = 2_000_000_000
"""Pixels of a file without overviews that are read to show the job."""
QUALITIES = (85, 70, 55)
"""Tried in turn; what is still too large after the last is made coarser."""
DIGITS = 9
"""Of the side of a pixel; what lies beyond is noise of coordinates in millions of feet."""
STRIP = 64
"""Rows of blocks of a palette file that are averaged at a time."""


class BackgroundRaster(BackgroundReader):
    """A GeoTIFF, or a PNG, JPEG or JPEG 2000 with a world file beside it.

    Examples
    --------
    >>> BackgroundRaster.role
    'background'
    """

    format: ClassVar[Format | None] = Format(
        title="GeoTIFF, or PNG, JPEG, JPEG 2000 with a world file, as a picture under the map",
        keeps="place and colours, warped to the job’s grid",
        loses="values of more than eight bits; nothing is measured on it",
    )

    def peek(self, path: Path) -> Peek:
        """Look at size, place and coordinate system."""
        with _opened(path) as raster:
            return Peek(columns=(), crs=_stated(raster), evidence=_evidence(raster))

    def read(self, path: Path, *, source: str) -> Source:
        """Give what the file says of itself; its pixels are for `picture`."""
        with _opened(path) as raster:
            facts = {"format": raster.driver, "bands": str(raster.count), "values": raster.dtypes[0]}
            return Source(layers={}, crs=_stated(raster), facts=facts, evidence=_evidence(raster))

    def beside(self, path: Path) -> tuple[Path, ...]:
        """Other files the library reads together with it."""
        with _opened(path) as raster:
            return tuple(sorted(Path(each) for each in raster.files if Path(each).name != Path(path).name))

    def picture(self, path: Path, *, frame: Frame, box: Box, declared: str | None, accept: bool, what: str) -> Picture:
        """See `BackgroundReader.picture`."""
        with _opened(path) as raster:
            settled = picture_frame(frame, stated=_stated(raster), declared=declared, accept=accept, what=what)
            ground = _Ground(raster, settled.wkt, frame.horizontal_wkt)
            seen = _overlap(ground, box, frame, what)
            own = ground.pixel(seen)
            least = max(own, math.sqrt((seen[2] - seen[0]) * (seen[3] - seen[1]) / MOST_PIXELS))
            pixel = max(least, (seen[2] - seen[0]) / LONGEST_SIDE, (seen[3] - seen[1]) / LONGEST_SIDE)
            made = _small_enough(ground, seen, pixel, what)
        return Picture(own_pixel=own, evidence=settled.evidence, **made)


@contextmanager
def _opened(path: Path) -> Iterator[DatasetReader]:
    """Open a raster; whatever the library says against it is told with the file's name."""
    import rasterio
    from rasterio.errors import CRSError, NotGeoreferencedWarning, RasterioError

    name, driver = Path(path).name, FORMATS.get(Path(path).suffix.lower(), "GTiff")
    refuse_pointers(Path(path))
    options = {"GDAL_ERROR_ON_LIBJPEG_WARNING": "YES", "GDAL_NUM_THREADS": "1", **OFFLINE}
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # refused here, in words
            with rasterio.Env(**options), rasterio.open(path, driver=driver) as raster:
                _check_placed(raster, name)
                yield raster
    except (RasterioError, CRSError) as error:
        reason = str(error.__cause__ or error).strip().replace(str(Path(path).parent), "").rstrip(".")
        raise SourceError(
            f"{name}: cannot be read as a picture ({reason}). Known are GeoTIFF, PNG, JPEG and JPEG 2000; "
            "is the file whole?"
        ) from error


def _check_placed(raster: DatasetReader, name: str) -> None:
    if raster.transform.is_identity or abs(raster.transform.determinant) == 0:
        raise SourceError(
            f"{name}: has no place on the ground: neither tags of a GeoTIFF nor a world file "
            "(.tfw, .pgw, .jgw) beside it. Export it again with its georeference."
        )
    if "complex" in raster.dtypes[0]:
        raise SourceError(f"{name}: holds complex numbers, which are no picture.")


def _stated(raster: DatasetReader) -> str | None:
    """Coordinate system the file states, as text."""
    return str(raster.crs.to_wkt(version="WKT2_2019")) if raster.crs else None


def _evidence(raster: DatasetReader) -> tuple[Evidence, ...]:
    size = f"{raster.width:,} by {raster.height:,} pixels, {raster.count} band{'s' * (raster.count > 1)}"
    return (Evidence(what="picture", answer=size, because=f"{raster.driver}, values {raster.dtypes[0]}"),)


class _Ground:
    """An open raster between its pixels and the job's grid."""

    def __init__(self, raster: DatasetReader, system: str, grid: str) -> None:
        from rasterio.crs import CRS

        self.raster = raster
        self.grid = CRS.from_wkt(grid)
        self.system = self.grid if system == grid else CRS.from_wkt(system)

    def to_grid(self, column: ArrayLike, row: ArrayLike) -> np.ndarray:
        """Easting and northing, (2, n), of places counted in pixels from the outer corner."""
        return self._moved(self.system, self.grid, *(self.raster.transform @ (column, row)))

    def to_pixels(self, easting: ArrayLike, northing: ArrayLike) -> np.ndarray:
        """Column and row, (2, n), of places of the grid."""
        there = self._moved(self.grid, self.system, easting, northing)
        return np.array(~self.raster.transform @ (there[0], there[1]))

    @staticmethod
    def _moved(source: CRS, target: CRS, first: ArrayLike, second: ArrayLike) -> np.ndarray:
        from rasterio.warp import transform

        if source is target:
            return np.array([first, second], float)
        return np.array(transform(source, target, np.asarray(first, float), np.asarray(second, float)))

    def box(self) -> Box:
        """What the whole raster covers of the grid."""
        places = self.to_grid(*_rim(0.0, 0.0, self.raster.width, self.raster.height))
        return _box(places[:, np.isfinite(places).all(axis=0)])

    def pixel(self, box: Box) -> float:
        """Side of a square as large as a pixel in the middle of a box, in the grid's unit."""
        column, row = self.to_pixels([(box[0] + box[2]) / 2], [(box[1] + box[3]) / 2])[:, 0]
        places = self.to_grid(np.array([column, column + 1, column]), np.array([row, row, row + 1]))
        across, down = places[:, 1] - places[:, 0], places[:, 2] - places[:, 0]
        side = math.sqrt(abs(across[0] * down[1] - across[1] * down[0]))
        return float(f"{side:.{DIGITS}g}")


def _rim(west: float, south: float, east: float, north: float, places: int = 33) -> tuple[np.ndarray, np.ndarray]:
    """Places along the four sides of a box."""
    ticks = np.linspace(0, 1, places)
    across, up = west + ticks * (east - west), south + ticks * (north - south)
    first = np.concatenate([across, across, np.full(places, west), np.full(places, east)])
    second = np.concatenate([np.full(places, south), np.full(places, north), up, up])
    return first, second


def _box(places: np.ndarray) -> Box:
    if places.size == 0:
        return math.inf, math.inf, -math.inf, -math.inf
    return tuple(float(each) for each in (*places.min(axis=1), *places.max(axis=1)))  # type: ignore[return-value]


def _overlap(ground: _Ground, box: Box, frame: Frame, what: str) -> Box:
    covered = ground.box()
    seen = (*map(max, box[:2], covered[:2]), *map(min, box[2:], covered[2:]))
    if seen[0] >= seen[2] or seen[1] >= seen[3]:
        unit = frame.unit.name
        raise SourceError(
            f"{what}: shows nothing of this job: it covers {_words(covered)} {unit} of the job's grid, the job lies in "
            f"{_words(box)} {unit}. Is it of another place, in another zone, or in another unit than it states? "
            "Correct it, or take [background] out of the job file."
        )
    return seen  # type: ignore[return-value]


def _words(box: Box) -> str:
    return f"E {box[0]:.0f} to {box[2]:.0f}, N {box[1]:.0f} to {box[3]:.0f}"


def _small_enough(ground: _Ground, seen: Box, pixel: float, what: str) -> dict[str, Any]:
    """Place, size and bytes of the finest picture that fits."""
    while True:
        west, north = math.floor(seen[0] / pixel) * pixel, math.ceil(seen[3] / pixel) * pixel
        width, height = math.ceil((seen[2] - west) / pixel), math.ceil((north - seen[1]) / pixel)
        colours, told = _warped(ground, (west, north, pixel), (height, width), what)
        for quality in QUALITIES:
            data = _encoded(colours, quality)
            if len(data) <= MOST_BYTES:
                place = {"west": west, "north": north, "pixel": pixel, "width": width, "height": height}
                return {**place, "media": "image/webp", "data": data, "remarks": told}
        pixel *= 1.25


def _warped(
    ground: _Ground, place: tuple[float, float, float], shape: tuple[int, int], what: str
) -> tuple[pixels.Bytes, tuple[str, ...]]:
    """Colours (3 or 4, height, width) on the job's grid, and what was done to the values."""
    from rasterio import Affine
    from rasterio.warp import Resampling, reproject

    west, north, pixel = place
    height, width = shape
    source, transform, told = _read(ground, (west, north - height * pixel, west + width * pixel, north), pixel, what)
    made = np.zeros((4, *shape), np.uint8)
    reproject(
        source,
        made,
        src_transform=transform,
        src_crs=ground.system,
        dst_transform=Affine(pixel, 0, west, 0, -pixel, north),
        dst_crs=ground.grid,
        resampling=Resampling.bilinear,
        num_threads=1,
    )
    if not made[3].any():
        raise SourceError(f"{what}: holds no data where the job lies. Take [background] out of the job file.")
    return pixels.plain(made), told


def _read(ground: _Ground, box: Box, pixel: float, what: str) -> tuple[pixels.Bytes, Affine, tuple[str, ...]]:
    """The part of the file behind a box, no finer than `pixel` needs: weighted colours, their transform, and notes."""
    from rasterio import Affine
    from rasterio.windows import Window

    raster = ground.raster
    left, top, right, bottom = _box(ground.to_pixels(*_rim(*box)))
    left, top = max(0, math.floor(left) - 2), max(0, math.floor(top) - 2)
    right, bottom = min(raster.width, math.ceil(right) + 2), min(raster.height, math.ceil(bottom) + 2)
    window = Window(left, top, right - left, bottom - top)
    factor = max(1, math.floor(pixel / ground.pixel(box) + 1e-6))
    if window.width * window.height > MOST_READ and not raster.overviews(1):
        raise SourceError(
            f"{what}: {window.width * window.height / 1e9:.1f} thousand million pixels lie over the job, and the file "
            "has no overviews. Add overviews to it, or cut it to the site."
        )
    table = _table(raster)
    if table is None:
        colours, told = _bands(raster, window, factor)
        scale = Affine.scale(window.width / colours.shape[2], window.height / colours.shape[1])
    else:
        colours, told = _indexed(raster, table, window, factor), ()
        scale = Affine.scale(factor)
    return colours, raster.transform @ Affine.translation(left, top) @ scale, told


def _table(raster: DatasetReader) -> pixels.Bytes | None:
    """Table of colours of a file that has a palette, or only a few bits a pixel as scanned drawings do."""
    from rasterio.enums import ColorInterp

    if raster.colorinterp[0] == ColorInterp.palette:
        return pixels.palette(raster.colormap(1))
    bits = int(raster.tags(1, ns="IMAGE_STRUCTURE").get("NBITS", 8))
    if raster.count > 1 or bits >= 8:
        return None
    most = 2**bits - 1
    return pixels.palette({value: (value * 255 // most,) * 3 for value in range(most + 1)})


def _indexed(raster: DatasetReader, table: pixels.Bytes, window: Window, factor: int) -> pixels.Bytes:
    """Colours of such a file: averaged as colours, strip by strip; the numbers of a palette have no mean."""
    from rasterio.windows import Window

    strips = []
    for top in range(0, int(window.height), factor * STRIP):
        rows = min(factor * STRIP, int(window.height) - top)
        part = Window(window.col_off, window.row_off + top, window.width, rows)
        colours = pixels.coloured(raster.read(1, window=part), table, raster.dataset_mask(window=part))
        strips.append(pixels.block_means(colours, factor))
    return np.concatenate(strips, axis=1)


def _bands(raster: DatasetReader, window: Window, factor: int) -> tuple[pixels.Bytes, tuple[str, ...]]:
    """Colours of a file whose bands are brightness or colour."""
    from rasterio.enums import Resampling

    shown, told = _chosen(raster)
    shape = (math.ceil(window.height / factor), math.ceil(window.width / factor))
    how = Resampling.average if factor > 1 else Resampling.nearest
    values = raster.read(shown, window=window, out_shape=(len(shown), *shape), resampling=how)
    alpha = raster.dataset_mask(window=window, out_shape=shape)
    alpha = np.where(np.isfinite(values).all(axis=0), alpha, 0).astype(np.uint8)
    if values.dtype != np.uint8:
        values, said = pixels.stretched(values, alpha > 0)
        told = (*told, said)
    return pixels.weighted(np.broadcast_to(values, (3, *shape)), alpha), told


def _chosen(raster: DatasetReader) -> tuple[list[int], tuple[str, ...]]:
    """Numbers of the bands that are shown, red first or one for grey, and what is left out."""
    from rasterio.enums import ColorInterp

    means = list(raster.colorinterp)
    colours = (ColorInterp.red, ColorInterp.green, ColorInterp.blue)
    every = [number for number, each in enumerate(means, 1) if each != ColorInterp.alpha]
    if all(each in means for each in colours):
        shown = [means.index(each) + 1 for each in colours]
    else:
        shown = every[:3] if len(every) >= 3 else every[:1]
    left = [str(number) for number in every if number not in shown]
    return shown, (f"band{'s' * (len(left) > 1)} {', '.join(left)} not shown",) if left else ()


def _encoded(colours: pixels.Bytes, quality: int) -> bytes:
    from rasterio.io import MemoryFile

    count, height, width = colours.shape
    shape = {"count": count, "height": height, "width": width, "dtype": "uint8"}
    with MemoryFile() as memory:
        with memory.open(driver="WEBP", QUALITY=quality, **shape) as out:
            out.write(colours)
        return bytes(memory.read())
