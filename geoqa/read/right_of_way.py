"""The polygon of a right of way, as its licensee supplies it, from a vector file."""

from __future__ import annotations

from typing import ClassVar

from pydantic import Field

from geoqa.model.format import Format
from geoqa.model.words import RIGHT_OF_WAY
from geoqa.read.design import DesignVector


class RightOfWayVector(DesignVector):
    """Closed lines or polygons of a right of way; all that the file holds, unless `layers` says otherwise."""

    role: ClassVar[str] = "right_of_way"
    format: ClassVar[Format | None] = Format(
        title="GeoPackage, GeoJSON or Shapefile of a right of way",
        keeps="polygons and closed lines; a table elements of a GeoPackage with true arcs",
        loses="arcs without such a table are refused, never made chords; attributes; several areas count as one",
    )
    areas: ClassVar[frozenset[str]] = frozenset({RIGHT_OF_WAY})

    layers: dict[str, str] = Field(
        {"*": RIGHT_OF_WAY},
        description='layer = "right-of-way" for layers that hold it, "*" standing for any letters; others are left out',
    )
    name_field: str = Field("", description="attribute that holds a name; without it they are numbered")
