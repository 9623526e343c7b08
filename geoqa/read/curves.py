"""Curved geometries in a GeoPackage, found before reading turns them into chords."""

from __future__ import annotations

import sqlite3
import struct
from pathlib import Path

from geoqa.errors import SourceError

_ENVELOPE = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}
"""Bytes of the envelope in a GeoPackage geometry, by its code."""

_CURVED = {8: "CircularString", 9: "CompoundCurve", 10: "CurvePolygon", 11: "MultiCurve", 12: "MultiSurface"}
"""Codes of curved types in well-known binary, modulo 1000 for Z and M."""


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
