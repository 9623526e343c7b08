"""Design lines and points from GeoPackage, GeoJSON and Shapefile."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Literal

import numpy as np
from pydantic import Field

from geoqa.errors import SourceError
from geoqa.model import words
from geoqa.model.design_word import DesignWord
from geoqa.model.format import Format
from geoqa.model.source import Evidence, Peek, Reader, Source
from geoqa.read.delimited.spreadsheet import is_date
from geoqa.read.delimited.text import existing, read_text
from geoqa.read.vector.design_words import design_words
from geoqa.read.vector.elements import checked_elements
from geoqa.read.vector.features import Feature, Layer, features_of, layers_of, read_table, table_called
from geoqa.read.vector.geojson import read_geojson
from geoqa.read.vector.geopackage import curves_in
from geoqa.read.vector.kind_tables import kind_of, unused
from geoqa.read.vector.linework import MEND, Drawn, Elevations, design_tables

if TYPE_CHECKING:
    import pandas as pd

_LINES = ("LineString", "MultiLineString")
_POINTS = ("Point", "MultiPoint")
_AREAS = ("Polygon", "MultiPolygon")


class DesignVector(Reader):
    """Design lines and points, with a kind and a name each, from a vector file.

    In a GeoPackage a table `elements` without geometry, when present, is what is judged, and the lines
    are drawing only; without it every segment of a line is a straight element.
    """

    role: ClassVar[str] = "design"
    format: ClassVar[Format | None] = Format(
        title="GeoPackage, GeoJSON or Shapefile of design",
        keeps="lines and points with kind, name and elevations, the coordinate system; a table elements of a "
        "GeoPackage with true arcs",
        loses="arcs without such a table are refused, never made chords; areas but limits of work; attributes "
        "but kind and name; a shapefile has no nulls in its numbers and names of ten characters",
    )

    areas: ClassVar[frozenset[str]] = frozenset({words.LIMITS_OF_WORK})

    layers: dict[str, str] = Field(
        default_factory=dict,
        description='layer = kind for layers of one kind, "*" standing for any letters; a kind of "" leaves it out',
    )
    kind_field: str = Field("kind", description="attribute that holds the kind")
    values: dict[str, str] = Field(
        default_factory=dict,
        description="value of kind_field = kind, with patterns as in layers; features of other values are then not "
        'read, and a kind of "" leaves a value out',
    )
    name_field: str = Field(
        "name", description='attribute that holds the name; "" for none: they are numbered by kind in file order'
    )
    judged: Literal["both", "elements", "lines"] = Field(
        "both",
        description="both: the table elements, refused where the lines drawn beside it contradict it; elements: that "
        "table, whatever is drawn; lines: the drawn lines, without that table",
    )
    elevations: Elevations = Field(
        "auto", description="auto: Z of 0 everywhere means unknown; as-drawn: Z as it is; none: Z is not taken"
    )

    def peek(self, path: Path) -> Peek:
        """Look at layers, attributes and coordinate system."""
        path = existing(path)
        if _is_geojson(path):
            layer, features, why = read_geojson(path, read_text(path).data)
            evidence = (Evidence(what="coordinate system", answer=layer.crs or "not stated", because=why),)
            rows = tuple(tuple(str(each.attributes.get(key, "")) for key in layer.fields) for each in features[:5])
            return Peek(columns=layer.fields, rows=rows, layers=(layer.name,), crs=layer.crs, evidence=evidence)
        layers, _ = layers_of(path)
        columns = tuple(dict.fromkeys(key for each in layers for key in each.fields))
        crs = layers[0].crs if layers else None
        return Peek(columns=columns, layers=tuple(each.name for each in layers), crs=crs)

    def words(self, path: Path, *, kinds: Mapping[str, str], codes: Mapping[str, str]) -> tuple[DesignWord, ...]:
        """List layers, and values of attributes, with counts and a guessed kind each."""
        return design_words(path, kinds=kinds, codes=codes)

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file.

        Raises
        ------
        SourceError
            The file cannot be read as design, two things have one name, or arcs were stored as curves
            that would become chords.
        """
        drawn = Drawn(file=path.name)
        layers, judged = self._gather(path, drawn)
        drawn.naming = self._naming(drawn)
        tables = design_tables(drawn, source=source, elevations=self.elevations, mend="" if drawn.troubles else MEND)
        if judged is not None:
            tables["design_elements"] = checked_elements(judged, drawn, compared=self.judged == "both")
            because = "table elements; the lines beside it are drawing only"
            drawn.evidence.append(Evidence(what="elements", answer=f"{len(judged)}", because=because))
        elif drawn.lines:
            answer = f"{len(tables['design_elements'])} straight"
            drawn.evidence.append(Evidence(what="elements", answer=answer, because="one a segment; no table elements"))
        return Source(
            layers=tables,
            crs=layers[0].crs if layers else None,
            facts={"layers": ", ".join(each.name for each in layers)},
            evidence=tuple(drawn.evidence),
            troubles=tuple(drawn.troubles),
        )

    def _gather(self, path: Path, drawn: Drawn) -> tuple[list[Layer], pd.DataFrame | None]:
        """Collect what is drawn; give the layers, and the table elements if there is one."""
        path = existing(path)
        unnamed: dict[str, int] = {}
        if _is_geojson(path):
            layer, features, why = read_geojson(path, read_text(path).data)
            drawn.evidence.append(Evidence(what="coordinate system", answer=layer.crs or "not stated", because=why))
            self._refuse_unknown_layers([layer], path.name)
            self._take(drawn, layer, features, unnamed)
            return [layer], None
        layers, bare = layers_of(path)
        self._refuse_unknown_layers(layers, path.name)
        if bare:
            because = "tables that draw nothing"
            drawn.evidence.append(Evidence(what="not read", answer=", ".join(bare), because=because))
        if not layers:
            held = f"its tables ({', '.join(bare)}) draw nothing" if bare else "it has no layer"
            raise SourceError(f"'{path.name}' holds no design: {held}. Export the lines and points as layers.")
        if layers and layers[0].crs is None:
            because = "the file does not say" + (" (no .prj)" if path.suffix.lower() == ".shp" else "")
            drawn.evidence.append(Evidence(what="coordinate system", answer="not stated", because=because))
        elements = table_called(path, "elements")
        if elements and self.judged == "lines":
            because = 'judged = "lines" in the job'
            drawn.evidence.append(Evidence(what=f"table {elements}", answer="not read", because=because))
        judged = read_table(path, elements) if elements and self.judged != "lines" else None
        for layer in layers:
            if judged is None and path.suffix.lower() == ".gpkg" and self._kind_of(layer) != "":
                _refuse_curves(path, layer.name)
            self._take(drawn, layer, features_of(path, layer), unnamed)
        return layers, judged

    def _kind_of(self, layer: Layer) -> str | None:
        return kind_of(self.layers, layer.name)

    def _naming(self, drawn: Drawn) -> str:
        """What to do where `name_field` repeats itself."""
        apart = ", ".join(f'name_field = "{each}"' for each in drawn.different[:3])
        told = f"for example {apart}, which differs everywhere" if apart else "one that differs everywhere"
        return (
            f"state another attribute than '{self.name_field}' beside the file, {told}; or "
            'name_field = "": then they are numbered by kind in file order'
        )

    def _stating_kinds(self, layer: str) -> str:
        return f'kind_field = \'type\', or one kind for the whole layer: layers = {{ "{layer}" = "curb-top" }}'

    def _take(self, drawn: Drawn, layer: Layer, features: Iterable[Feature], unnamed: dict[str, int]) -> None:
        fixed = self._kind_of(layer)
        if fixed == "":
            drawn.evidence.append(Evidence(what=f"layer {layer.name}", answer="left out", because="stated in the job"))
            return
        if fixed is None and self.kind_field not in layer.fields:
            raise SourceError(
                f"'{drawn.file}', layer {layer.name}, has no attribute '{self.kind_field}'; "
                f"it has {', '.join(layer.fields) or 'none'}. State the attribute that holds the kind, e.g. "
                f"{self._stating_kinds(layer.name)}."
            )
        before = sum(unnamed.values())
        strange: dict[str, list[int]] = {}
        aside: Counter[str] = Counter()
        for each in features:
            drawn.tell_apart(each.attributes)
            value = _text(each.attributes.get(self.kind_field))
            kind = fixed or (kind_of(self.values, value) if self.values else value)
            name = _text(each.attributes.get(self.name_field)) if self.name_field else ""
            if self.values and not fixed and value and not kind:
                if kind is None:
                    strange.setdefault(value, []).append(each.number)
                else:
                    aside[value] += 1
            elif not each.shape:
                drawn.trouble(each.number, layer.name, name, "has no geometry; not read")
            elif not kind:
                drawn.trouble(each.number, layer.name, name, f"has no {self.kind_field}; not read")
            elif each.shape not in _LINES + _POINTS and not (each.shape in _AREAS and kind in self.areas):
                only = f"only lines and points are read, and polygons of kind {min(self.areas)}"
                drawn.trouble(each.number, layer.name, name, f"is a {each.shape}; {only}")
            else:
                if not name:
                    unnamed[kind] = unnamed.get(kind, 0) + 1
                    name = f"{kind}-{unnamed[kind]}"
                elif is_date(name):
                    drawn.dated(each.number, layer.name, name)
                _add(drawn, layer.name, each, name, kind)
        for value, numbers in strange.items():
            reason = f'{len(numbers)} not read: no such entry in values; add e.g. values = {{ {_quoted(value)} = "…" }}'
            drawn.trouble(numbers[0], layer.name, value, reason)
        if aside:
            answer = ", ".join(f"{value} {count}" for value, count in sorted(aside.items()))
            drawn.evidence.append(Evidence(what=f"layer {layer.name}", answer=answer, because="left out in the job"))
        if sum(unnamed.values()) > before:
            lacks = (
                f"no attribute '{self.name_field}', or an empty one" if self.name_field else "no attribute holds names"
            )
            because = f"{lacks}; numbered by kind in file order"
            answer = f"{sum(unnamed.values()) - before} made"
            drawn.evidence.append(Evidence(what=f"names in layer {layer.name}", answer=answer, because=because))

    def _refuse_unknown_layers(self, layers: list[Layer], file: str) -> None:
        there = [each.name for each in layers]
        strange = unused(self.layers, there)
        if strange:
            raise SourceError(
                f"'{file}' has no layer {', '.join(strange)}; its layers are {', '.join(there)}. Name them in the job: "
                f'layers = {{ {_quoted(there[0] if there else "*")} = "KIND" }}.'
            )


def _add(drawn: Drawn, layer: str, feature: Feature, name: str, kind: str) -> None:
    for part, piece in enumerate(feature.parts, start=1):
        part_name = f"{name}-{part}" if len(feature.parts) > 1 else name
        try:
            whole = isinstance(piece, np.ndarray)
            places = piece if whole else np.array([_place(each) for each in piece], dtype=np.float64)
        except (TypeError, ValueError, IndexError, KeyError, OverflowError):
            drawn.trouble(feature.number, layer, part_name, "has a coordinate that is no number; not read")
            continue
        if feature.shape in _POINTS:
            drawn.add_point(part_name, kind, places[0], number=feature.number, layer=layer)
        else:
            unclosed = feature.shape in _AREAS and len(places) > 1 and bool((places[0, :2] != places[-1, :2]).any())
            if unclosed:
                drawn.trouble(feature.number, layer, part_name, "is a ring that is not closed; closed for reading")
            drawn.add_line(part_name, kind, places, number=feature.number, layer=layer, closed=unclosed)


def _place(vertex: Any) -> tuple[float, float, float]:
    elevation = vertex[2] if len(vertex) > 2 and vertex[2] is not None else np.nan
    if any(isinstance(each, str | bool) for each in (vertex[0], vertex[1], elevation)):
        raise ValueError  # "1" and true are no numbers, though they can be made some
    return float(vertex[0]), float(vertex[1]), float(elevation)


def _refuse_curves(path: Path, layer: str) -> None:
    curves = curves_in(path, layer)
    if curves:
        listed = ", ".join(f"{count} {shape}" for shape, count in sorted(curves.items()))
        raise SourceError(
            f"'{path.name}', layer {layer}, holds {listed}, which would be read as chords and judged as if built so; "
            "add a table elements with the arcs, or give the design as DXF."
        )


def _text(value: object) -> str:
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return str(value).strip()


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _is_geojson(path: Path) -> bool:
    return path.suffix.lower() in (".geojson", ".json")
