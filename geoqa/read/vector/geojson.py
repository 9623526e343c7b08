"""GeoJSON read as the JSON it is, because the general library fills a missing Z with 0."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from geoqa.errors import SourceError
from geoqa.read.vector.features import Feature, Layer, feature_of
from geoqa.read.vector.sound_text import sound_text, sound_value


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
    except (ValueError, RecursionError) as error:
        raise SourceError(f"'{path.name}' is no JSON: {error}. Was it cut off? Export it again.") from None
    items = held.get("features") if isinstance(held, dict) and held.get("type") == "FeatureCollection" else None
    if not isinstance(items, list):
        raise SourceError(f"'{path.name}' is JSON but no GeoJSON FeatureCollection. Export the design as features.")
    if not items:
        raise SourceError(f"'{path.name}' holds no feature. Export it again, with the design in it.")
    features = []
    halves = b"\\u" in data.lower()
    for number, each in enumerate(items, start=1):
        shape, attributes = _member(each, "geometry"), _member(each, "properties")
        what, coordinates = shape.get("type", ""), shape.get("coordinates") or shape.get("geometries")
        if halves:
            attributes = {sound_text(key): sound_value(value) for key, value in attributes.items()}
        features.append(feature_of(number, attributes, what, coordinates))
    crs, why = _geojson_crs(held, features)
    fields = tuple(dict.fromkeys(key for each in features for key in each.attributes))
    return Layer(name=path.stem, fields=fields, crs=crs), features, why


def _member(held: object, name: str) -> dict[str, Any]:
    found = held.get(name) if isinstance(held, dict) else None
    return found if isinstance(found, dict) else {}


def _geojson_crs(held: dict[str, Any], features: list[Feature]) -> tuple[str | None, str]:
    member = held.get("crs")
    if isinstance(member, dict):
        name = sound_text(str(_member(member, "properties").get("name", "")))
        pieces = name.split(":")
        if "EPSG" in pieces and pieces[-1].isdigit():
            return f"EPSG:{pieces[-1]}", f"crs member {name}"
        if pieces[-1] == "CRS84":
            return "OGC:CRS84", f"crs member {name}"
        return (name or None), f"crs member {name or 'without a name'}"
    parts = (part for each in features for part in each.parts if isinstance(part, list))
    far = next((vertex for part in parts for vertex in part if _is_grid(vertex)), None)
    if far is not None:
        return None, f"no crs member, and {far[0]}, {far[1]} is no longitude and latitude"
    return "OGC:CRS84", "no crs member: longitude and latitude by RFC 7946"


def _is_grid(vertex: Any) -> bool:
    try:
        return abs(float(vertex[0])) > 180.0 or abs(float(vertex[1])) > 90.0
    except OverflowError:
        return True
    except (TypeError, ValueError, IndexError, KeyError):
        return False
