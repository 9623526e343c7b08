"""surface_difference.tif: as-built minus design on a grid, as a GeoTIFF in the job's frame.

Cells where one of the two surfaces is not are NaN, and declared as missing.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from geoqa.errors import OutputError
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.write.about import about
from geoqa.write.readback import opening_again

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

FILE = "surface_difference.tif"
_SAID = ("title", "revision", "date", "review", "frame", "unit", "vertical_name", "caution", "geoqa")


class GeoTIFF(Output):
    """As-built minus design surface as a raster."""

    name: ClassVar[str] = "tif"
    format: ClassVar[Format | None] = Format(
        title="GeoTIFF of as-built minus design surface",
        keeps="the difference at the centre of each cell in the job’s unit, the frame, cells without a number",
        loses="uncertainty and verdicts: it shows where to look; differences are held in 32 bits",
    )
    steps: ClassVar[tuple[str, ...]] = ("surface-difference",)

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write ``surface_difference.tif`` into `folder`, if the job has both surfaces."""
        table = _cells(results)
        if table is None:
            return ()
        import rasterio
        from rasterio.crs import CRS

        values, transform = _raster(table)
        frame = results.layers.frame
        with (
            rasterio.Env(PROJ_NETWORK="OFF", GDAL_NUM_THREADS="1", GDAL_TIFF_INTERNAL_MASK=False),
            rasterio.open(
                Path(folder, FILE), "w", driver="GTiff", width=values.shape[1], height=values.shape[0], count=1,
                dtype="float32", crs=CRS.from_wkt(frame.horizontal_wkt), transform=transform, nodata=float("nan"),
                compress="deflate", predictor=3, tiled=True, blockxsize=256, blockysize=256,
            ) as raster,
        ):  # fmt: skip
            raster.write(values, 1)
            raster.set_band_description(1, f"as-built minus design surface {table['surface'].iloc[0]}")
            raster.set_band_unit(1, frame.unit.name)
            said = about(results)
            raster.update_tags(**{name: said[name] for name in _SAID if name in said})
        return (FILE,)

    @opening_again
    def read_back(self, results: Results, folder: Path) -> dict[str, Any]:
        """Open the file again: place, and every cell."""
        import numpy as np
        import rasterio

        table = _cells(results)
        if table is None:
            return {}
        values, transform = _raster(table)
        with rasterio.Env(PROJ_NETWORK="OFF"), rasterio.open(Path(folder, FILE)) as raster:
            same = np.array_equal(raster.read(1), values, equal_nan=True)
            if not same or not raster.transform.almost_equals(transform, precision=1e-6) or raster.crs is None:
                raise OutputError(f"{FILE} gives back another raster than was written; do not use it.")
        return {FILE: {"cells": len(table)}}


def _cells(results: Results) -> pd.DataFrame | None:
    layers = results.layers
    if "surface_difference" not in layers or not len(layers["surface_difference"]):
        return None
    return layers["surface_difference"]


def _raster(table: pd.DataFrame) -> tuple[np.ndarray, Any]:
    """Differences, (h, w), north up, and where they lie."""
    import numpy as np
    from rasterio import Affine

    column, row = (table[name].to_numpy(np.int64) for name in ("column", "row"))
    left, top = column.min(), row.min()
    values = np.full((row.max() - top + 1, column.max() - left + 1), np.nan, dtype=np.float32)
    values[row - top, column - left] = table["difference"].to_numpy(float)
    first, side = table.iloc[0], float(table["cell"].iloc[0])
    west = first["easting"] - (first["column"] - left + 0.5) * side
    north = first["northing"] + (first["row"] - top + 0.5) * side
    return values, Affine(side, 0.0, west, 0.0, -side, north)
