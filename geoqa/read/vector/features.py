"""Layers and features of a GeoPackage or Shapefile: what is drawn, and its attributes."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.errors import SourceError
from geoqa.read.sealed import refuse_other_content
from geoqa.read.vector.geopackage import refuse_damaged, refuse_text_for_numbers, views_in

if TYPE_CHECKING:
    import pandas as pd
    from fiona import Collection

NOT_DESIGN = ("layer_styles", "elements")
"""Tables of a GeoPackage that draw nothing."""

_STATED_CODE = re.compile(r"""(?:AUTHORITY|ID)\["EPSG",\s*"?(\d+)"?\]\]\s*$""")


_AREAS = ("Polygon", "MultiPolygon")
"""Their parts are their rings."""

_SHAPES = ("Point", "LineString", "Polygon", "MultiPoint", "MultiLineString", "MultiPolygon")
"""What coordinates in GeoJSON may stand for; a collection of them is none of these."""

_ONE_PART = (0, 1)
"""Types of a point and of a line, as the geometry library numbers them."""

_CODES = {1: "Point", 2: "LineString", 3: "Polygon", 4: "MultiPoint", 5: "MultiLineString", 6: "MultiPolygon",
          7: "GeometryCollection", 15: "PolyhedralSurface", 16: "TIN", 17: "Triangle"}  # fmt: skip
"""Codes of types in well-known binary, modulo 1000 for Z and M."""

_SURFACES = ("PolyhedralSurface", "TIN", "Triangle")
"""Whole, and no design lines."""


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


def layers_of(path: Path) -> tuple[list[Layer], list[str]]:
    """List the layers that draw something, and the names of the tables that do not.

    Raises
    ------
    SourceError
        The file cannot be opened, or its layers are in several coordinate systems.
    """
    import fiona

    found, bare = [], []
    if path.suffix.lower() == ".gpkg":
        refuse_damaged(path)
    refuse_other_content(path)
    try:
        names = _drawing_layers(path)
        for name in names:
            with fiona.open(path, layer=name) as file:
                kind, fields = _schema(file)
                if kind == "None":
                    bare.append(name)
                else:
                    found.append(Layer(name=name, fields=fields, crs=_crs(file, path)))
    except SourceError:
        raise
    except Exception as error:  # whatever the library stumbles over, it is the file
        raise SourceError(f"'{path.name}' cannot be opened as a vector file: {_why(error, path)}") from None
    systems = sorted({each.crs or "none" for each in found})
    if len(systems) > 1:
        listed = "; ".join(each[:60] for each in systems)
        raise SourceError(
            f"'{path.name}' has layers in {len(systems)} coordinate systems ({listed}); bring them into one."
        )
    return found, bare


def _drawing_layers(path: Path) -> list[str]:
    import fiona

    names = fiona.listlayers(path)
    if path.suffix.lower() != ".gpkg":
        return names
    views = set(views_in(path))
    return [each for each in names if each.casefold() not in NOT_DESIGN and each not in views]


def table_called(path: Path, name: str) -> str | None:
    """The table of a GeoPackage of that name, as the file spells it; None without one."""
    import fiona

    if path.suffix.lower() != ".gpkg":
        return None
    return next((each for each in fiona.listlayers(path) if each.casefold() == name.casefold()), None)


def read_table(path: Path, name: str) -> pd.DataFrame:
    """An attribute table, as it is; text where numbers belong is refused, which the library would read as 0.

    Raises
    ------
    SourceError
    """
    import pyogrio

    refuse_text_for_numbers(path, name)
    try:
        return pyogrio.read_dataframe(path, layer=name, read_geometry=False)
    except Exception as error:  # whatever the library stumbles over, it is the file
        raise _unreadable(path, name, error) from None


def _why(error: Exception, path: Path) -> str:
    """First line of what a library says, without where on this machine the file is."""
    said = (str(error).strip() or type(error).__name__).splitlines()[0]
    return said.replace(str(path), path.name).replace(str(path.parent), "")


def _unreadable(path: Path, layer: str, error: Exception) -> SourceError:
    said = _why(error, path).rstrip(".")
    return SourceError(f"'{path.name}', layer {layer}, cannot be read: {said}. Is the file whole? Export it again.")


def features_of(path: Path, layer: Layer) -> Iterator[Feature]:
    """Features of one layer, in file order; a shape that is not whole is called damaged.

    Raises
    ------
    SourceError
        The layer cannot be read.
    """
    import pyogrio

    try:
        with warnings.catch_warnings():  # of measures along lines, which are not read, and of what is told below
            warnings.simplefilter("ignore")
            table = pyogrio.read_dataframe(path, layer=layer.name, on_invalid="ignore")
        held = table.geometry.isna().to_numpy() if "geometry" in table else []
        names = _damaged(path, layer) if any(held) else {}
    except pyogrio.errors.GeometryError:
        yield from _row_by_row(path, layer)
        return
    except Exception as error:  # whatever the library stumbles over, it is the file
        raise _unreadable(path, layer.name, error) from None
    for row, feature in enumerate(features_in(table)):
        yield replace(feature, shape=names[row]) if not feature.shape and row in names else feature


def _damaged(path: Path, layer: Layer) -> dict[int, str]:
    """Rows that hold a shape which cannot be made out, and what it calls itself."""
    import pyogrio

    _, _, shapes, _ = pyogrio.raw.read(path, layer=layer.name, columns=[])
    found = {}
    for row, shape in enumerate(shapes if shapes is not None else ()):
        if isinstance(shape, bytes) and len(shape) >= 5:
            code = int.from_bytes(shape[1:5], "little" if shape[0] == 1 else "big") & 0xFFFF
            name = _CODES.get(code % 1000)
            found[row] = name if name in _SURFACES else f"damaged {name or 'shape'}"
    return found


def features_in(table: pd.DataFrame) -> Iterator[Feature]:
    """Features of a table with a geometry, row by row."""
    import shapely

    shapes: Any = table.geometry.to_numpy()
    rows: Any = table[[each for each in table.columns if each != table.geometry.name]].to_dict("records")
    # what has one part is taken out of all coordinates at once
    places, owner = shapely.get_coordinates(shapes, include_z=True, return_index=True)
    first = np.searchsorted(owner, np.arange(len(shapes) + 1)).tolist()
    types = shapely.get_type_id(shapes).tolist()
    for row, (attributes, shape) in enumerate(zip(rows, shapes, strict=True)):
        if first[row] == first[row + 1]:
            yield Feature(number=row + 1, attributes=attributes, shape="", parts=())
            continue
        if types[row] in _ONE_PART:
            pieces: tuple[Any, ...] = (places[first[row] : first[row + 1]],)
        else:
            parts = shapely.get_rings(shape) if shape.geom_type in _AREAS else shapely.get_parts(shape)
            pieces = tuple(shapely.get_coordinates(each, include_z=True) for each in parts)
        yield Feature(number=row + 1, attributes=attributes, shape=shape.geom_type, parts=pieces)


def _row_by_row(path: Path, layer: Layer) -> Iterator[Feature]:
    """Layers of mixed geometry with Z, which the fast reader refuses."""
    import fiona

    try:
        with fiona.open(path, layer=layer.name) as file:
            rows = [(dict(each.properties), each.geometry) for each in file]
    except Exception as error:  # whatever the library stumbles over, it is the file
        raise _unreadable(path, layer.name, error) from None
    for number, (attributes, shape) in enumerate(rows, start=1):
        if shape is None:
            yield Feature(number=number, attributes=attributes, shape="", parts=())
        else:
            yield feature_of(number, attributes, shape.type, shape.coordinates)


def feature_of(number: int, attributes: dict[str, Any], shape: object, coordinates: Any) -> Feature:
    """Make a feature of GeoJSON coordinates; what is none of its shapes has no parts."""
    if not coordinates or not isinstance(coordinates, list | tuple):
        return Feature(number=number, attributes=attributes, shape="", parts=())
    if not isinstance(shape, str) or shape not in _SHAPES:
        return Feature(number=number, attributes=attributes, shape=str(shape)[:40] or "shape of no type", parts=())
    if shape == "Point":
        parts: tuple[Any, ...] = ([coordinates],)
    elif shape == "MultiPoint":
        parts = tuple([each] for each in coordinates)
    elif shape in ("MultiLineString", "Polygon"):
        parts = tuple(coordinates)
    elif shape == "MultiPolygon":
        parts = tuple(ring for area in coordinates for ring in (area if isinstance(area, list | tuple) else [area]))
    else:
        parts = (coordinates,)
    return Feature(number=number, attributes=attributes, shape=shape, parts=parts)


def _schema(file: Collection) -> tuple[str, tuple[str, ...]]:
    import fiona

    try:
        return file.schema["geometry"], tuple(file.schema["properties"])
    except fiona.errors.UnsupportedGeometryTypeError:
        first = next(iter(file), None)
        return "Unknown", tuple(first.properties) if first is not None else ()


def _crs(file: Collection, path: Path) -> str | None:
    beside = path.with_suffix(".prj")
    stated = path.suffix.lower() == ".shp" and beside.is_file() and beside.read_bytes().strip() != b""
    try:
        wkt = file.crs_wkt
    except Exception:  # the library raises what it likes over a damaged definition
        wkt, stated = "", True
    if stated and not wkt:
        what = "remove its .prj" if path.suffix.lower() == ".shp" else "set it right"
        raise SourceError(
            f"'{path.name}', layer {file.name}: its coordinate system cannot be read; {what} "
            "and state frame = in the job."
        )
    code = _STATED_CODE.search(wkt or "")
    if code is not None:
        return f"EPSG:{code[1]}"
    return wkt if wkt and "Undefined" not in wkt else None
