"""Lists for desk and field, as text and as a workbook that is opened again."""

import csv
import re
import zipfile
from dataclasses import replace
from html import unescape

import pandas as pd
import pytest
from openpyxl import load_workbook

from geoqa.errors import OutputError
from geoqa.model.results import Results
from geoqa.model.tables.layer import Layers, placed
from geoqa.write.sheets import workbook
from geoqa.write.sheets.lists import FIELD_CAUTION, SHOTS_FILE
from geoqa.write.sheets.sheets import FILE, Sheets


@pytest.fixture
def folder(results, tmp_path):
    assert set(Sheets().write(results, tmp_path)) == {"findings_list.csv", "return_list.csv", FILE}
    return tmp_path


@pytest.fixture
def book(folder):
    return load_workbook(folder / FILE)


def _rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _with_findings(results, change):
    findings = results.findings.drop(columns="geometry").copy()
    change(findings)
    layers = {**dict(results.layers), "findings": placed("findings", findings, results.layers.frame)}
    frame = results.layers.frame
    return Results(title=results.title, layers=Layers(layers, frame=frame), summary={}, record={})


def test_the_findings_list_holds_what_is_reported_worst_first(results, folder):
    rows = _rows(folder / "findings_list.csv")
    assert rows[0]["finding"] == "F000000000005"
    assert len(rows) == len(results.reported) == 7
    assert rows[-1]["verdict"] == "NO_DATA"
    assert [int(row["number"]) for row in rows] == list(range(1, 8))


def test_a_count_is_no_deviation(results, tmp_path):
    def counted(findings):
        mine = findings["finding"] == "F000000000009"
        findings.loc[mine, ["quantity", "label", "check"]] = ["count", "3 shots of D2", "extra"]
        findings.loc[mine, ["measured", "deviation", "lower", "upper"]] = [3.0, 3.0, float("-inf"), 0.0]

    Sheets().write(_with_findings(results, counted), tmp_path)
    row = next(each for each in _rows(tmp_path / "findings_list.csv") if each["finding"] == "F000000000009")
    assert [row["in_words"], row["unit"]] == ["3 shots of D2", "count"]
    assert [row[name] for name in ("deviation", "lower", "upper", "u")] == ["", "", "", ""]


def test_words_stand_beside_the_numbers_and_no_number_is_finer_than_what_is_printed(results, folder):
    row = next(each for each in _rows(folder / "findings_list.csv") if each["finding"] == "F000000000009")
    assert row["in_words"] == "0.30 ft right (south side); allowed: 0.10 left or right"
    assert row["deviation"] == "0.3"
    for each in _rows(folder / "findings_list.csv"):
        assert all(len(each[name].partition(".")[2]) <= 3 for name in ("deviation", "lower", "u", "easting"))
    assert row["station_text"] == "10+00.00"
    assert row["point"] == "100"
    assert row["unit"] == "ft"


def test_the_return_list_has_the_columns_of_a_file_of_shots(results, folder):
    rows = _rows(folder / "return_list.csv")
    assert tuple(rows[0]) == SHOTS_FILE
    assert [row["point"] for row in rows] == ["102", "'-2+3 3"]
    assert all(row["elevation"] == "" == row["time_utc"] for row in rows)
    assert float(rows[0]["easting"]) == results.shots.set_index("shot_key")["easting"]["day1/102"]
    assert rows[0]["code"] == "CTB"


def test_the_return_list_says_its_caution_once_and_first(folder):
    told = [row["note"].count(FIELD_CAUTION) for row in _rows(folder / "return_list.csv")]
    assert told == [1] + [0] * (len(told) - 1)
    assert "do not enter a structure" in FIELD_CAUTION
    assert "unprotected trench" in FIELD_CAUTION


def test_a_remedy_is_said_where_there_is_one_and_one_place_is_one_row(results, tmp_path):
    def change(findings):
        findings.loc[findings["finding"] == "F000000000007", "remedy"] = "one level reading"
        findings.loc[findings["finding"] == "F000000000006", "shot"] = "day1/102"

    Sheets().write(_with_findings(results, change), tmp_path)
    (row,) = _rows(tmp_path / "return_list.csv")
    assert row["note"].startswith(
        "offset 0.15 ft left, undecided: one level reading; offset 0.12 ft left, not judged: the shot has no elevation"
    )


@pytest.mark.long
@pytest.mark.parametrize("why", ["no-limit", "no-design", "no-mark", "no-uncertainty"])
def test_nobody_is_sent_back_for_what_is_missing_at_the_desk(results, tmp_path, why):
    def change(findings):
        findings.loc[findings["finding"].isin(["F000000000006", "F000000000007"]), "why"] = why

    told = _with_findings(results, change)
    Sheets().write(told, tmp_path)
    assert _rows(tmp_path / "return_list.csv") == []
    Sheets().read_back(told, tmp_path)


def test_the_workbook_prints_on_letter_landscape_with_its_head_on_every_page(book):
    for sheet in book.worksheets:
        # paper size 1 is Letter, 8.5 by 11 in: ECMA-376 part 1, 18.3.1.63 (value from memory)
        assert (sheet.page_setup.orientation, sheet.page_setup.paperSize) == ("landscape", 1)
        widths = sum(each.width for each in sheet.column_dimensions.values())
        across = sheet.page_setup.fitToWidth
        assert sheet.page_setup.fitToHeight == 0
        assert (across - 1) * 150 < widths <= across * 150  # characters a page: no smaller than can be read
        assert sheet.print_title_cols == ("$A:$B" if across > 1 else None)
        assert sheet.oddFooter.right.text == "Page &P of &N"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        head = int(sheet.freeze_panes[1:]) - 1
        assert sheet.print_title_rows == f"$1:${head}"
        assert sheet.auto_filter.ref.startswith(f"A{head}:")


def test_all_text_of_a_list_for_people_shows(book):
    """A cell is wrapped, so that its row grows: no text is cut at the edge of its column."""
    seen = 0
    for name in ("About", "Items", "Return list"):
        for row in book[name].iter_rows(min_row=int(book[name].freeze_panes[1:])):
            for cell in (each for each in row if each.value is not None):
                assert cell.alignment.wrap_text
                assert cell.alignment.vertical == "top"
                seen += len(str(cell.value)) > book[name].column_dimensions[cell.column_letter].width
    assert seen


def test_cells_have_types(book, results):
    sheet = book["Findings"]
    head = [cell.value for cell in sheet[2]]
    row = next(each for each in sheet.iter_rows(min_row=3) if each[1].value == "F000000000009")
    said = dict(zip(head, row, strict=True))
    assert said["deviation"].value == 0.3
    assert said["deviation"].data_type == "n"
    assert said["verified"].value is True
    assert said["easting"].number_format == "0.000"
    assert "lower_text" not in said  # no limit to one side is an empty cell, without a word of infinity
    assert isinstance(said["number"].value, int)


def test_the_caution_stands_above_the_return_list_and_no_certification_above_the_findings(book):
    assert book["Return list"]["A1"].value == FIELD_CAUTION
    assert "not a certification" in book["Findings"]["A1"].value


def test_no_cell_of_the_workbook_is_a_formula(book):
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                assert not (isinstance(cell.value, str) and cell.value[:1] in set("=+@\t\r\n"))


def test_hostile_text_fits_a_cell_and_comes_back():
    assert workbook.cell_text("=1\x00\r\n2") == "'=1␀\n2"
    assert len(workbook.cell_text("x" * 40_000)) == workbook.LONGEST


def test_the_dates_inside_the_workbook_are_the_jobs(folder):
    with zipfile.ZipFile(folder / FILE) as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        core = archive.read("docProps/core.xml").decode("utf-8")
    assert core.count("2026-03-20T00:00:00Z") == 2


def test_the_workbook_says_frame_and_review_on_its_first_sheet(book):
    said = {row[0]: row[1] for row in book["About"].iter_rows(values_only=True)}
    assert said["review"].startswith("PRELIMINARY")
    assert said["unit_name"] == "international foot"
    assert "record" not in said


def test_a_changed_cell_is_found_out(results, folder):
    book = load_workbook(folder / FILE)
    book["Findings"]["D3"] = "IN"
    book.save(folder / FILE)
    with pytest.raises(OutputError, match=r"checked\.xlsx, Findings, gives back another verdict in row 1: 'IN'"):
        Sheets().read_back(results, folder)


def test_a_job_without_findings_gives_lists_with_heads_only(results, tmp_path):
    tables = {name: table.iloc[:0] for name, table in results.layers.items()}
    frame = results.layers.frame
    empty = Results(title=results.title, layers=Layers(tables, frame=frame), summary={}, record={})
    Sheets().write(empty, tmp_path)
    assert pd.read_csv(tmp_path / "return_list.csv").columns.tolist() == list(SHOTS_FILE)
    Sheets().read_back(empty, tmp_path)


@pytest.mark.long
def test_a_return_list_that_comes_back_filled_in_is_read_as_a_file_of_shots(results, folder, tmp_path):
    from geoqa.read.shots import ShotsText

    lines = (folder / "return_list.csv").read_text(encoding="utf-8")
    filled = tmp_path / "day2.csv"
    filled.write_text(lines.replace('446000.667,,"CTB"', '446000.667,1461.734,"CTB"'), encoding="utf-8")
    shots = ShotsText().read(filled, source="day2").layers["shots"]
    assert shots["shot"].iloc[0] == "102"
    assert shots["elevation"].iloc[0] == 1461.734
    assert shots["code"].iloc[0] == "CTB"
    assert shots["elevation"].isna().iloc[1]


def test_a_place_nobody_shot_is_named_by_its_finding_and_its_line(results, tmp_path):
    def change(findings):
        findings.loc[findings["finding"] == "F000000000007", ["shot", "label"]] = [None, "10+50 to 11+00"]

    Sheets().write(_with_findings(results, change), tmp_path)
    row = _rows(tmp_path / "return_list.csv")[0]
    assert row["point"] == "10+50 to 11+00"
    assert row["line_id"] == "CTB-L"
    assert row["code"] == ""


@pytest.mark.parametrize("title", ["Curb && walk", "A&[Page] of &[Tab]", "&" * 150, "a" * 199 + "&b", "&&12 &L left"])
def test_a_printed_head_says_every_ampersand_and_nothing_else_than_the_title(results, tmp_path, title):
    named = replace(results.title, name=title, revision="")
    Sheets().write(replace(results, title=named), tmp_path)
    text = zipfile.ZipFile(tmp_path / FILE).read("xl/worksheets/sheet1.xml").decode("utf-8")
    code = unescape(re.search(r"<oddHeader>(.*?)</oddHeader>", text)[1]).removeprefix("&L")
    # two ampersands print one, and one alone begins a command: ECMA-376 part 1, 18.3.1.46 (from memory)
    assert re.sub("&&", "", code).count("&") == 0
    assert len(code) <= 200
    said = code.replace("&&", "&").replace("& [", "&[")
    assert title.startswith(said)
    assert len(said) == len(title) or len(code) >= 198
