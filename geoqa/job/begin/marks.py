"""Which list of a folder holds its control marks, told by what the shots of other files name."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from geoqa.errors import GeoqaError, OrderError
from geoqa.job.begin.listing import Found
from geoqa.job.document.quoted import quoted
from geoqa.job.inputs.descriptions import CHECK_WORDS
from geoqa.model.source import Source

if TYPE_CHECKING:
    import pandas as pd

FEWEST_NAMED = 2
"""Marks of a list that other files must name before it is taken for control."""
MOST_MARKS = 200
"""Rows of a list of marks, at most."""


def either_order(orders: Sequence[tuple[str, ...]]) -> dict[str, str]:
    """The question of an order of columns, with both readings."""
    either = " or ".join(f"[{', '.join(quoted(each) for each in order)}]" for order in orders)
    return {"columns": f"{either}? Nothing in the folder tells which."}


def names_of_open(
    found: list[Found], open_orders: Mapping[int, OrderError], sources: Mapping[str, Source]
) -> "dict[str, pd.DataFrame]":
    """Shots of files whose order of columns nothing settles: what they name does not depend on it."""
    tables = {}
    for at, error in open_orders.items():
        file = found[at]
        if file.role == "shots" and file.shown not in sources:
            reader = file.reader().in_order(error.orders[0], "")  # type: ignore[attr-defined]
            with suppress(GeoqaError):  # what is wrong with it is told where it is asked for
                tables[file.shown] = reader.read(file.path, source="").layers["shots"]
    return tables


def control_by_content(
    found: list[Found], sources: dict[str, Source], of_open: "Mapping[str, pd.DataFrame]"
) -> list[Found]:
    """A short list of places whose names other files of shots speak of is a list of marks."""
    if any(file.role == "control" for file in found):
        return found
    shots = {
        file.shown: sources[file.shown].layers["shots"]
        for file in found
        if file.role == "shots" and file.shown in sources
    } | dict(of_open)
    if len(shots) < 2:
        return found
    best: tuple[int, Found] | None = None
    for file in found:
        mine = shots.get(file.shown)
        if (
            mine is None
            or not 0 < len(mine) <= MOST_MARKS
            or mine["shot"].isna().any()
            or mine["shot"].duplicated().any()
        ):
            continue
        others = [table for shown, table in shots.items() if shown != file.shown and len(table) > len(mine)]
        spoken = named({str(name).strip() for name in mine["shot"]}, others)
        if spoken >= FEWEST_NAMED and (best is None or spoken > best[0]):
            best = spoken, file
    if best is None:
        return found
    count, file = best
    why = f"taken as control because shots of other files name {count} of its points; if not, make it a [[shots]] table"
    marks = _as_marks(file, sources, why)
    return [marks if marks is not None and each is file else each for each in found]


_OF_A_MARK = dict(shot="mark", code="reference", note="")  # noqa: C408 - no note of the declared kind


def _as_marks(file: Found, sources: dict[str, Source], why: str) -> Found | None:
    """A list that read as shots as one of marks, in the order that was settled for it, if it has no header."""
    options = dict(file.options)
    if "columns" in options:
        order, because = options["columns"]
        options["columns"] = tuple(_OF_A_MARK.get(each, each) for each in order), because  # type: ignore[attr-defined]
    use = "" if file.path.suffix.lower() in (".csv", ".xml", ".xlsx") else "control.csv"
    marks = replace(file, role="control", use=use, options=options, why=why)
    try:
        marks = replace(marks, peek=marks.reader().peek(file.path))
        sources[file.shown] = marks.reader().read(file.path, source=file.path.stem)
    except OrderError as error:
        return replace(marks, asks={**file.asks, **either_order(error.orders)})
    except GeoqaError:
        return None
    return marks


def named(names: set[str], tables: "Sequence[pd.DataFrame]") -> int:
    """How many of these names stand as a word in codes, notes and line IDs; a bare number only behind a check word."""
    asked = {name for name in names if any(mark.isalpha() for mark in name)}
    words, checked = set[str](), set[str]()
    for table in tables:
        for column in ("code", "note", "line_id"):
            if column in table:
                for text in table[column].dropna().unique():
                    parts = str(text).replace(",", " ").replace(";", " ").split()
                    words.update(parts)
                    words.add(str(text).strip())
                    checked |= {after for word, after in pairwise(parts) if word.upper() in CHECK_WORDS}
    return len(asked & words) + len((names - asked) & checked)
