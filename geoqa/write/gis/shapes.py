"""Shapes in a GeoPackage as its standard writes them: a head of its own, then well-known binary."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

import numpy as np

_HEAD = 8
_ENVELOPE = (0, 32, 48, 48, 64)
"""Bytes of the envelope by its kind (OGC 12-128r19, table 5)."""


def decoded(values: Iterable[bytes | None]) -> np.ndarray:
    r"""Shapes of a column of a table, shape (n,); None where the row has none.

    Raises
    ------
    ValueError
        A value does not begin as a shape of a GeoPackage does.

    Examples
    --------
    >>> import shapely
    >>> decoded([b"GP\x00\x01\xe6\x10\x00\x00" + shapely.Point(1, 2).wkb, None]).tolist()
    [<POINT (1 2)>, None]
    """
    import shapely

    return np.asarray(shapely.from_wkb(np.array([None if each is None else _bare(each) for each in values], object)))


def _bare(value: bytes) -> bytes:
    kind = value[3] >> 1 & 7 if value[:2] == b"GP" and len(value) > _HEAD else len(_ENVELOPE)
    if kind >= len(_ENVELOPE):
        raise ValueError("a shape does not begin as those of a GeoPackage do")
    return value[_HEAD + _ENVELOPE[kind] :]


def systems_of(file: sqlite3.Connection) -> dict[str, int]:
    """Number of the coordinate system of every table with shapes."""
    return dict(file.execute("SELECT table_name, srs_id FROM gpkg_geometry_columns"))
