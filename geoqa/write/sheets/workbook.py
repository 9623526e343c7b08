"""Spreadsheets that print: typed cells, frozen heads, filters, letter landscape, and the same bytes every time."""

from __future__ import annotations

import math
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from io import BytesIO
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from geoqa.model.signs import SIGNS
from geoqa.write.rows import plain_columns
from geoqa.write.text import safe_cell, visible

if TYPE_CHECKING:
    import pandas as pd
    from openpyxl.cell import Cell
    from openpyxl.worksheet._write_only import WriteOnlyWorksheet

LONGEST = 32_000
"""Characters of one cell; the format ends at 32,767."""

MOST_ROWS = 1_000_000
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)
_LAST_ROW = b"</sheetData>"
_LETTER, _WIDEST, _WRAPPED = 1, 48, 34
_ACROSS = 150
"""Characters across a printed page that are still large enough to read: letter landscape, some 8 points."""
_HEAD = 200
"""Characters of a printed head or foot; the format ends at 255."""
_MARGIN = 0.4
"""Inches at the sides of a page."""
_FULL = {"easting": 3, "northing": 3, "elevation": 3, "station": 2, "p_conform": 4}
"""Decimals that a column shows though a number may need fewer."""


@dataclass(frozen=True, kw_only=True)
class Page:
    """One worksheet: a table, and lines that stand above its head.

    In one that is `wrapped` all text of a cell shows, over as many lines as it needs.
    """

    table: pd.DataFrame
    above: tuple[str, ...] = ()
    wrapped: bool = False


def write(path: Path, pages: Mapping[str, Page], *, title: str, footer: str, day: date, opened: str = "") -> None:
    """Write worksheets by name.

    Parameters
    ----------
    path : Path
    pages : mapping of worksheet name to Page
    title, footer : str
        Printed on each page.
    day : date
        The date the file carries.
    opened : str
        Worksheet that is shown when the file is opened; the first without.
    """
    from openpyxl import Workbook
    from openpyxl.writer.excel import ExcelWriter

    book = Workbook(write_only=True)
    rows = [_sheet(book.create_sheet(name), page, title, footer) for name, page in pages.items()]
    if opened in pages:
        book.active = list(pages).index(opened)
    moment = datetime.combine(day, time())
    book.properties.created = book.properties.modified = moment
    book.properties.creator, book.properties.title = "geoqa", visible(title)
    raw = BytesIO()
    ExcelWriter(book, zipfile.ZipFile(raw, "w", zipfile.ZIP_STORED, allowZip64=True)).save()
    filled = {f"xl/worksheets/sheet{number}.xml": text for number, text in enumerate(rows, 1)}
    with zipfile.ZipFile(raw) as made, zipfile.ZipFile(path, "w") as kept:
        for entry in made.infolist():
            steady = zipfile.ZipInfo(entry.filename, _FIRST_DAY)
            steady.compress_type = zipfile.ZIP_DEFLATED
            data = made.read(entry)
            if entry.filename in filled:
                head, end, tail = data.rpartition(_LAST_ROW)
                data = b"".join((head, filled[entry.filename].encode("utf-8"), end, tail))
            kept.writestr(steady, data)


def _sheet(sheet: WriteOnlyWorksheet, page: Page, title: str, footer: str) -> str:
    """Set up a worksheet, write what stands above its rows, and give back the rows as they stand in the file.

    The library makes an object of each cell and takes twenty times as long.
    """
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    names = plain_columns(page.table)
    head = len(page.above) + 1
    last = get_column_letter(max(len(names), 1))
    widths = [_width(name, page.table[name], _WRAPPED if page.wrapped else _WIDEST) for name in names]
    _print_setup(sheet, title, footer, head, pages=max(1, math.ceil(sum(widths) / _ACROSS)))
    sheet.freeze_panes = f"A{head + 1}"
    sheet.auto_filter.ref = f"A{head}:{last}{head + min(len(page.table), MOST_ROWS)}"
    for index, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(index)].width = width
    for line in page.above:
        sheet.append([_styled(WriteOnlyCell(sheet, _text(line)), font=Font(bold=True))])
    bold, wrap = Font(bold=True), Alignment(wrap_text=True, vertical="top")
    sheet.append([_styled(WriteOnlyCell(sheet, _text(name)), font=bold, alignment=wrap) for name in names])
    numbers = range(head + 1, head + 1 + min(len(page.table), MOST_ROWS))
    columns = []
    for index, name in enumerate(names, 1):
        letters = get_column_letter(index)
        bodies = _cells(sheet, name, page.table[name].iloc[:MOST_ROWS], {"alignment": wrap} if page.wrapped else {})
        columns.append(
            [body and f'<c r="{letters}{number}"{body}' for number, body in zip(numbers, bodies, strict=True)]
        )
    each = zip(*columns, strict=True) if columns else ()
    return "".join(f'<row r="{number}">{"".join(row)}</row>' for number, row in zip(numbers, each, strict=True))


def _print_setup(sheet: WriteOnlyWorksheet, title: str, footer: str, head: int, *, pages: int) -> None:
    """Letter landscape, as many pages across as keep it legible; heads, and what names a row, on each of them."""
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = _LETTER
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = pages, 0
    sheet.page_margins.left = sheet.page_margins.right = _MARGIN
    if pages > 1:
        sheet.print_title_cols = "A:B"
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = f"1:{head}"
    sheet.oddHeader.left.text = _printed(title)
    sheet.oddFooter.left.text = _printed(footer)
    sheet.oddFooter.right.text = "Page &P of &N"


def _cells(sheet: WriteOnlyWorksheet, name: str, column: pd.Series, look: dict[str, Any]) -> list[str]:
    """Typed cells of one column as they stand in the file, after their address; a missing one is empty."""
    import pandas as pd

    missing, dtype = column.isna().tolist(), column.dtype
    plain = f' s="{_style(sheet, **look)}"' if look else ""
    if pd.api.types.is_bool_dtype(dtype) or pd.api.types.is_integer_dtype(dtype):
        kind = "b" if pd.api.types.is_bool_dtype(dtype) else "n"
        return [
            "" if absent else f'{plain} t="{kind}"><v>{int(value)}</v></c>'
            for value, absent in zip(column.tolist(), missing, strict=True)
        ]
    if pd.api.types.is_float_dtype(dtype):
        least = next((digits for word, digits in _FULL.items() if name.endswith(word)), 2)
        forms = ["" if absent else _form(each, least) for each, absent in zip(column.tolist(), missing, strict=True)]
        styles = {form: _style(sheet, number_format=form, **look) for form in dict.fromkeys(forms) if form}
        return [
            form and f' s="{styles[form]}" t="n"><v>{value!r}</v></c>'
            for value, form in zip(column.tolist(), forms, strict=True)
        ]
    if isinstance(dtype, pd.DatetimeTZDtype) or pd.api.types.is_datetime64_dtype(dtype):
        return [
            "" if absent else plain + _told(value.isoformat().replace("+00:00", "Z"))
            for value, absent in zip(column, missing, strict=True)
        ]
    texts = [None if absent else str(value) for value, absent in zip(column.tolist(), missing, strict=True)]
    told = {text: "" if text is None else _told(cell_text(text)) for text in dict.fromkeys(texts)}
    bodies = {text: body and plain + body for text, body in told.items()}
    if name == "verdict":
        bodies |= {text: f"{_signed(sheet, text, look)}{told[text]}" for text in SIGNS if text in told}
    return [bodies[text] for text in texts]


def _told(text: str) -> str:
    """The rest of a cell of text."""
    kept = ' xml:space="preserve"' if text != text.strip() else ""
    return f' t="inlineStr"><is><t{kept}>{escape(text)}</t></is></c>'


def _signed(sheet: WriteOnlyWorksheet, verdict: str, look: dict[str, Any]) -> str:
    from openpyxl.styles import Font

    colour = SIGNS[verdict].colour.lstrip("#")
    return f' s="{_style(sheet, font=Font(bold=True, color=f"FF{colour}"), **look)}"'


def _style(sheet: WriteOnlyWorksheet, **styles: Any) -> int:
    """Number of a style in the book."""
    from openpyxl.cell import WriteOnlyCell

    number: int = _styled(WriteOnlyCell(sheet), **styles).style_id
    return number


def _form(value: float, least: int) -> str:
    """As many decimals as the number has, for the table was rounded as it is to be read.

    Examples
    --------
    >>> _form(-0.15, 2), _form(0.028, 2), _form(12.0, 2), _form(0.999871, 2)
    ('0.00', '0.000', '0.00', '0.000000')
    """
    digits = len(f"{value:.9f}".rstrip("0").partition(".")[2])
    return "0." + "0" * max(least, digits)


def cell_text(text: str) -> str:
    """Make text fit one cell and never run: `visible`, a `safe_cell`, line ends as one, no longer than a cell holds."""
    shown = safe_cell(visible(text)).replace("\r\n", "\n").replace("\r", "\n")
    return shown if len(shown) <= LONGEST else shown[: LONGEST - 1] + "…"


def _text(value: object) -> str:
    return cell_text(str(value))


def _printed(text: str) -> str:
    """Text of a printed head or foot: every ampersand doubled, no pair parted where it is cut.

    Examples
    --------
    >>> _printed("Curb && walk"), _printed("A&[Page]")
    ('Curb &&&& walk', 'A&& [Page]')
    """
    doubled = [mark + mark if mark == "&" else mark for mark in visible(text).replace("&[", "& [")]
    ends = accumulate(len(each) for each in doubled)
    return "".join(each for each, end in zip(doubled, ends, strict=True) if end <= _HEAD)


def _styled(cell: Cell, **styles: Any) -> Cell:
    for name, style in styles.items():
        setattr(cell, name, style)
    return cell


def _width(name: str, column: pd.Series, widest: int) -> float:
    sample = [len(name), *(min(len(str(value)), widest) for value in column.head(200).dropna())]
    return float(min(max(sample) + 2, widest))
