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


_NUMBERS = ("REAL", "DOUBLE", "FLOAT", "INT", "MEDIUMINT", "SMALLINT", "TINYINT", "BIGINT", "NUMERIC", "DECIMAL")
"""How the types of columns of numbers begin."""


def refuse_damaged(path: Path) -> None:
    """Refuse a GeoPackage that is not whole.

    Raises
    ------
    SourceError
        It is empty or no database, a page is damaged, it lacks the tables of a GeoPackage, or shows a view as a layer.
    """
    if path.is_file() and not path.stat().st_size:
        raise SourceError(f"'{path.name}' is empty; export it again.")
    with _opened(path) as file:
        (found,) = file.execute("PRAGMA quick_check(1)").fetchone()
        if found != "ok":
            raise sqlite3.DatabaseError(str(found))
        file.execute("SELECT name, sql FROM sqlite_master").fetchall()
        file.execute("SELECT table_name, data_type, identifier, srs_id FROM gpkg_contents").fetchall()
        file.execute("SELECT table_name, column_name, geometry_type_name FROM gpkg_geometry_columns").fetchall()
        file.execute("SELECT srs_name, organization, definition FROM gpkg_spatial_ref_sys").fetchall()
        views = {name.casefold() for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'view'")}
        shown = [name for (name,) in file.execute("SELECT table_name FROM gpkg_contents") if name.casefold() in views]
    if shown:
        raise SourceError(
            f"'{path.name}': {', '.join(sorted(shown))} is a view, which is computed when it is read and may never "
            "end; nothing but tables is read. Export it as a table."
        )


def views_in(path: Path) -> list[str]:
    """Names of the views of a GeoPackage; none is ever read."""
    with _opened(path) as file:
        return [str(name) for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'view'")]


def refuse_text_for_numbers(path: Path, table: str) -> None:
    """Refuse a table with text in a column of numbers: the vector library reads it as 0.

    Raises
    ------
    SourceError
    """
    quoted = table.replace('"', '""')
    with _opened(path) as file:
        columns = [(name, str(kind).upper()) for _, name, kind, *_ in file.execute(f'PRAGMA table_info("{quoted}")')]
        for column in [name for name, kind in columns if kind.startswith(_NUMBERS)]:
            named = column.replace('"', '""')
            query = f"""SELECT rowid, "{named}" FROM "{quoted}" WHERE typeof("{named}") IN ('text', 'blob') LIMIT 1"""
            found = file.execute(query).fetchone()
            if found is not None:
                held = found[1] if isinstance(found[1], str) else "bytes"
                raise SourceError(
                    f"'{path.name}', table {table}, row {found[0]}: column {column} holds '{held[:40]}', which is no "
                    "number; put the number there, or leave it empty."
                )


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
