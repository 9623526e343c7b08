"""checked.gpkg for a GIS desk, audit.gpkg for whoever asks why: layers with their frame, cautions and styles.

Points have a third coordinate where the row has an elevation and stay flat where it has none; the
layer says that Z is optional. Both GDAL-based readers give that back as it was written, and a
missing elevation is never a place at 0. Times are kept to the millisecond.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from contextlib import AbstractContextManager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from pydantic import Field

from geoqa.errors import OutputError
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.model.tables.reported import TEXTS
from geoqa.write.about import about
from geoqa.write.dates import job_day, steady_clock
from geoqa.write.gdal_setting import gdal_setting
from geoqa.write.gis import attributes, described
from geoqa.write.gis.desk import declared, desk_layers, on_desk
from geoqa.write.gis.elevated import elevated
from geoqa.write.gis.shapes import decoded, systems_of
from geoqa.write.gis.styles import style_of
from geoqa.write.readback import compare_columns, compare_frame, compare_shapes, opening_again
from geoqa.write.rows import arranged, is_placed, names_of, on_disk, plain_columns
from geoqa.write.text import visible

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

FILE, AUDIT = "checked.gpkg", "audit.gpkg"
ABOUT, STYLES = "about", "layer_styles"
RESERVED = (ABOUT, STYLES)
_MANY = 500
"""Rows: reading more of them one by one takes longer than looking through the file once more."""
DESCRIPTIONS = {
    "findings": "One row per judged number, worst first",
    "shots": "One row per observed point, judged or not",
    "runs": "Neighbours that agree, judged by their mean",
    "places": "Places shot several times, judged as one value",
    "items": "Register of items: numbers that people cite",
    "asbuilt_elements": "Legs and arcs of as-built lines, exact",
    "asbuilt_members": "Shots of each as-built line, in order",
    "line_comparison": "As-built lines as a whole beside their design lines",
    "bands": "Tolerance bands, for drawing only; verdicts come from distances",
    "evidence": "Which rows each finding rests on",
    "sources": "Which files were read, with their hashes",
    "limits": "Every limit with its source",
    "flags": "Why a shot was listed or not judged",
    "notes": "What must be read first, as facts",
}


class GeoPackage(Output):
    """The layers of a GIS desk with styles and named columns, and beside them every other table."""

    name: ClassVar[str] = "gpkg"
    effort: ClassVar[int] = 8
    imports: ClassVar[tuple[str, ...]] = ("pyogrio", "sqlite3")
    files: ClassVar[Mapping[str, str]] = {
        FILE: "GeoPackage for a GIS desk: items, findings, shots, as-built and design lines, control, with styles",
        AUDIT: "GeoPackage of all other tables: every judged number, limits, precision, diagnosis, sources",
    }
    format: ClassVar[Format | None] = Format(
        title="GeoPackages of layers and of every table",
        keeps="all layers and tables, the frame, missing values, elevations only where there are some, names and "
        "meanings of columns, styles",
        loses="arcs as such are chords in the drawn lines, exact in the table of elements; times below the millisecond",
    )

    audit: bool = Field(default=True, description=f"Write {AUDIT} as well: every table that no desk layer holds whole")

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write ``checked.gpkg`` and ``audit.gpkg`` into `folder`."""
        day, made = job_day(results), (FILE, *([AUDIT] if self.audit else []))
        with steady_clock(day), _in_no_hurry_to_disk():
            _write_desk(results, Path(folder, FILE), day)
            if self.audit:
                _write_audit(results, Path(folder, AUDIT), day)
        return made

    @opening_again
    def read_back(self, results: Results, folder: Path) -> dict[str, Any]:
        """Open every layer again and compare shapes, columns, frame and foot."""
        desk = {name: layer.table for name, layer in desk_layers(results).items()}
        said = {FILE: _compared(results, Path(folder, FILE), desk)}
        if self.audit:
            tables = {name: arranged(results, name) for name in _of_audit(results)}
            said[AUDIT] = _compared(results, Path(folder, AUDIT), tables, points_in_plan=True)
        return said


def _of_audit(results: Results) -> list[str]:
    """Names of the tables that the second file holds, in the order people look for them."""
    return [name for name in names_of(results) if name not in set(on_desk(results))]


def _write_desk(results: Results, path: Path, day: date) -> None:
    layers = desk_layers(results)
    tables = {name: on_disk(name, layer.table, ordered=True) for name, layer in layers.items()}
    path.unlink(missing_ok=True)
    _put(path, ABOUT, _about_table(results), _ABOUT_SAYS)
    for name, layer in layers.items():
        _put(path, name, tables[name], layer.says, title=layer.title)
    _put(path, STYLES, _style_table(tables, day), _STYLES_SAY, key="id")
    with attributes.opened(path, to_write=True) as file:
        described.begin(file)
        described.put_words(file, TEXTS)
        for name, layer in layers.items():
            beside = [each for each in plain_columns(tables[name]) if each not in layer.aliases]
            called = {each: f"{layer.aliases[each.removesuffix('_text')]}, without end" for each in beside}
            says = dict.fromkeys(beside, "inf or -inf where there is no limit to that side")
            described.put_columns(file, name, {**layer.meanings, **says}, {**layer.aliases, **called})
        described.put_metadata(file, _metadata(results), day=day)


def _write_audit(results: Results, path: Path, day: date) -> None:
    tables = {name: on_disk(name, arranged(results, name), ordered=True) for name in _of_audit(results)}
    if taken := sorted({name.lower() for name in tables} & set(RESERVED)):
        raise OutputError(f"Layers may not be named {taken}; the GeoPackage keeps those names. Rename them.")
    plain = {name: table for name, table in tables.items() if not is_placed(table) and attributes.holdable(table)}
    path.unlink(missing_ok=True)
    _put(path, ABOUT, _about_table(results), _ABOUT_SAYS)
    for name, table in tables.items():
        if name not in plain:
            _put(path, name, elevated(table), _described(name))
    _put(path, STYLES, _style_table(tables, day), _STYLES_SAY, key="id")
    unit = results.layers.frame.unit.name
    with attributes.opened(path, to_write=True) as file:
        for name, table in plain.items():
            _refuse_keys(name, table)
            attributes.put(file, name, table, _described(name), day=day)
        described.begin(file)
        for name, table in tables.items():
            said = {column: text for column in plain_columns(table) if (text := declared(name, column, unit))}
            described.put_columns(file, name, said)
        described.put_metadata(file, _metadata(results), day=day)


def _compared(
    results: Results, path: Path, tables: Mapping[str, pd.DataFrame], *, points_in_plan: bool = False
) -> dict[str, Any]:
    """Open the layers of a file and compare each; of one whose points are in plan the columns say where they are."""
    import pyogrio

    frame, said = results.layers.frame, {}
    through = _read_through_library(tables)
    with attributes.opened(path, to_write=False) as file:
        systems = systems_of(file)
        for name, expected in tables.items():
            # a reader of shapes looks through the whole file for every layer; others are read as they stand
            found = (
                pyogrio.read_dataframe(path, layer=name, use_arrow=True)
                if name in through
                else attributes.taken_out(file, name)
            )
            place = f"{path.name}, layer {name},"
            said[name] = {"values": compare_columns(place, expected, found)}
            if not is_placed(expected):
                continue
            if name in through:
                compare_frame(place, frame, expected.crs, found.crs)
            elif systems.get(name) != systems.get(through[0]):
                raise OutputError(f"{place} is in another coordinate system than '{through[0]}'; do not use it.")
            shapes = found.geometry.array if name in through else decoded(found["geom"])
            said[name]["shapes"] = compare_shapes(place, name if points_in_plan else "", expected, shapes)
        compare_columns(f"{path.name}, layer {ABOUT},", _about_table(results), attributes.taken_out(file, ABOUT))
    return said


def _read_through_library(tables: Mapping[str, pd.DataFrame]) -> list[str]:
    """Layers with shapes that are opened as a desk opens them: the longest one, and all that are long."""
    placed = {name: len(table) for name, table in tables.items() if is_placed(table)}
    longest = sorted(placed, key=lambda name: -placed[name])
    return [name for place, name in enumerate(longest) if not place or placed[name] >= _MANY]


def _described(name: str) -> str:
    return DESCRIPTIONS.get(name, name.replace("_", " "))


def _in_no_hurry_to_disk() -> AbstractContextManager[None]:
    """Leave it to the system when bytes reach the disk: a file gets its place when it was read again."""
    return gdal_setting("OGR_SQLITE_SYNCHRONOUS", "OFF")


def _put(
    path: Path, layer: str, table: gpd.GeoDataFrame, description: str, *, key: str = "fid", title: str = ""
) -> None:
    import pyogrio

    _refuse_keys(layer, table, key=key)
    options = {"DESCRIPTION": description, "FID": key} | ({"IDENTIFIER": title} if title else {})
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


_ABOUT_SAYS = "What this file is, its frame, its review state and its cautions"
_STYLES_SAY = "Styles by layer"


def _metadata(results: Results) -> dict[str, str]:
    """What the file is, in elements of the Dublin Core."""
    said = about(results)
    named = {
        "title": " - ".join(said[name] for name in ("title", "revision") if name in said),
        "date": said.get("date", ""),
        "description": f"{said['review']}. {said['findings']}. {said['caution']} {said['caution_buried']}",
        "coverage": said["frame"],
        "creator": f"geoqa {said['geoqa']}",
    }
    return {name: visible(text) for name, text in named.items() if text}


def _about_table(results: Results) -> pd.DataFrame:
    import pandas as pd

    said = about(results)
    return pd.DataFrame({"item": list(said), "text": [visible(text) for text in said.values()]}, dtype="str")


def _style_table(tables: Mapping[str, pd.DataFrame], day: date) -> pd.DataFrame:
    import pandas as pd

    styles = {name: style_of(name, tables[name].columns) for name in tables}
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
            "description": "signs by verdict" if "verdict" in tables[name] else name.replace("_", " "),
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
