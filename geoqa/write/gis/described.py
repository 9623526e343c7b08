"""What a GeoPackage says about itself by its standard: names and meanings of columns, words of a column, metadata.

Both are extensions that the standard names (OGC 12-128r19, annexes F.9 and F.8). A reader that does not know them takes
the columns by their names.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import date
from xml.etree import ElementTree

_SCHEMA = """
CREATE TABLE gpkg_data_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT,
 description TEXT, mime_type TEXT, constraint_name TEXT, CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
 CONSTRAINT gdc_tn UNIQUE (table_name, name));
CREATE TABLE gpkg_data_column_constraints (constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT,
 min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT,
 CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value));
"""
_METADATA = """
CREATE TABLE gpkg_metadata (id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL, md_scope TEXT NOT NULL
 DEFAULT 'dataset', md_standard_uri TEXT NOT NULL, mime_type TEXT NOT NULL DEFAULT 'text/xml',
 metadata TEXT NOT NULL DEFAULT '');
CREATE TABLE gpkg_metadata_reference (reference_scope TEXT NOT NULL, table_name TEXT, column_name TEXT,
 row_id_value INTEGER, timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
 md_file_id INTEGER NOT NULL, md_parent_id INTEGER,
 CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id),
 CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id));
"""
_EXTENSIONS = (
    ("gpkg_data_columns", "gpkg_schema", "http://www.geopackage.org/spec121/#extension_schema"),
    ("gpkg_data_column_constraints", "gpkg_schema", "http://www.geopackage.org/spec121/#extension_schema"),
    ("gpkg_metadata", "gpkg_metadata", "http://www.geopackage.org/spec121/#extension_metadata"),
    ("gpkg_metadata_reference", "gpkg_metadata", "http://www.geopackage.org/spec121/#extension_metadata"),
)
VERDICT = "verdict"
_DUBLIN_CORE = "http://purl.org/dc/elements/1.1/"


def begin(file: sqlite3.Connection) -> None:
    """Make the tables of both extensions, and say that they are there."""
    for statement in (*_SCHEMA.split(";"), *_METADATA.split(";")):
        if statement.strip():
            file.execute(statement)
    file.executemany(
        "INSERT INTO gpkg_extensions (table_name, column_name, extension_name, definition, scope) "
        "VALUES (?, NULL, ?, ?, 'read-write')",
        _EXTENSIONS,
    )


def put_words(file: sqlite3.Connection, said: Mapping[str, str]) -> None:
    """Say which words stand in columns `verdict`, and what each says."""
    file.executemany(
        "INSERT INTO gpkg_data_column_constraints (constraint_name, constraint_type, value, description) "
        "VALUES (?, 'enum', ?, ?)",
        [(VERDICT, word, text) for word, text in said.items()],
    )


def put_columns(
    file: sqlite3.Connection, layer: str, meanings: Mapping[str, str], aliases: Mapping[str, str] | None = None
) -> None:
    """Say what the columns of a layer hold, and what people call them.

    Parameters
    ----------
    file : Connection
    layer : str
    meanings : mapping of column to text
    aliases : mapping of column to text, or None
        No two alike; None where the names of the columns do.
    """
    called = aliases or {}
    columns = sorted({*meanings, *called})
    file.executemany(
        "INSERT INTO gpkg_data_columns (table_name, column_name, name, title, description, constraint_name) "
        "VALUES (?, ?, ?, ?, ?, ?)",
        [
            (
                layer,
                column,
                called.get(column),
                called.get(column),
                meanings.get(column),
                VERDICT if column == VERDICT and called else None,
            )
            for column in columns
        ],
    )


def put_metadata(file: sqlite3.Connection, said: Mapping[str, str], *, day: date) -> None:
    """Say once for the file what it is: elements of the Dublin Core (ISO 15836), such as title and coverage."""
    ElementTree.register_namespace("dc", _DUBLIN_CORE)
    root = ElementTree.Element("metadata")
    for name, text in said.items():
        ElementTree.SubElement(root, f"{{{_DUBLIN_CORE}}}{name}").text = text
    text = '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(root, encoding="unicode")
    file.execute(
        "INSERT INTO gpkg_metadata (id, md_scope, md_standard_uri, mime_type, metadata) "
        "VALUES (1, 'dataset', ?, 'text/xml', ?)",
        (_DUBLIN_CORE, text),
    )
    file.execute(
        "INSERT INTO gpkg_metadata_reference (reference_scope, timestamp, md_file_id) VALUES ('geopackage', ?, 1)",
        (f"{day.isoformat()}T00:00:00.000Z",),
    )
