"""Features of a vector file, format by format: what is drawn, and its attributes as text.

GeoJSON is read as the JSON it is, because the general library fills a missing Z with 0.
"""

from __future__ import annotations

import json
import re
import sqlite3
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geoqa.errors import SourceError

NOT_DESIGN = ("layer_styles", "elements")
"""Tables of a GeoPackage that draw nothing."""

_STATED_CODE = re.compile(r"""(?:AUTHORITY|ID)\["EPSG",\s*"?(\d+)"?\]\]\s*$""")
_ENVELOPE = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}
_CURVED = {8: "CircularString", 9: "CompoundCurve", 10: "CurvePolygon", 11: "MultiCurve", 12: "MultiSurface"}


@dataclass(frozen=True, kw_only=True)
class Layer:
    """One layer of a vector file."""

    name: str
    fields: tuple[str, ...]
    crs: str | None


@dataclass(frozen=True, kw_only=True)
class Feature:
    """One feature: its attributes, and its parts as (type, coordinates).

    A coordinate is (easting, northing) or (easting, northing, elevation).
    """

    number: int
    attributes: dict[str, Any]
    shape: str
    parts: tuple[Any, ...]


def layers_of(path: Path) -> list[Layer]:
    """List the layers that draw something.

    Raises
    ------
    SourceError
        The file cannot be opened, or its layers are in several coordinate systems.
    """
    import fiona

    found = []
    try:
        names = [each for each in fiona.listlayers(path) if each not in NOT_DESIGN]
        for name in names:
            with fiona.open(path, layer=name) as file:
                kind, fields = _schema(file)
                if kind != "None":
                    found.append(Layer(name=name, fields=fields, crs=_crs(file)))
    except (fiona.errors.FionaError, OSError, UnicodeDecodeError) as error:
        raise SourceError(f"'{path.name}' cannot be opened as a vector file: {error}") from None
    systems = sorted({each.crs or "none" for each in found})
    if len(systems) > 1:
        listed = "; ".join(each[:60] for each in systems)
        raise SourceError(
            f"'{path.name}' has layers in {len(systems)} coordinate systems ({listed}); bring them into one."
        )
    return found


def has_table(path: Path, name: str) -> bool:
    """Whether a vector file has a layer or table of that name."""
    import fiona

    return name in fiona.listlayers(path)


def read_table(path: Path, name: str) -> Any:
    """An attribute table, as it is."""
    import pyogrio

    return pyogrio.read_dataframe(path, layer=name, read_geometry=False, use_arrow=False)


def features_of(path: Path, layer: Layer) -> Iterator[Feature]:
    """Features of one layer, in file order."""
    import pyogrio
    import shapely

    try:
        table = pyogrio.read_dataframe(path, layer=layer.name)
    except pyogrio.errors.GeometryError:
        yield from _row_by_row(path, layer)
        return
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, UnicodeDecodeError) as error:
        raise SourceError(f"'{path.name}', layer {layer.name}, cannot be read: {error}") from None
    columns = [each for each in table.columns if each != "geometry"]
    rows = table[columns].to_dict("records")
    for number, (attributes, shape) in enumerate(zip(rows, table.geometry, strict=True), start=1):
        if shape is None or shapely.is_empty(shape):
            yield Feature(number=number, attributes=attributes, shape="", parts=())
            continue
        pieces = tuple(shapely.get_coordinates(each, include_z=True) for each in shapely.get_parts(shape))
        yield Feature(number=number, attributes=attributes, shape=shape.geom_type, parts=pieces)


def _row_by_row(path: Path, layer: Layer) -> Iterator[Feature]:
    """Layers of mixed geometry with Z, which the fast reader refuses."""
    import fiona

    with fiona.open(path, layer=layer.name) as file:
        for number, each in enumerate(file, start=1):
            attributes = dict(each.properties)
            if each.geometry is None:
                yield Feature(number=number, attributes=attributes, shape="", parts=())
            else:
                yield geojson_feature(number, attributes, each.geometry.type, each.geometry.coordinates)


def geojson_feature(number: int, attributes: dict[str, Any], shape: str, coordinates: Any) -> Feature:
    """Make a feature of GeoJSON coordinates."""
    if not coordinates:
        return Feature(number=number, attributes=attributes, shape="", parts=())
    if shape == "Point":
        parts: tuple[Any, ...] = ([coordinates],)
    elif shape == "MultiPoint":
        parts = tuple([each] for each in coordinates)
    elif shape == "MultiLineString":
        parts = tuple(coordinates)
    else:
        parts = (coordinates,)
    return Feature(number=number, attributes=attributes, shape=shape, parts=parts)


def read_geojson(path: Path, data: bytes) -> tuple[Layer, list[Feature], str]:
    """Read a GeoJSON file.

    Returns
    -------
    Layer, list of Feature
    str
        How its coordinate system was told.
    """
    try:
        held = json.loads(data)
    except (json.JSONDecodeError, RecursionError) as error:
        raise SourceError(f"'{path.name}' is no JSON: {error}.") from None
    items = held.get("features") if isinstance(held, dict) and held.get("type") == "FeatureCollection" else None
    if not isinstance(items, list):
        raise SourceError(f"'{path.name}' is JSON but no GeoJSON FeatureCollection.")
    features = []
    for number, each in enumerate(items, start=1):
        shape = (each or {}).get("geometry") or {}
        attributes = (each or {}).get("properties") or {}
        features.append(geojson_feature(number, attributes, shape.get("type", ""), shape.get("coordinates")))
    crs, why = _geojson_crs(held, features)
    fields = tuple(dict.fromkeys(key for each in features for key in each.attributes))
    return Layer(name=path.stem, fields=fields, crs=crs), features, why


def _geojson_crs(held: dict[str, Any], features: list[Feature]) -> tuple[str | None, str]:
    member = held.get("crs")
    if isinstance(member, dict):
        name = str((member.get("properties") or {}).get("name", ""))
        pieces = name.split(":")
        if "EPSG" in pieces and pieces[-1].isdigit():
            return f"EPSG:{pieces[-1]}", f"crs member {name}"
        return (name or None), f"crs member {name}"
    far = next((vertex for each in features for part in each.parts for vertex in part if _is_grid(vertex)), None)
    if far is not None:
        return None, f"no crs member, and {far[0]}, {far[1]} is no longitude and latitude"
    return "OGC:CRS84", "no crs member: longitude and latitude by RFC 7946"


def _is_grid(vertex: Any) -> bool:
    try:
        return abs(float(vertex[0])) > 180.0 or abs(float(vertex[1])) > 90.0
    except (TypeError, ValueError, IndexError):
        return False


def curves_in(path: Path, layer: str) -> dict[str, int]:
    """Count the curved geometries of a GeoPackage layer by type; reading would turn them into chords."""
    found: dict[str, int] = {}
    try:
        with sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True) as file:
            query = "SELECT column_name FROM gpkg_geometry_columns WHERE table_name = ?"
            row = file.execute(query, (layer,)).fetchone()
            if row is None:
                return found
            column, table = (each.replace('"', '""') for each in (row[0], layer))
            blobs = file.execute(f'SELECT substr("{column}", 1, 73) FROM "{table}"')
            for (blob,) in blobs:
                shape = _CURVED.get(_type_of(blob))
                if shape:
                    found[shape] = found.get(shape, 0) + 1
    except sqlite3.Error as error:
        raise SourceError(f"'{path.name}' cannot be opened as a GeoPackage: {error}; is it whole?") from None
    return found


def _type_of(blob: bytes | None) -> int:
    if not blob or len(blob) < 8:
        return 0
    at = 8 + _ENVELOPE.get((blob[3] >> 1) & 7, 0)
    if len(blob) < at + 5:
        return 0
    return struct.unpack("<I" if blob[at] == 1 else ">I", blob[at + 1 : at + 5])[0] % 1000


def _schema(file: Any) -> tuple[str, tuple[str, ...]]:
    import fiona

    try:
        return file.schema["geometry"], tuple(file.schema["properties"])
    except fiona.errors.UnsupportedGeometryTypeError:
        first = next(iter(file), None)
        return "Unknown", tuple(first.properties) if first is not None else ()


def _crs(file: Any) -> str | None:
    import fiona

    try:
        wkt = file.crs_wkt
    except fiona.errors.CRSError:
        return None
    code = _STATED_CODE.search(wkt or "")
    if code is not None:
        return f"EPSG:{code[1]}"
    return wkt if wkt and "Undefined" not in wkt else None
