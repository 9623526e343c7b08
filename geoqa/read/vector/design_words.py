"""Words by which the lines and points of a design file can be told apart, with counts and a guessed kind each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from types import MappingProxyType

from geoqa.model.design_word import DesignWord, Option
from geoqa.model.kind_guess import USUAL_KINDS, guessed_kind
from geoqa.read.delimited.text import existing, read_text
from geoqa.read.vector.drawing import colour_of, layer_of, linetype_of
from geoqa.read.vector.drawing_file import opened_drawing
from geoqa.read.vector.features import features_of, layers_of
from geoqa.read.vector.geojson import read_geojson

MOST_VALUES = 60
"""An attribute with more different values than this tells no kinds."""

_LINES = frozenset({"LINE", "LWPOLYLINE", "POLYLINE", "ARC", "SPLINE", "ELLIPSE", "LineString", "MultiLineString"})
_POINTS = frozenset({"POINT", "INSERT", "Point", "MultiPoint"})
_ORDER: tuple[Option, ...] = ("layers", "blocks", "values", "linetypes", "colours")


def design_words(
    path: Path, *, kinds: Mapping[str, str] = MappingProxyType({}), codes: Mapping[str, str] = MappingProxyType({})
) -> tuple[DesignWord, ...]:
    """List what a design file calls its lines and points, for the tables that say which kind each is.

    Parameters
    ----------
    path : Path
        A drawing (.dxf), GeoPackage, Shapefile or GeoJSON.
    kinds : mapping of str to str
        Kinds to guess from, with the geometry of each ("line", "point", or ""); where empty, the usual ones.
    codes : mapping of str to str
        Field codes and their kinds.

    Returns
    -------
    tuple of DesignWord
        Layers first, then blocks, values, linetypes and colours; attributes that tell most kinds before others.
        Linetypes and colours are those that an entity has of its own, apart from its layer.

    Raises
    ------
    SourceError
        As reading the file would.
    """
    path = existing(path)
    drawn = _in_drawing(path) if path.suffix.lower() == ".dxf" else _in_features(path)
    counts: dict[tuple[Option, str, str], Counter[str]] = {}
    for option, field, word, shape in drawn:
        what = "lines" if shape in _LINES else "points" if shape in _POINTS else "others"
        counts.setdefault((option, field, word), Counter())[what] += 1
        counts[option, field, word]["blocks"] += shape == "INSERT"
    found = []
    for (option, field, word), count in counts.items():
        geometry = "" if count["lines"] and count["points"] else "line" if count["lines"] else "point"
        geometry = geometry if count["lines"] or count["points"] else ""
        kind, because = guessed_kind(word, kinds=kinds or USUAL_KINDS, codes=codes, geometry=geometry)
        told = {"lines": count["lines"], "points": count["points"], "others": count["others"],
                "blocks": count["blocks"]}  # fmt: skip
        found.append(DesignWord(option=option, field=field, word=word, kind=kind, because=because, **told))
    return tuple(sorted(_telling(found), key=_place(found)))


def _in_drawing(path: Path) -> Iterator[tuple[Option, str, str, str]]:
    """Option, attribute, word and type of every visible entity of the model space."""
    for entity in opened_drawing(path).modelspace():
        what = entity.dxftype()
        if entity.dxf.get("invisible", 0):
            continue
        yield "layers", "", layer_of(entity), what
        if what == "INSERT":
            yield "blocks", "", str(entity.dxf.get("name", "")), what
            for attribute in getattr(entity, "attribs", ()):
                text = str(attribute.dxf.get("text", "")).strip()
                if text:
                    yield "values", str(attribute.dxf.get("tag", "")), text, what
        if what in _LINES | _POINTS:
            if linetype := linetype_of(entity):
                yield "linetypes", "", linetype, what
            if colour := colour_of(entity):
                yield "colours", "", colour, what


def _in_features(path: Path) -> Iterator[tuple[Option, str, str, str]]:
    if path.suffix.lower() in (".geojson", ".json"):
        layer, held, _ = read_geojson(path, read_text(path).data)
        layers: Iterable = [(layer, held)]
    else:
        layers = ((each, features_of(path, each)) for each in layers_of(path)[0])
    for layer, features in layers:
        for feature in features:
            yield "layers", "", layer.name, feature.shape
            for field, value in feature.attributes.items():
                if isinstance(value, str) and value.strip():
                    yield "values", field, value.strip(), feature.shape


def _telling(found: list[DesignWord]) -> Iterator[DesignWord]:
    """All words but the values of attributes that hold names, notes or numbers."""
    values = Counter(each.field for each in found if each.option == "values")
    repeated = {each.field for each in found if each.lines + each.points + each.others > 1 or each.kind}
    for each in found:
        if each.option != "values" or (values[each.field] <= MOST_VALUES and each.field in repeated):
            yield each


def _place(found: list[DesignWord]) -> Callable[[DesignWord], tuple[int, int, str, str]]:
    known = Counter(each.field for each in found if each.option == "values" and each.kind)
    return lambda each: (_ORDER.index(each.option), -known[each.field] if each.field else 0, each.field, each.word)
