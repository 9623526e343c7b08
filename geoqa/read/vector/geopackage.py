"""A look into a GeoPackage before the vector library opens it: whether it is whole, and whether it holds curves.

The vector library may end the whole program over a damaged file, and turns curves into chords
without a word; the database engine does neither.
"""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from geoqa.errors import SourceError

_ENVELOPE = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}
"""Bytes of the envelope in a GeoPackage geometry, by its code."""

_CURVED = {8: "CircularString", 9: "CompoundCurve", 10: "CurvePolygon", 11: "MultiCurve", 12: "MultiSurface"}
"""Codes of curved types in well-known binary, modulo 1000 for Z and M."""


def refuse_damaged(path: Path) -> None:
    """Refuse a GeoPackage that is not whole.

    Raises
    ------
    SourceError
        It is no database, a page of it is damaged, or it lacks the tables of a GeoPackage.
    """
    with _opened(path) as file:
        (found,) = file.execute("PRAGMA quick_check(1)").fetchone()
        if found != "ok":
            raise sqlite3.DatabaseError(str(found))
        file.execute("SELECT name, sql FROM sqlite_master").fetchall()
        file.execute("SELECT table_name, data_type, identifier, srs_id FROM gpkg_contents").fetchall()
        file.execute("SELECT table_name, column_name, geometry_type_name FROM gpkg_geometry_columns").fetchall()
        file.execute("SELECT srs_name, organization, definition FROM gpkg_spatial_ref_sys").fetchall()


def curves_in(path: Path, layer: str) -> dict[str, int]:
    """Count the curved geometries of a layer by type; reading would turn them into chords."""
    found: dict[str, int] = {}
    with _opened(path) as file:
        query = "SELECT column_name FROM gpkg_geometry_columns WHERE table_name = ?"
        row = file.execute(query, (layer,)).fetchone()
        if row is None:
            return found
        column, table = (each.replace('"', '""') for each in (row[0], layer))
        for (blob,) in file.execute(f'SELECT substr("{column}", 1, 73) FROM "{table}"'):
            shape = _CURVED.get(_type_of(blob))
            if shape:
                found[shape] = found.get(shape, 0) + 1
    return found


@contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as file:
            yield file
    except (sqlite3.Error, UnicodeDecodeError) as error:
        raise SourceError(
            f"'{path.name}' cannot be opened as a vector file: it is no whole GeoPackage ({error}). Export it again."
        ) from None


def _type_of(blob: object) -> int:
    if not isinstance(blob, bytes) or len(blob) < 8:
        return 0
    at = 8 + _ENVELOPE.get((blob[3] >> 1) & 7, 0)
    if len(blob) < at + 5:
        return 0
    return struct.unpack("<I" if blob[at] == 1 else ">I", blob[at + 1 : at + 5])[0] % 1000
