"""Tables without shapes in a GeoPackage: all of them over one connection, written and read as SQL.

The library that writes shapes opens the whole file for every layer, and a job has five times as many tables without
shapes. What is written here is what that library would write, to the declared types, the counts and the triggers that
keep them.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

FIELDS = {
    "str": "TEXT",
    "float64": "REAL",
    "Float64": "REAL",
    "int64": "INTEGER",
    "Int64": "INTEGER",
    "int32": "MEDIUMINT",
    "Int32": "MEDIUMINT",
    "bool": "BOOLEAN",
    "boolean": "BOOLEAN",
    "datetime64[us, UTC]": "DATETIME",
}
"""Declared type of a field by the dtype of its column (OGC 12-128r19, table 1)."""
_NULLABLE = frozenset({"Float64", "Int64", "Int32", "boolean"})


@contextmanager
def opened(path: Path, *, to_write: bool) -> Iterator[sqlite3.Connection]:
    """Open a GeoPackage; what was written is kept when all of it was."""
    mode = "rw" if to_write else "ro"
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode={mode}", uri=True)) as file:
        if to_write:  # the file is new and has its place only when it was read again: there is nothing to roll back to
            file.execute("PRAGMA synchronous = OFF")
            file.execute("PRAGMA journal_mode = MEMORY")
            file.execute("BEGIN")
        with file:
            yield file


def holdable(table: pd.DataFrame) -> bool:
    """Whether every column of a table is of a dtype that is written here."""
    return all(str(dtype) in FIELDS for dtype in table.dtypes)


def put(
    file: sqlite3.Connection, name: str, table: pd.DataFrame, description: str, *, day: date, key: str = "fid"
) -> None:
    """Write one table, with its entry in the list of contents.

    Parameters
    ----------
    file : Connection
        Of a GeoPackage that has the table of counts already.
    name, description : str
    table : DataFrame
        `holdable`.
    day : date
        When it was last changed.
    key : str
        Name of the column of row numbers.
    """
    fields = [f"{_quoted(str(column))} {FIELDS[str(dtype)]}" for column, dtype in table.dtypes.items()]
    columns = ", ".join([f"{_quoted(key)} INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL", *fields])
    file.execute(f"CREATE TABLE {_quoted(name)} ( {columns})")
    if len(table):
        names = ", ".join(_quoted(str(column)) for column in table.columns)
        marks = ", ".join("?" * len(fields))
        rows = zip(*[_values(column) for _, column in table.items()], strict=True)
        file.executemany(f"INSERT INTO {_quoted(name)} ({names}) VALUES ({marks})", rows)
    file.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change, srs_id) "
        "VALUES (?, 'attributes', ?, ?, ?, 0)",
        (name, name, description, f"{day.isoformat()}T00:00:00.000Z"),
    )
    file.execute("INSERT INTO gpkg_ogr_contents (table_name, feature_count) VALUES (?, ?)", (name, len(table)))
    for event, sign in (("insert", "+"), ("delete", "-")):
        trigger = _quoted(f"trigger_{event}_feature_count_{name}")
        file.execute(
            f"CREATE TRIGGER {trigger} AFTER {event.upper()} ON {_quoted(name)} "
            f"BEGIN UPDATE gpkg_ogr_contents SET feature_count = feature_count {sign} 1 "
            f"WHERE lower(table_name) = lower({_text(name)}); END"
        )


def taken_out(file: sqlite3.Connection, name: str, *, key: str = "fid") -> pd.DataFrame:
    """A table without shapes, as the file holds it, in the order of its rows."""
    import pandas as pd

    rows = file.execute(f"SELECT * FROM {_quoted(name)} ORDER BY {_quoted(key)}")
    names = [column for column, *_ in rows.description]
    return pd.DataFrame(rows.fetchall(), columns=names)


def _values(column: pd.Series) -> list[Any]:
    """Values as they are bound to a statement; a NaN is bound as null."""
    kind = FIELDS[str(column.dtype)]
    if kind == "DATETIME":
        return _times(column)
    if kind == "TEXT":
        return column.to_numpy(dtype=object).tolist()
    if str(column.dtype) in _NULLABLE:
        return column.array.to_numpy(dtype=object, na_value=None).tolist()
    return column.to_numpy().tolist()


def _times(column: pd.Series) -> list[str | None]:
    """ISO 8601 in UTC, to the millisecond where there are any."""
    import numpy as np

    made: list[str | None] = []
    for time in (column.to_numpy("datetime64[us]") + np.timedelta64(500, "us")).astype("datetime64[ms]"):
        made.append(None if np.isnat(time) else f"{str(time).removesuffix('.000')}Z")
    return made


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _text(value: str) -> str:
    return "'" + value.replace("'", "''") + "'"
