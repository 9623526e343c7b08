"""Shapefiles for programs that read nothing newer, with everything the format loses written beside them.

Field names have ten characters: ``field_names.csv`` says which column each one is. A file holds
either places with Z or places without, so rows without an elevation are in a file of their own
whose name ends in ``_flat``. A text has at most 254 bytes and is cut, which the same list counts;
truth values and times are text, because the format has neither; empty text and missing are one.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from geoqa.errors import OutputError
from geoqa.frames.systems.prj import wkt_esri
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.model.tables.columns import PLACED
from geoqa.model.words import many
from geoqa.write.dates import job_day
from geoqa.write.gis.fields import Field, fields_of
from geoqa.write.readback import compare_columns, compare_frame, compare_shapes, opening_again
from geoqa.write.rows import in_order, is_placed, on_disk
from geoqa.write.tables import save

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

FOLDER = "shapefile"
NAMES = "field_names.csv"
LARGEST = 2_000_000_000
"""Bytes of one file; the format ends at 2 GiB."""

_SIDECARS = ("shp", "shx", "dbf", "prj", "cpg")


class Shapefile(Output):
    """Every layer with a place, as shapefiles in a folder of their own."""

    name: ClassVar[str] = "shp"
    format: ClassVar[Format | None] = Format(
        title="Shapefile of every layer with a place",
        keeps="places with and without elevation, a file each; what was cut is listed in field_names.csv",
        loses="names beyond ten characters, text beyond 254 bytes, truth values and times as such, the "
        "difference of empty and missing",
    )

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write the folder ``shapefile`` into `folder`."""
        place = Path(folder, FOLDER)
        place.mkdir(exist_ok=True)
        frame, day = results.layers.frame, job_day(results)
        prj, names, fields_seen = wkt_esri(frame), [], []
        for stem, shape, table in _parts(results):
            ready = on_disk(stem, table, ordered=True)
            fields = fields_of(ready)
            fields_seen += [(f"{stem}.shp", each) for each in fields]
            _write_one(place / f"{stem}.shp", shape, ready, fields, frame.horizontal_wkt, day)
            (place / f"{stem}.prj").write_text(prj, encoding="utf-8", newline="\n")
            names += [f"{FOLDER}/{stem}.{suffix}" for suffix in _SIDECARS]
        save(place / NAMES, _names_table(fields_seen))
        return (*names, f"{FOLDER}/{NAMES}")

    @opening_again
    def read_back(self, results: Results, folder: Path) -> dict[str, Any]:
        """Open every file again and compare shapes, columns under their short names, frame and foot."""
        import pyogrio

        said = {}
        for stem, _, table in _parts(results):
            path = Path(folder, FOLDER, f"{stem}.shp")
            ready = on_disk(stem, table, ordered=True)
            fields = {each.column: each for each in fields_of(ready)}
            with warnings.catch_warnings():  # a shape with a height is taken to carry a measure too
                warnings.filterwarnings("ignore", message="Measured \\(M\\) geometry types")
                found = pyogrio.read_dataframe(path)
            expected = table.drop(columns="geometry").assign(
                **{name: fields[name].as_read(ready[name]) for name in fields if name in table.columns}
            )
            short = {name: each.name for name, each in fields.items()}
            values = compare_columns(
                path.name, expected, found.rename(columns={f"{short[n]}": n for n in short}), text=str_of, near=1e-15
            )
            layer = stem.removesuffix("_flat")
            shapes = compare_shapes(path.name, layer, table, found.geometry.array)
            if found.crs is not None or len(table):
                compare_frame(path.name, results.layers.frame, table.crs, found.crs, by_name=False)
            said[path.name] = {"values": values, "shapes": shapes}
        return said


def str_of(column: pd.Series) -> pd.Series:
    """Text as it is; what the format does to it is already done."""
    return column


def _parts(results: Results) -> Iterator[tuple[str, str, gpd.GeoDataFrame]]:
    """Name, shape and rows of each file, rows with and without elevation apart."""
    import numpy as np

    for name in sorted(results.layers):
        table = results.layers[name]
        if not hasattr(table, "columns") or not is_placed(table):
            continue
        table = in_order(name, table)
        if PLACED.get(name) != "Point":
            yield name, PLACED.get(name, "Unknown"), table
            continue
        high = np.isfinite(table["elevation"].to_numpy(float)) & table.geometry.notna().to_numpy()
        yield name, "3D Point", table[high].reset_index(drop=True)
        if not high.all():
            yield f"{name}_flat", "Point", table[~high].reset_index(drop=True)


def _write_one(path: Path, shape: str, table: gpd.GeoDataFrame, fields: list[Field], wkt: str, day: date) -> None:
    import fiona

    width = sum(each.width for each in fields) + 1
    if width * len(table) > LARGEST:
        raise OutputError(
            f"{path.name} would be larger than a shapefile can be ({many(len(table), 'row')}); "
            "use the GeoPackage instead."
        )
    schema = {"geometry": shape, "properties": {each.name: each.kind for each in fields}}
    columns = [each.as_written(table[each.column]) for each in fields]
    names = [each.name for each in fields]
    with fiona.open(
        path,
        "w",
        driver="ESRI Shapefile",
        schema=schema,
        crs_wkt=wkt,
        encoding="UTF-8",
        DBF_DATE_LAST_UPDATE=day.isoformat(),
    ) as sink:
        sink.writerecords(
            {"geometry": geometry, "properties": dict(zip(names, row, strict=True))}
            for geometry, *row in zip(_geometries(table), *columns, strict=True)
        )


def _geometries(table: gpd.GeoDataFrame) -> Iterator[Mapping[str, Any] | None]:
    has_z = "elevation" in table.columns
    heights = table["elevation"].tolist() if has_z else [float("nan")] * len(table)
    for shape, height in zip(table.geometry, heights, strict=True):
        if shape is None:
            yield None
        elif shape.geom_type == "Point":
            yield {
                "type": "Point",
                "coordinates": (shape.x, shape.y, height) if height == height else (shape.x, shape.y),
            }
        else:
            yield shape.__geo_interface__


def _names_table(fields: list[tuple[str, Field]]) -> pd.DataFrame:
    import pandas as pd

    rows = [
        {
            "file": file,
            "field": each.name,
            "column": each.column,
            "holds": each.holds,
            "width": each.width,
            "texts_cut": each.cut,
        }
        for file, each in fields
    ]
    columns = ["file", "field", "column", "holds", "width", "texts_cut"]
    texts = dict.fromkeys(columns[:4], "str")
    return pd.DataFrame(rows, columns=columns).astype({**texts, "width": "int64", "texts_cut": "int64"})
