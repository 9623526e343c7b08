"""A sheet of a workbook (Office Open XML) as lines of text, a row a line; nothing in it is worked out or followed."""

from __future__ import annotations

import datetime
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.errors import SourceError
from geoqa.model.source import Evidence
from geoqa.model.words import many
from geoqa.read.delimited.text import Text, existing

if TYPE_CHECKING:
    from openpyxl import Workbook

MOST_BYTES = 1_000_000_000
"""Bytes that a workbook may unpack to."""
_FIRST_ROWS = 2_000
_SUFFIX_OF_TEXT = (".xml", ".rels", ".vml")


def open_workbook(path: Path, *, formulas: bool = False) -> Workbook:
    """Open a workbook to read values, or the formulas behind them.

    Raises
    ------
    SourceError
        It is none, holds XML declarations of its own, or unpacks to more than a table can be.
    """
    path = existing(path)
    with _whole(path):
        _refuse_hostile(path)
        from openpyxl import load_workbook

        return load_workbook(path, read_only=True, data_only=not formulas, keep_links=False)


@contextmanager
def _whole(path: Path) -> Iterator[None]:
    """Refuse in one sentence what a damaged part makes the libraries raise; they read parts as late as they can."""
    try:
        yield
    except SourceError:
        raise
    except Exception as error:  # a broken archive, text that is no XML, a style that is not there, and more
        raise SourceError(
            f"'{path.name}' cannot be read as a workbook: it is damaged ({type(error).__name__}). Save it again as "
            ".xlsx, or save the sheet as CSV."
        ) from None


def _refuse_hostile(path: Path) -> None:
    if not zipfile.is_zipfile(path):
        raise SourceError(f"'{path.name}' is no workbook (.xlsx is a zip archive); save it again, or as CSV.")
    with zipfile.ZipFile(path) as archive:
        parts = archive.infolist()
        if sum(part.file_size for part in parts) > MOST_BYTES:
            raise SourceError(
                f"'{path.name}' unpacks to more than {MOST_BYTES // 1_000_000} MB; save the sheet as CSV."
            )
        for part in parts:
            if not part.filename.lower().endswith(_SUFFIX_OF_TEXT):
                continue
            with archive.open(part) as file:
                # a document type stands before the first element; it is ASCII but for a zero beside each letter
                head = file.read(4096).replace(b"\0", b"")
            if b"<!DOCTYPE" in head or b"<!ENTITY" in head:
                raise SourceError(
                    f"'{path.name}': its part {part.filename} declares a document type, which no workbook needs; "
                    "not read."
                )


def sheet_names(path: Path) -> tuple[str, ...]:
    """Names of the sheets that are shown and hold cells.

    Raises
    ------
    SourceError
        As `open_workbook`.
    """
    book = open_workbook(path)
    with _whole(path):
        return tuple(sheet.title for sheet in book.worksheets if sheet.sheet_state == "visible" and _any_cell(sheet))


def _any_cell(sheet: Any) -> bool:
    return any(value is not None for row in sheet.iter_rows(max_row=_FIRST_ROWS, values_only=True) for value in row)


def sheet_text(path: Path, sheet: str) -> Text:
    """Read a sheet as text: fields cut by tabs, one line a row, so that a line keeps its row's number.

    A number is written with the digits that tell it from its neighbours, a date by ISO 8601, an empty cell as nothing.

    Raises
    ------
    SourceError
        There is no such sheet, or a formula was never worked out.
    """
    book = open_workbook(path)
    if sheet not in book.sheetnames:
        raise SourceError(
            f"'{path.name}' has no sheet '{sheet}'; it has {', '.join(book.sheetnames)}. State sheet = \"…\"."
        )
    with _whole(path):
        rows = [tuple(row) for row in book[sheet].iter_rows(values_only=True)]
        _refuse_unworked(path, sheet, rows)
    width = max((at + 1 for row in rows for at, value in enumerate(row) if value is not None), default=1)
    lines = ("\t".join(_cell(value) for value in (*row, *(None,) * width)[:width]) for row in rows)
    data = "".join(f"{line}\n" for line in lines)
    said = Evidence(what="sheet", answer=sheet, because=many(len(rows), "row"))
    return Text(data=data.encode("utf-8", errors="replace"), encoding="workbook", evidence=(said,))


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime.datetime):
        return value.isoformat(sep=" ") if value.time() != datetime.time() else value.date().isoformat()
    text = " ".join(str(value).split())
    return '"' + text.replace('"', '""') + '"' if '"' in text else text


def _refuse_unworked(path: Path, sheet: str, rows: list[tuple[Any, ...]]) -> None:
    """Refuse a formula whose value the file does not hold: it reads as an empty cell, and nobody would know."""
    empty = {(at, column) for at, row in enumerate(rows) for column, value in enumerate(row) if value is None}
    if not empty:
        return
    for at, row in enumerate(open_workbook(path, formulas=True)[sheet].iter_rows(values_only=True)):
        for column, value in enumerate(row):
            if (at, column) in empty and isinstance(value, str) and value.startswith("="):
                raise SourceError(
                    f"'{path.name}', sheet {sheet}, row {at + 1}, column {column + 1}: holds a formula whose value was "
                    "never stored. Open it in a spreadsheet and save it, or keep values in place of formulas."
                )
