"""Workbooks: what a cell holds is what is read, and what a sheet cannot tell is refused."""

import datetime
import zipfile

import numpy as np
import pytest
from openpyxl import Workbook

from geoqa.errors import SourceError
from geoqa.read.design_table import DesignText
from geoqa.read.levels import LevelsText
from geoqa.read.shots import ShotsText
from geoqa.read.workbook.books import ControlBook, DesignBook, LevelsBook, ShotsBook

SHOTS = [
    ["Point", "Easting", "Northing", "Elevation", "Code", "Note", "Time"],
    [101, 2228500.125, 446000.5, 1460.25, "SWF", 'cracked, 6" pipe', datetime.datetime(2026, 5, 12, 14, 0)],
    ["007", 2228510.1, 446001.0, None, "SWF", "tab\tand\nline", None],
    [103, 2228520.0, 446002.0, 1461.123456789, "CTB", None, datetime.datetime(2026, 5, 12, 14, 2)],
]
CONTROL = [["mark", "easting", "northing", "elevation"], ["CP-1", 2228000.0, 446000.0, 1460.0]]


def book(path, **sheets):
    made = Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    made.save(path)
    return path


def text(path, rows):
    def cell(value):
        plain = "" if value is None else " ".join(str(value).split())
        return '"' + plain.replace('"', '""') + '"'

    path.write_text("".join(",".join(cell(value) for value in row) + "\n" for row in rows), encoding="utf-8")
    return path


def test_a_sheet_reads_as_the_same_rows_of_text_do(tmp_path):
    sheet = ShotsBook().read(book(tmp_path / "a.xlsx", day=SHOTS), source="day").layers["shots"]
    same = ShotsText().read(text(tmp_path / "a.csv", SHOTS), source="day").layers["shots"]
    assert sheet["shot"].tolist() == ["101", "007", "103"]
    assert sheet["note"].tolist()[:2] == ['cracked, 6" pipe', "tab and line"]
    compared = ["shot_key", "shot", "line", "easting", "northing", "elevation", "code", "note"]
    assert sheet[compared].equals(same[compared])
    assert sheet["elevation"].iloc[2] == 1461.123456789


def test_a_row_keeps_its_number(tmp_path):
    rows = [["Site book", None], [], *SHOTS[:2], [], SHOTS[3]]
    read = ShotsBook(skip=2).read(book(tmp_path / "a.xlsx", day=rows), source="day").layers["shots"]
    assert read["line"].tolist() == [4, 6]


def test_the_sheet_that_reads_as_the_table_is_taken(tmp_path):
    path = book(tmp_path / "a.xlsx", notes=[["Remarks"], ["none"]], marks=CONTROL)
    read = ControlBook().read(path, source="control")
    assert read.layers["control"]["mark"].tolist() == ["CP-1"]
    assert any(each.what == "sheet" and each.answer == "marks" for each in read.evidence)


def test_two_sheets_that_could_be_meant_are_asked_about(tmp_path):
    path = book(tmp_path / "a.xlsx", old=CONTROL, new=CONTROL)
    with pytest.raises(SourceError, match='sheets old, new all read as control; state one, sheet = "old"'):
        ControlBook().read(path, source="control")
    assert len(ControlBook(sheet="new").read(path, source="control").layers["control"]) == 1
    with pytest.raises(SourceError, match="has no sheet 'newest'; it has old, new"):
        ControlBook(sheet="newest").read(path, source="control")


def test_a_hidden_sheet_is_only_read_when_named(tmp_path):
    made = Workbook()
    made.active.title = "shown"
    for row in CONTROL:
        made.active.append(row)
    hidden = made.create_sheet("before")
    hidden.sheet_state = "hidden"
    for row in CONTROL:
        hidden.append(row)
    made.save(tmp_path / "a.xlsx")
    assert ControlBook().read(tmp_path / "a.xlsx", source="c").facts["columns"].startswith("mark")


def test_a_formula_that_was_never_worked_out_is_refused(tmp_path):
    rows = [*CONTROL, ["CP-2", 2228100.0, "=C2+100", 1460.0]]
    with pytest.raises(SourceError, match="sheet marks, row 3, column 3: holds a formula whose value was never stored"):
        ControlBook().read(book(tmp_path / "a.xlsx", marks=rows), source="control")


def test_an_error_in_a_cell_is_a_bad_row(tmp_path):
    rows = [*CONTROL, ["CP-2", 2228100.0, "#REF!", 1460.0]]
    with pytest.raises(SourceError, match=r"line 3, northing: '#REF!' is not a number"):
        ControlBook().read(book(tmp_path / "a.xlsx", marks=rows), source="control")


@pytest.mark.parametrize("part", ["xl/worksheets/sheet1.xml", "xl/workbook.xml"])
def test_a_document_type_is_refused(tmp_path, part):
    good = book(tmp_path / "good.xlsx", marks=CONTROL)
    with zipfile.ZipFile(good) as old, zipfile.ZipFile(tmp_path / "bad.xlsx", "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name == part:
                data = data.replace(b"<worksheet", b'<!DOCTYPE x [<!ENTITY a "b">]><worksheet', 1)
                data = data.replace(b"<workbook ", b'<!DOCTYPE x [<!ENTITY a "b">]><workbook ', 1)
            new.writestr(name, data)
    with pytest.raises(SourceError, match="declares a document type"):
        ControlBook().read(tmp_path / "bad.xlsx", source="control")


@pytest.mark.parametrize("content", [b"", b"mark,easting\n", b"PK\x03\x04 not really"])
def test_what_is_no_workbook_is_refused_in_a_sentence(tmp_path, content):
    (tmp_path / "a.xlsx").write_bytes(content)
    with pytest.raises(SourceError, match="is no workbook"):
        ControlBook().read(tmp_path / "a.xlsx", source="control")


def test_levels_and_design_come_in_the_same_way(tmp_path):
    levels = [["point", "BS", "IS", "FS", "distance"], ["M1", 5.0, None, None, None], ["102", None, 6.0, None, 50]]
    levels += [["M2", None, None, 2.02, 300]]
    read = LevelsBook().read(book(tmp_path / "l.xlsx", run=levels), source="run").layers["levels"]
    same = LevelsText().read(text(tmp_path / "l.csv", levels), source="run").layers["levels"]
    assert read.equals(same)
    design = [["line", "point", "kind", "easting", "northing", "elevation"], ["CTB-L", None, "curb-top", 0, 0, 10.0]]
    design += [["CTB-L", None, "curb-top", 0, 100, 11.0], [None, "MH-1", "manhole", 20, 30, 9.5]]
    read = DesignBook().read(book(tmp_path / "d.xlsx", design=design), source="d").layers
    same = DesignText().read(text(tmp_path / "d.csv", design), source="d").layers
    assert read["design_elements"].equals(same["design_elements"])
    assert np.allclose(read["design_points"]["elevation"], [9.5])


def test_a_sheet_has_cells_and_the_job_stated_nothing():
    from geoqa.read.delimited.layout import layout_of

    lines = ["shot\teasting", "1\t2.5"]
    made = layout_of(lines, name="a.xlsx", is_column=lambda word: word in ("shot", "easting"), delimiter="\t",
                     decimal=".", cut_because="a sheet's cells")  # fmt: skip
    told = {each.what: each.because for each in made.evidence}
    assert told["delimiter"] == told["decimal mark"] == "a sheet's cells"


@pytest.mark.parametrize("seed", range(3))
def test_a_damaged_workbook_is_refused_in_a_sentence_or_read(tmp_path, seed):
    whole = book(tmp_path / "whole.xlsx", day=SHOTS).read_bytes()
    rng, path, told = np.random.default_rng(seed), tmp_path / "damaged.xlsx", []
    for _ in range(30):
        data = bytearray(whole)
        at = int(rng.integers(len(data)))
        match rng.integers(4):
            case 0:
                data[at] ^= 1 << int(rng.integers(8))
            case 1:
                data[at:at] = b"1e9"
            case 2:
                del data[at : at + 5]
            case _:
                data[at] = 0
        path.write_bytes(data)
        for look in (ShotsBook().peek, lambda file: ShotsBook().read(file, source="x")):
            try:
                look(path)
            except SourceError as error:
                told.append(str(error))
    assert told
    assert all("damaged.xlsx" in each for each in told)
