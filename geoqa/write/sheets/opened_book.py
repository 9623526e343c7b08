"""A workbook opened again: the values of its cells, read from the file itself.

A library would make an object of each cell, which takes ten times as long as writing them.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

    import pandas as pd

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_LINK = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_BOOK, _LINKS, _SHARED = "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/sharedStrings.xml"
_INLINE, _TEXT, _HELD = (f"{_MAIN}{tag}" for tag in ("is", "t", "v"))
_DIGITS = "0123456789"

Value = str | int | float | bool | None


def opened(path: Path) -> dict[str, pd.DataFrame]:
    """Every worksheet of a workbook as a table under its frozen head; an empty cell is None."""
    import pandas as pd

    tables = {}
    with zipfile.ZipFile(path) as book:
        links = {each.get("Id"): each.get("Target", "") for each in ElementTree.fromstring(book.read(_LINKS))}
        shared = _shared(book)
        for sheet in ElementTree.fromstring(book.read(_BOOK)).iter(f"{_MAIN}sheet"):
            target = links[sheet.get(_LINK)]
            file = target.removeprefix("/") if target.startswith("/") else f"xl/{target}"
            held = ElementTree.fromstring(book.read(file))
            pane = held.find(f"{_MAIN}sheetViews/{_MAIN}sheetView/{_MAIN}pane")
            head = int(pane.get("ySplit", "1")) - 1 if pane is not None else 0
            rows = list(_rows(held, shared))
            named = rows[head] if len(rows) > head else {}
            cells = {at: [row.get(letters) for row in rows[head + 1 :]] for at, letters in enumerate(named)}
            table = pd.DataFrame(cells, dtype=object)
            table.columns = pd.Index(list(named.values()), dtype=object)
            tables[sheet.get("name", "")] = table
    return tables


def _shared(book: zipfile.ZipFile) -> list[str]:
    """Texts that cells of several worksheets share, as other programs keep them."""
    if _SHARED not in book.namelist():
        return []
    return [_text(each) for each in ElementTree.fromstring(book.read(_SHARED)).iter(f"{_MAIN}si")]


def _text(held: Element) -> str:
    return "".join(part.text or "" for part in held.iter(f"{_MAIN}t"))


def _rows(sheet: Element, shared: list[str]) -> Iterator[dict[str, Value]]:
    """Values of each row by the letters of their column; a row that is left out has none."""
    expected = 1
    for row in sheet.iterfind(f"{_MAIN}sheetData/{_MAIN}row"):
        number = int(row.get("r", expected))
        for _ in range(expected, number):
            yield {}
        expected = number + 1
        yield {cell.attrib["r"].rstrip(_DIGITS): _value(cell, shared) for cell in row}


def _value(cell: Element, shared: list[str]) -> Value:
    kind = cell.get("t", "n")
    if kind == "inlineStr":
        inner = cell.find(_INLINE)  # step by step: a path of two is not looked for in C
        text = None if inner is None else inner.findtext(_TEXT)
        return _text(cell) if text is None else text
    held = cell.find(_HELD)
    text = "" if held is None else held.text or ""
    if kind == "n":
        if not text:
            return None
        return int(text) if text.lstrip("-").isdigit() else float(text)
    if kind == "s":
        return shared[int(text)]
    return text == "1" if kind == "b" else text
