"""Damage to workbooks: that of tables, in cells of a sheet; to the sheets; to the archive itself."""

import csv
import re
from io import BytesIO, StringIO
from random import Random
from typing import Any

from fuzz import tables
from fuzz.damage import Damaged, Table, bytes_damaged, written
from fuzz.seeds import Seed

_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f]")
_NUMBER = re.compile(r"-?(0|[1-9]\d*)(\.\d+)?$")


def typed(text: str) -> Any:
    """A cell as an office program keeps it: a number where it looks like one."""
    if _NUMBER.match(text) and len(text) < 16:
        return float(text) if "." in text else int(text)
    return _FORBIDDEN.sub("", text)[:3000] or None


def book(rows: list[list[str]], *, texts: bool = False, sheets: int = 1, blank: int = 0) -> bytes:
    """A workbook of one table; further sheets are empty."""
    from openpyxl import Workbook

    made = Workbook()
    sheet = made.active
    for _ in range(blank):
        sheet.append([])
    for row in rows:
        sheet.append([_FORBIDDEN.sub("", each)[:3000] or None if texts else typed(each) for each in row])
    for number in range(1, sheets):
        made.create_sheet(f"more {number}")
    held = BytesIO()
    made.save(held)
    return held.getvalue()


def rows_in(text: str) -> list[list[str]]:
    """Rows of a comma-separated text."""
    return list(csv.reader(StringIO(text[:100_000])))


def sound(seed: Seed) -> bytes:
    """The sound workbook."""
    return book([list(each) for each in seed.rows])


def damaged(draw: Random, seed: Seed) -> Damaged:
    """One damaged workbook."""
    sort = draw.choice(("table", "table", "table", "sheets", "archive"))
    if sort == "table":
        made = draw.choice((tables.cell, tables.cell, tables.headings, tables.whole))(
            draw, Seed(name=f"{seed.name.split('.')[0]}.csv", rows=seed.rows, one_to_one=seed.one_to_one)
        )
        data = book(rows_in(made.text))
        return Damaged(
            how=made.how,
            write=written("xlsx", {"xlsx": data}),
            text=made.text,
            rows=made.rows,
            row=made.row,
            columns=made.columns,
            other=made.other,
            fewer=made.fewer,
        )
    table = Table.of(seed.rows)
    text = table.text()
    rows = [table.head, *table.rows]
    if sort == "archive":
        how, data = bytes_damaged(draw, sound(seed))
        return Damaged(
            how=f"archive: {how}", write=written("xlsx", {"xlsx": data}), text=text, other=True, columns=None
        )
    how = draw.choice(("numbers as text", "an empty sheet more", "rows above", "no workbook", "empty rows", "wide"))
    data = {
        "numbers as text": lambda: book(rows, texts=True),
        "an empty sheet more": lambda: book(rows, sheets=2),
        "rows above": lambda: book(rows, blank=draw.randrange(1, 4)),
        "no workbook": lambda: text.encode(),
        "empty rows": lambda: book([*rows[:3], [], [""] * len(rows[0]), *rows[3:], [], []]),
        "wide": lambda: book([[*each, *[""] * 30] for each in rows]),
    }[how]()
    return Damaged(how=how, write=written("xlsx", {"xlsx": data}), text=text)
