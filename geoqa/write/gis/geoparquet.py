"""GeoParquet 1.1, for archives and for programs that read many jobs at once.

Each layer with a place is one file with a bounding box per row and row groups of at most 100,000,
so that a reader takes only what it needs; missing values are nulls of their own type. Points have
Z where the row has an elevation.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.write.about import about
from geoqa.write.gis.elevated import elevated
from geoqa.write.readback import compare_columns, compare_frame, compare_shapes, opening_again
from geoqa.write.rows import in_order, is_placed, on_disk

if TYPE_CHECKING:
    import geopandas as gpd

FOLDER = "geoparquet"
MOST_ROWS = 100_000
"""Rows of a group."""


class GeoParquet(Output):
    """Every layer with a place, as GeoParquet in a folder of its own."""

    name: ClassVar[str] = "parquet"
    format: ClassVar[Format | None] = Format(
        title="GeoParquet of every layer with a place",
        keeps="every column with its type, missing values, the frame",
        loses="tables without a place; drawing desks do not read it",
    )

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write the folder ``geoparquet`` into `folder`."""
        place = Path(folder, FOLDER)
        place.mkdir(exist_ok=True)
        said = {label: text for label, text in about(results).items() if label != "record"}
        written = []
        for name, table in _layers(results):
            ready = elevated(on_disk(name, table, ordered=True))
            ready.attrs = {"geoqa": said}
            ready.to_parquet(
                place / f"{name}.parquet",
                index=False,
                compression="zstd",
                schema_version="1.1.0",
                write_covering_bbox=True,
                row_group_size=MOST_ROWS,
            )
            written.append(name)
        return tuple(f"{FOLDER}/{name}.parquet" for name in written)

    @opening_again
    def read_back(self, results: Results, folder: Path) -> dict[str, Any]:
        """Open every file again and compare shapes, columns, frame and foot."""
        import geopandas

        said = {}
        for name, expected in _layers(results):
            path = Path(folder, FOLDER, f"{name}.parquet")
            found = geopandas.read_parquet(path)
            values = compare_columns(path.name, expected, found)
            shapes = compare_shapes(path.name, name, expected, found.geometry.array)
            compare_frame(path.name, results.layers.frame, expected.crs, found.crs)
            said[path.name] = {"values": values, "shapes": shapes}
        return said


def _layers(results: Results) -> "Iterator[tuple[str, gpd.GeoDataFrame]]":
    """Every layer with a place in the order of its rows on disk, made when asked for: each may fill the memory."""
    for name in sorted(results.layers):
        table = results.layers[name]
        if hasattr(table, "columns") and is_placed(table):
            yield name, in_order(name, table)
