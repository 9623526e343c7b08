"""findings.geojson and shots.geojson by longitude and latitude; shots_grid.geojson in the job's own grid.

RFC 7946 (2016) knows longitude and latitude only, and takes a third coordinate for metres above
the ellipsoid. Elevations here are the job's, so they stay a named column and the positions stay
flat. The grid file is what that standard calls a prior arrangement: its ``crs`` member, from the
2008 text, and its ``frame`` say what the numbers are; there a row with an elevation has it as
third coordinate as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from json.encoder import encode_basestring
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from geoqa.errors import OutputError
from geoqa.frames.moving.lonlat import display_operation, on_earth, to_lonlat
from geoqa.model.format import Format
from geoqa.model.frame import Frame
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.model.tables.columns import SCHEMA_VERSION
from geoqa.model.words import CERTIFICATION
from geoqa.write.about import review
from geoqa.write.plain import as_text
from geoqa.write.readback import compare_columns, compare_frame, compare_shapes, opening_again
from geoqa.write.rows import as_held, on_disk, plain_columns

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy as np
    import pandas as pd

DECIMALS = 10
"""Of a degree: 0.01 mm on the ground. The seven of common advice are 11 mm, too coarse for 0.02 ft."""

GRID = "shots_grid.geojson"
FILES = {"findings.geojson": "findings", "shots.geojson": "shots", GRID: "shots"}
_ROWS_AT_ONCE = 50_000


class GeoJSON(Output):
    """Findings and shots for the web, and shots in grid coordinates that say so."""

    name: ClassVar[str] = "geojson"
    effort: ClassVar[int] = 3
    imports: ClassVar[tuple[str, ...]] = ("pyogrio",)
    format: ClassVar[Format | None] = Format(
        title="GeoJSON of findings and shots",
        keeps="findings and shots by longitude and latitude, and shots on the job’s grid with the frame beside them",
        loses="other layers; by longitude and latitude the elevation is a column, for the standard means "
        "metres above the ellipsoid; where no way to longitude and latitude is known, the two files of them",
    )

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write the files into `folder`; of a grid that is nowhere on the earth only the one on the grid."""
        frame = results.layers.frame
        names = []
        for file in _files(frame):
            layer = FILES[file]
            table = on_disk(layer, as_held(results, layer), ordered=True)
            easting, northing = _position(table)
            if file == GRID:
                head = {**_head("shots_grid", results, coordinates="easting, northing, elevation"), **_grid(frame)}
                places = _pairs(easting, northing, table["elevation"].to_numpy(float))
            else:
                lon, lat = to_lonlat(frame, easting, northing)
                head = {**_head(layer, results, coordinates="longitude and latitude, degrees"), **_display(frame)}
                places = _pairs(lon.round(DECIMALS), lat.round(DECIMALS), None)
            names.append(_save(Path(folder, file), head, table, places))
        return tuple(names)

    @opening_again
    def read_back(self, results: Results, folder: Path) -> dict[str, Any]:
        """Open the files again and compare positions, columns and the frame of the grid file."""
        import pyogrio

        frame, said = results.layers.frame, {}
        for file in _files(frame):
            layer = FILES[file]
            expected = as_held(results, layer)
            if len(expected) == 0:
                continue
            found = pyogrio.read_dataframe(Path(folder, file), use_arrow=True, DATE_AS_STRING="YES")
            said[file] = {"values": compare_columns(file, expected, found)}
            if file == GRID:
                said[file]["shapes"] = compare_shapes(file, layer, expected, found.geometry.array)
                compare_frame(file, frame, expected.crs, found.crs)
            else:
                _compare_lonlat(file, expected, found, frame)
        return said


def _files(frame: Frame) -> tuple[str, ...]:
    return tuple(FILES) if on_earth(frame) else (GRID,)


def _compare_lonlat(file: str, expected: gpd.GeoDataFrame, readback: gpd.GeoDataFrame, frame: Frame) -> None:
    import numpy as np

    for wanted, got in zip(
        to_lonlat(frame, *_position(expected)), (readback.geometry.x, readback.geometry.y), strict=True
    ):
        apart = np.abs(wanted - got.to_numpy())
        if (np.isnan(wanted) != np.isnan(got.to_numpy())).any() or (apart > 10.0**-DECIMALS).any():
            raise OutputError(f"{file} gives back another place than was written; do not use it.")


def _head(name: str, results: Results, *, coordinates: str) -> dict[str, Any]:
    frame = results.layers.frame
    return {
        "type": "FeatureCollection",
        "name": name,
        "title": results.title.name,
        "review": review(results.title),
        "caution": CERTIFICATION,
        "coordinates_are": coordinates,
        "frame": frame.facts(),
        "lengths_and_elevations_in": frame.unit.name,
        "schema_version": SCHEMA_VERSION,
    }


def _grid(frame: Frame) -> dict[str, Any]:
    authority, _, code = frame.horizontal.partition(":")
    name = f"urn:ogc:def:crs:{authority}::{code}" if code else frame.horizontal_wkt
    return {
        "crs": {"type": "name", "properties": {"name": name}},
        "crs_note": f"Not longitude and latitude: {frame.describe()}. Coordinates in {frame.unit.full_name}.",
    }


def _display(frame: Frame) -> dict[str, Any]:
    accuracy = display_operation(frame).accuracy
    return {"positions_good_to_m": accuracy, "positions_note": "To look at, not to measure; measure in the grid file."}


def _position(table: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    return table["easting"].to_numpy(float), table["northing"].to_numpy(float)


def _pairs(x: np.ndarray, y: np.ndarray, z: np.ndarray | None) -> Iterator[str]:
    """JSON text of each row's geometry: null without a position, flat without an elevation."""
    import numpy as np

    heights = np.full(len(x), np.nan) if z is None else z
    there, high = np.isfinite(x) & np.isfinite(y), np.isfinite(heights)
    for placed, raised, *place in zip(*[each.tolist() for each in (there, high, x, y, heights)], strict=True):
        if not placed:
            yield "null"
        elif raised:
            yield f'{{"type":"Point","coordinates":{place}}}'
        else:
            yield f'{{"type":"Point","coordinates":{place[:2]}}}'


def _save(path: Path, head: dict[str, Any], table: pd.DataFrame, places: Iterator[str]) -> str:
    names = plain_columns(table)
    members = ",".join(encode_basestring(name).replace("%", "%%") + ":%s" for name in names)
    feature = '{"type":"Feature","geometry":%s,"properties":{' + members + "}}"
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.write(as_text(head, indent=None)[:-1] + ', "features": [\n')
        for start in range(0, len(table), _ROWS_AT_ONCE):
            part = table.iloc[start : start + _ROWS_AT_ONCE]
            rows = zip(islice(places, len(part)), *[_values(part[name]) for name in names], strict=True)
            file.write((",\n" if start else "") + ",\n".join([feature % row for row in rows]))
        file.write("\n]}\n")
    return path.name


def _values(column: pd.Series) -> list[str]:
    """One column as JSON texts; missing is null."""
    import numpy as np
    import pandas as pd

    said = np.full(len(column), "null", dtype=object)
    there = column.notna().to_numpy(bool)
    values, dtype = column[there], column.dtype
    if not there.any():
        return said.tolist()
    if isinstance(dtype, pd.DatetimeTZDtype) or pd.api.types.is_datetime64_dtype(dtype):
        said[there] = [f'"{time.isoformat().replace("+00:00", "Z")}"' for time in values]
    elif pd.api.types.is_bool_dtype(dtype):
        said[there] = np.where(values.to_numpy(bool), "true", "false")
    elif pd.api.types.is_float_dtype(dtype):
        said[there] = list(map(repr, values.to_numpy("float64").tolist()))
    elif pd.api.types.is_integer_dtype(dtype):
        said[there] = list(map(str, values.tolist()))
    else:
        said[there] = list(map(encode_basestring, values.tolist()))
    return said.tolist()
