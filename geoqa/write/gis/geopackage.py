"""checked.gpkg: every layer of a job in one GeoPackage, with its frame, its cautions and its styles.

Points have a third coordinate where the row has an elevation and stay flat where it has none; the
layer says that Z is optional. Both GDAL-based readers give that back as it was written, and a
missing elevation is never a place at 0. Times are kept to the millisecond.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from geoqa.errors import OutputError
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.write.about import about
from geoqa.write.dates import job_day, steady_clock
from geoqa.write.gis import attributes
from geoqa.write.gis.elevated import elevated, elevated_areas, elevated_lines
from geoqa.write.gis.shapes import decoded, systems_of
from geoqa.write.gis.styles import style_of
from geoqa.write.readback import compare_columns, compare_frame, compare_shapes, opening_again
from geoqa.write.rows import arranged, is_placed, names_of, tables_of
from geoqa.write.text import visible

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

FILE = "checked.gpkg"
ABOUT, STYLES = "about", "layer_styles"
RESERVED = (ABOUT, STYLES)
_MANY = 500
"""Rows: reading more of them one by one takes longer than looking through the file once more."""
DESCRIPTIONS = {
    "findings": "One row per judged number, worst first",
    "shots": "One row per observed point, judged or not",
    "runs": "Neighbours that agree, judged by their mean",
    "places": "Places shot several times, judged as one value",
    "asbuilt_lines": "Lines that the shots make; in space where every elevation is known",
    "asbuilt_areas": "What closed as-built lines surround; in space where every elevation is known",
    "asbuilt_elements": "Legs and arcs of as-built lines, exact",
    "asbuilt_members": "Shots of each as-built line, in order",
    "line_comparison": "As-built lines as a whole beside their design lines",
    "gaps": "Design without as-built evidence",
    "control": "Control marks as published",
    "bands": "Tolerance bands, for drawing only; verdicts come from distances",
    "evidence": "Which rows each finding rests on",
    "sources": "Which files were read, with their hashes",
    "limits": "Every limit with its source",
    "flags": "Why a shot was listed or not judged",
    "notes": "What must be read first, as facts",
}


class GeoPackage(Output):
    """All layers, attribute tables, what the file says about itself, and styles."""

    name: ClassVar[str] = "gpkg"
    format: ClassVar[Format | None] = Format(
        title="GeoPackage of every layer",
        keeps="all layers and tables, the frame, missing values, elevations only where there are some, styles",
        loses="arcs as such are chords in the drawn lines, exact in the table of elements; times below the millisecond",
    )

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write ``checked.gpkg`` into `folder`."""
        path = Path(folder, FILE)
        path.unlink(missing_ok=True)
        tables = tables_of(results)
        if taken := sorted({name.lower() for name in tables} & set(RESERVED)):
            raise OutputError(f"Layers may not be named {taken}; the GeoPackage keeps those names. Rename them.")
        day = job_day(results)
        plain = {name: table for name, table in tables.items() if not is_placed(table) and attributes.holdable(table)}
        with steady_clock(day), _in_no_hurry_to_disk():
            _put(path, ABOUT, _about_table(results), "What this file is, its frame, its review state and its cautions")
            for name, table in tables.items():
                if name not in plain:
                    _put(path, name, _raised(results, name, table), _described(name))
            _put(path, STYLES, _style_table(tables, day), "Styles by layer", key="id")
        with attributes.opened(path, to_write=True) as file:
            for name, table in plain.items():
                _refuse_keys(name, table)
                attributes.put(file, name, table, _described(name), day=day)
        return (FILE,)

    @opening_again
    def read_back(self, results: Results, folder: Path) -> dict[str, Any]:
        """Open every layer again and compare shapes, columns, frame and foot."""
        import pyogrio

        path, frame = Path(folder, FILE), results.layers.frame
        said = {}
        through = _read_through_library(results)
        with attributes.opened(path, to_write=False) as file:
            systems = systems_of(file)
            for name in names_of(results):
                expected = _raised(results, name, arranged(results, name), points=False)
                # a reader of shapes looks through the whole file for every layer; others are read as they stand
                found = (
                    pyogrio.read_dataframe(path, layer=name, use_arrow=True)
                    if name in through
                    else attributes.taken_out(file, name)
                )
                place = f"{FILE}, layer {name},"
                said[name] = {"values": compare_columns(place, expected, found)}
                if not is_placed(expected):
                    continue
                if name in through:
                    compare_frame(place, frame, expected.crs, found.crs)
                elif systems.get(name) != systems.get(through[0]):
                    raise OutputError(f"{place} is in another coordinate system than '{through[0]}'; do not use it.")
                shapes = found.geometry.array if name in through else decoded(found["geom"])
                said[name]["shapes"] = compare_shapes(place, name, expected, shapes)
            compare_columns(f"{FILE}, layer {ABOUT},", _about_table(results), attributes.taken_out(file, ABOUT))
        return {FILE: said}


def _read_through_library(results: Results) -> list[str]:
    """Layers with shapes that are opened as a desk opens them: the longest one, and all that are long."""
    placed = {name: len(results.layers[name]) for name in names_of(results) if is_placed(results.layers[name])}
    longest = sorted(placed, key=lambda name: -placed[name])
    return [name for place, name in enumerate(longest) if not place or placed[name] >= _MANY]


def _described(name: str) -> str:
    return DESCRIPTIONS.get(name, name.replace("_", " "))


@contextmanager
def _in_no_hurry_to_disk() -> Iterator[None]:
    """Leave it to the system when bytes reach the disk: a file gets its place when it was read again."""
    import pyogrio

    name = "OGR_SQLITE_SYNCHRONOUS"
    before = pyogrio.get_gdal_config_option(name)
    pyogrio.set_gdal_config_options({name: "OFF"})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({name: before})


def _raised(results: Results, name: str, table: gpd.GeoDataFrame, *, points: bool = True) -> gpd.GeoDataFrame:
    """A table whose shapes have a third coordinate where they have elevations."""
    if name == "asbuilt_lines" and is_placed(table) and "asbuilt_elements" in results.layers:
        return _raised_lines(results, table)
    if name == "asbuilt_areas" and is_placed(table) and "asbuilt_lines" in results.layers:
        return elevated_areas(table, _raised_lines(results, arranged(results, "asbuilt_lines")))
    return elevated(table) if points else table


def _raised_lines(results: Results, lines: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """As-built lines, in their order on disk, with the shapes that are worked out once for all who ask."""
    layers, of = results.layers, ("asbuilt_lines", "asbuilt_elements")
    shapes = layers.derived(
        "as-built lines in space", of, lambda: elevated_lines(lines, layers["asbuilt_elements"]).geometry.to_numpy()
    )
    return lines.set_geometry(shapes.copy(), crs=lines.crs)


def _put(path: Path, layer: str, table: gpd.GeoDataFrame, description: str, *, key: str = "fid") -> None:
    import pyogrio

    _refuse_keys(layer, table, key=key)
    options = {"DESCRIPTION": description, "FID": key}
    with warnings.catch_warnings():
        # The layer is declared flat and takes Z where it comes: exactly what is meant.
        warnings.filterwarnings("ignore", message=".*declared with non-Z geometry type", category=RuntimeWarning)
        pyogrio.write_dataframe(
            table,
            path,
            layer=layer,
            driver="GPKG",
            append=path.exists(),
            use_arrow=True,
            layer_options=options,
            **_geometry_options(table),
        )


def _refuse_keys(layer: str, table: pd.DataFrame, *, key: str = "fid") -> None:
    if taken := sorted({str(column).lower() for column in table.columns} & {key, "geom"}):
        raise OutputError(f"Table '{layer}' has the columns {taken}, which a GeoPackage keeps for itself; rename them.")


def _geometry_options(table: gpd.GeoDataFrame) -> dict[str, Any]:
    if not is_placed(table):
        return {}
    kinds = {str(kind) for kind in table.geometry.geom_type.dropna().unique()}
    single = {kind.removeprefix("Multi") for kind in kinds} or {"Point" if "easting" in table.columns else "LineString"}
    if len(single) > 1:
        return {"geometry_type": "Unknown"}
    many = any(kind.startswith("Multi") for kind in kinds)
    return {"geometry_type": ("Multi" if many else "") + single.pop(), "promote_to_multi": many}


def _about_table(results: Results) -> pd.DataFrame:
    import pandas as pd

    said = about(results)
    return pd.DataFrame({"item": list(said), "text": [visible(text) for text in said.values()]}, dtype="str")


def _style_table(tables: Mapping[str, pd.DataFrame], day: date) -> pd.DataFrame:
    import pandas as pd

    styles = {name: style_of(name) for name in tables}
    rows = [
        {
            "f_table_catalog": "",
            "f_table_schema": "",
            "f_table_name": name,
            "f_geometry_column": "geom",
            "styleName": name,
            "styleQML": "",
            "styleSLD": sld,
            "useAsDefault": True,
            "description": "signs by verdict" if name == "findings" else name.replace("_", " "),
            "owner": "",
            "ui": "",
            "update_time": day.isoformat(),
        }
        for name, sld in styles.items()
        if sld is not None and is_placed(tables[name])
    ]
    table = pd.DataFrame(rows, columns=list(rows[0]) if rows else ["f_table_name", "styleSLD"])
    table["update_time"] = pd.to_datetime(table["update_time"], utc=True).dt.as_unit("us") if rows else ""
    return table
