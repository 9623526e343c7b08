"""Workbooks of the spreadsheet library and of our own, opened again."""

import datetime as dt

import pandas as pd
import pytest
from openpyxl import Workbook, load_workbook

from geoqa.write.sheets import workbook
from geoqa.write.sheets.opened_book import opened
from geoqa.write.sheets.workbook import Page

HOSTILE = ["=1+1", " kept ", "a\tb", "two\nlines", "</sheetData>", "<r><t>x</t></r>", "_x0041_", "&amp;", "naïve ▲ 𝄞"]


@pytest.fixture
def book(tmp_path):
    table = pd.DataFrame(
        {
            "text": pd.Series([*HOSTILE, None], dtype="str"),
            "verdict": pd.Series(["OUT", "IN"] * 5, dtype="str"),
            "deviation": [0.1 + 0.2, -0.15, 12.0, 1e-9, 13_000_000.123, 1e16, 0.5, -1e-300, float("nan"), 3.0],
            "count": pd.Series([1, 2, None, 4, 5, 6, 7, 8, 9, -10], dtype="Int64"),
            "true": pd.Series([True, False, None] * 3 + [True], dtype="boolean"),
        }
    )
    path = tmp_path / "book.xlsx"
    pages = {"First": Page(table=table.iloc[:0]), "Rows": Page(table=table, above=("a line above",))}
    workbook.write(path, pages, title="A & B", footer="x & y", day=dt.date(2026, 5, 15), opened="Rows")
    return path, table


def test_every_cell_comes_back_and_numbers_to_the_last_digit(book):
    path, table = book
    held = opened(path)
    assert list(held) == ["First", "Rows"]
    assert list(held["First"].columns) == list(table.columns)
    assert held["First"].empty
    back = held["Rows"]
    assert back["text"].tolist() == [*(workbook.cell_text(text) for text in HOSTILE), None]
    assert back["count"].tolist() == [1, 2, None, 4, 5, 6, 7, 8, 9, -10]
    assert back["true"].tolist() == [True, False, None] * 3 + [True]
    numbers = table["deviation"].tolist()
    assert back["deviation"].tolist()[:8] == numbers[:8]
    assert back["deviation"].tolist()[8] is None


def test_the_spreadsheet_library_reads_the_same(book):
    path, _ = book
    ours = opened(path)["Rows"]
    sheet = load_workbook(path)["Rows"]
    rows = list(sheet.iter_rows(min_row=3, values_only=True))
    assert [list(row) for row in rows] == ours.to_numpy().tolist()
    assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)
    assert sheet["C3"].number_format == "0.00"
    assert sheet["B3"].font.b
    assert not sheet["A3"].font.b


def test_what_another_program_saved_is_read_too(tmp_path):
    book = Workbook()
    sheet = book.active
    sheet.title = "A sheet"
    sheet.append(["name", "value"])
    sheet.append([None, 1.5])
    sheet.append(["shared", True])
    sheet.append([])
    sheet.append(["shared", 7])
    sheet.freeze_panes = "A2"
    book.save(tmp_path / "other.xlsx")
    held = opened(tmp_path / "other.xlsx")["A sheet"]
    assert held["name"].tolist() == [None, "shared", None, "shared"]
    assert held["value"].tolist() == [1.5, True, None, 7]


def test_same_tables_give_the_same_bytes(book, tmp_path):
    path, table = book
    pages = {"First": Page(table=table.iloc[:0]), "Rows": Page(table=table, above=("a line above",))}
    again = tmp_path / "again.xlsx"
    workbook.write(again, pages, title="A & B", footer="x & y", day=dt.date(2026, 5, 15), opened="Rows")
    assert again.read_bytes() == path.read_bytes()
