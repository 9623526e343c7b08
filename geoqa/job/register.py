"""The register of items: numbers that people cite, kept in the record of the output folder from run to run."""

import json
from pathlib import Path
from typing import Any

from geoqa.errors import OutputError
from geoqa.job.earlier import RECORD
from geoqa.model.tables.in_rows import in_rows
from geoqa.model.tables.layer import Layers

KEPT = (
    "item", "state", "chapter", "verdict", "finding", "check", "kind", "subject", "why", "members", "told", "seen",
    "rows",
)  # fmt: skip
"""Columns of `items` that the record keeps."""
PLACE = ("easting", "northing")
"""The same where an item has a place, as texts to the thousandth."""
EARLIER = "earlier_items"
"""Layer that holds the register of the run before, while the steps run."""
LARGEST_ITEM = 10_000_000


def registered(layers: Layers) -> list[dict[str, Any]]:
    """Rows of the register, JSON-ready; empty where no step numbered anything."""
    if "items" not in layers:
        return []
    rows = layers["items"][list(KEPT)].astype(object)
    for name in PLACE:
        rows[name] = [f"{each:.3f}" if each == each else each for each in layers["items"][name]]
    return [{name: value for name, value in row.items() if value == value} for row in in_rows(rows)]


def with_earlier_items(layers: Layers, folder: Path) -> Layers:
    """Layers with the register that the run before left in its output folder; the same layers where there is none.

    Raises
    ------
    OutputError
        The record holds a register that cannot be read: numbers that somebody may have cited would be given anew.
    """
    import pandas as pd

    rows = _rows(folder / RECORD)
    if not rows:
        return layers
    table = pd.DataFrame(rows).reindex(columns=list(KEPT)).astype("str").replace("nan", None)
    table = table.assign(findings=0)
    for name in PLACE:
        table[name] = pd.to_numeric(pd.Series([row.get(name) for row in rows]), errors="coerce").astype(float)
    return type(layers)({**dict(layers), EARLIER: table}, frame=layers.frame)


def without_earlier_items(layers: Layers) -> Layers:
    """Layers as a run without an earlier one leaves them: what was read of it is no result."""
    if EARLIER not in layers:
        return layers
    return type(layers)({name: table for name, table in layers.items() if name != EARLIER}, frame=layers.frame)


def _rows(record: Path) -> list[dict[str, str]]:
    try:
        text = record.read_text(encoding="utf-8")
    except (OSError, ValueError):
        return []
    try:
        rows = json.loads(text).get("items", [])
        if all(_whole(row) for row in rows) and len({row["item"] for row in rows}) == len(rows):
            return list(rows)
    except (ValueError, TypeError, AttributeError, RecursionError):
        pass
    raise OutputError(
        f"The numbers of items in {record.parent.name}/{record.name} cannot be read: the file was changed or is "
        "damaged. Put back the one of the last run, or delete it: then all items are numbered anew."
    )


def _whole(row: Any) -> bool:
    known = isinstance(row, dict) and all(isinstance(value, str) for value in row.values())
    return known and row.get("item", "").isdecimal() and 0 < int(row["item"][:9]) < LARGEST_ITEM
