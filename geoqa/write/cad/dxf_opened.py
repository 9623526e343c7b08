"""A drawing opened again: what it gives back of shots and lines in space, in the order of the file.

One with symbols is opened by GDAL, by which many a GIS opens drawings and which shares nothing with the library that
wrote it; what that library thinks of a drawing it is asked before the drawing is written. The plain form for very many
shots is too plain to tell a circle from a line there: it is opened, and audited, by the drawing library.
"""

from __future__ import annotations

import gc
import re
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path as File
from typing import Any

from geoqa.errors import OutputError
from geoqa.write.cad.sheet import Raised
from geoqa.write.gdal_setting import gdal_setting

Place = tuple[str, float, float, float]
"""Layer, easting, northing and elevation of a shot."""

_UNIT = re.compile(rb"\$INSUNITS\s+70\s+(\d+)\s")
_LAYER_RECORD = re.compile(rb"^AcDbLayerTableRecord\s*$", re.MULTILINE)
_SYMBOL, _LINE = "AcDbEntity:AcDbBlockReference", "AcDbEntity:AcDb3dPolyline"


@dataclass(frozen=True)
class Opened:
    """What a drawing gives back.

    Attributes
    ----------
    unit : int or None
        Its `$INSUNITS`.
    layers : int
        How many it declares.
    places : list of Place
        Of symbols, or of points in the plain form.
    lines : list of Raised
        Polylines in space.
    """

    unit: int | None
    layers: int
    places: list[Place]
    lines: list[Raised]


def opened(path: File, *, light: bool) -> Opened:
    """Open a drawing again.

    Raises
    ------
    OutputError
        It does not pass its audit. What a library says of a file that is no drawing comes as it is.
    """
    return _plain(path) if light else _with_symbols(path)


def _with_symbols(path: File) -> Opened:
    import pyogrio
    import shapely

    with _symbols_whole():
        about, _, shapes, columns = pyogrio.raw.read(path, layer="entities", columns=["Layer", "SubClasses"])
    column = dict(zip(about["fields"], columns, strict=True))
    shape = shapely.from_wkb(shapes)
    symbol, line = column["SubClasses"] == _SYMBOL, column["SubClasses"] == _LINE
    places = shapely.get_coordinates(shape[symbol], include_z=True).tolist()
    vertices, owner = shapely.get_coordinates(shape[line], include_z=True, return_index=True)
    drawn: list[list[Any]] = [[] for _ in range(int(line.sum()))]
    for at, number in zip(vertices.tolist(), owner.tolist(), strict=True):
        drawn[number].append(tuple(at))
    content = path.read_bytes()
    unit = _UNIT.search(content)
    return Opened(
        unit=int(unit[1]) if unit else None,
        layers=len(_LAYER_RECORD.findall(content)),
        places=[(layer, *at) for layer, at in zip(column["Layer"][symbol], places, strict=True)],
        lines=[Raised(layer, tuple(at), "") for layer, at in zip(column["Layer"][line], drawn, strict=True)],
    )


def _plain(path: File) -> Opened:
    import ezdxf

    with nothing_collected():
        document = ezdxf.readfile(path)
        passes_audit(document, path.name)
    space: Any = document.modelspace()
    points = [(each.dxf.layer, each.dxf.location) for each in space.query("POINT")]
    lines = [each for each in space.query("POLYLINE") if each.is_3d_polyline]
    return Opened(
        unit=document.header.get("$INSUNITS"),
        layers=len(document.layers),
        places=[(layer, at.x, at.y, at.z) for layer, at in points],
        lines=[Raised(each.dxf.layer, tuple((at.x, at.y, at.z) for at in each.points()), "") for each in lines],
    )


def passes_audit(document: Any, name: str) -> None:
    """Refuse a drawing in which its own library finds an error."""
    if errors := document.audit().errors:
        raise OutputError(f"{name} does not pass its audit: {errors[0].message}; do not use it.")


def _symbols_whole() -> AbstractContextManager[None]:
    """Let a symbol be one point with its layer, not the lines it is drawn with."""
    return gdal_setting("DXF_INLINE_BLOCKS", "FALSE")


@contextmanager
def nothing_collected() -> Iterator[None]:
    """Keep the collector of what is unused from walking, again and again, through a drawing all of which is in use."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()
