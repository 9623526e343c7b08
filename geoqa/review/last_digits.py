"""Whether two files differ in nothing but last digits of numbers, as between two processors."""

import math
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from itertools import zip_longest
from pathlib import Path
from typing import Any

import shapely

CLOSE = 1e-9
"""Of the size of a number, or of 1: what sums in another order leave is a thousandth of that or less."""
SAID = "only last digits of numbers differ, as between two processors"
_HEADER = 8
_BOX = (0, 32, 48, 48, 64)
"""Bytes of the box in the header of a shape, by its kind; GeoPackage 1.3, clause 2.1.3."""


def only_last_digits(then: Path, now: Path) -> bool:
    """Whether two GeoPackages hold the same, but for last digits; False for files of any other kind.

    Parameters
    ----------
    then, now : Path

    Returns
    -------
    bool
        False also where one of them cannot be read: it was changed.
    """
    if then.suffix != ".gpkg" or not then.is_file():
        return False
    try:
        return all(_close(one, other) for one, other in zip_longest(_cells(then), _cells(now), fillvalue=()))
    except (sqlite3.Error, shapely.errors.ShapelyError, IndexError):
        return False


def _cells(path: Path) -> Iterator[Any]:
    """Every cell of every table in order, with what the tables are; indexes of places follow from them."""
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as file:
        tables = file.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table' ORDER BY name").fetchall()
        for name, made in tables:
            if name.startswith(("rtree_", "sqlite_")):
                continue
            yield f"{name} {made}"
            for row in file.execute('SELECT * FROM "{}" ORDER BY rowid'.format(name.replace('"', '""'))):
                yield from row
                yield None


def _close(one: Any, other: Any) -> bool:
    if type(one) is not type(other):
        return False
    if isinstance(one, float):
        return one == other or math.isclose(one, other, rel_tol=CLOSE, abs_tol=CLOSE)
    if isinstance(one, bytes) and one != other and one[:2] == other[:2] == b"GP":
        return bool(shapely.equals_exact(_shape(one), _shape(other), tolerance=1e-6)) and one[3:8] == other[3:8]
    return bool(one == other)


def _shape(held: bytes) -> shapely.Geometry:
    return shapely.from_wkb(held[_HEADER + _BOX[(held[3] >> 1) & 7] :])
