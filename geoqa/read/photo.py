"""Photos that shots name, small: pixels alone, so that a copy says neither where nor when it was taken."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from geoqa.errors import SourceError
from geoqa.model.format import Format
from geoqa.model.photos import PhotoReader
from geoqa.model.source import Evidence, Peek, Source
from geoqa.read.sealed import OFFLINE, refuse_pointers

if TYPE_CHECKING:
    from rasterio.io import DatasetReader

DRIVERS = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG"}
QUALITY = 70
MOST_PIXELS = 400_000_000
"""Of a photo that is made small: a larger one is no photo of a crew."""
_TURNS = {3: (2, False), 6: (3, False), 8: (1, False), 2: (0, True), 4: (2, True), 5: (3, True), 7: (1, True)}
"""Quarter turns to the left, and whether left and right change places, by the tag Orientation (Exif 2.32, 4.6.4)."""


class PhotoFile(PhotoReader):
    """A JPEG or PNG that shots name.

    Examples
    --------
    >>> PhotoFile.role
    'photo'
    """

    format: ClassVar[Format | None] = Format(
        title="JPEG or PNG that shots name, linked in the map and, if asked for, small in it",
        keeps="what is seen on it, upright",
        loses="in the small copy everything but its pixels: place, time, camera; the file itself is never changed",
    )

    def peek(self, path: Path) -> Peek:
        """Look at its size."""
        with _opened(Path(path)) as photo:
            size = f"{photo.width:,} by {photo.height:,} pixels"
            return Peek(columns=(), evidence=(Evidence(what="photo", answer=size, because=photo.driver),))

    def read(self, path: Path, *, source: str) -> Source:
        """Give what it is; a photo holds no table."""
        with _opened(Path(path)) as photo:
            return Source(layers={}, facts={"format": photo.driver})

    def small(self, path: Path, *, side: int) -> bytes:
        """See `PhotoReader.small`."""
        from rasterio.enums import Resampling
        from rasterio.io import MemoryFile

        with _opened(Path(path)) as photo:
            if photo.width * photo.height > MOST_PIXELS:
                raise SourceError(f"{Path(path).name}: is too large for a photo.")
            factor = max(1.0, max(photo.width, photo.height) / side)
            shape = tuple(max(1, math.floor(each / factor)) for each in (photo.height, photo.width))
            bands = [1, 2, 3] if photo.count >= 3 else [1, 1, 1]
            colours = photo.read(bands, out_shape=(3, *shape), resampling=Resampling.average)
            turned = photo.tags().get("EXIF_Orientation", "1").strip()
        turns, mirrored = _TURNS.get(int(turned) if turned.isdecimal() else 1, (0, False))
        colours = np.rot90(colours, turns, axes=(1, 2))
        colours = np.ascontiguousarray(colours[:, :, ::-1] if mirrored else colours)
        _, height, width = colours.shape
        with _quietly(), MemoryFile() as memory:
            made = {"count": 3, "height": height, "width": width, "dtype": "uint8", "photometric": "YCBCR"}
            with memory.open(driver="JPEG", QUALITY=QUALITY, **made) as out:
                out.write(colours)
            return bytes(memory.read())


@contextmanager
def _quietly() -> Iterator[None]:
    """A photo has no place on the ground, and nobody is to be warned of it."""
    import rasterio
    from rasterio.errors import NotGeoreferencedWarning

    with warnings.catch_warnings(), rasterio.Env(GDAL_NUM_THREADS="1", GDAL_PAM_ENABLED="NO", **OFFLINE):
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        yield


@contextmanager
def _opened(path: Path) -> Iterator[DatasetReader]:
    import rasterio
    from rasterio.errors import RasterioError

    refuse_pointers(path)
    try:
        with _quietly(), rasterio.open(path, driver=DRIVERS.get(path.suffix.lower(), "JPEG")) as photo:
            if photo.dtypes[0] != "uint8":
                raise SourceError(f"{path.name}: holds values of more than eight bits, which is no photo.")
            yield photo
    except RasterioError as error:
        reason = str(error.__cause__ or error).strip().replace(f"{path.parent}", "").rstrip(".")
        raise SourceError(f"{path.name}: cannot be read as a photo ({reason}). Known are JPEG and PNG.") from error
