"""Layouts with known answers: every file is read right or asked about, and none is wrong without a word."""

import os
from pathlib import Path

import pandas as pd
import pytest

from bench.layouts import layouts, other_seeds, outcome, page, tally
from geoqa.errors import OrderError, SourceError
from geoqa.model.quantity import FOOT
from geoqa.read.check_policy import CheckPolicyText
from geoqa.read.control import ControlText
from geoqa.read.shots import ShotsText, offsets_only

PAGE = Path(__file__).resolve().parents[2] / "docs" / "layouts.md"


@pytest.fixture
def read(tmp_path):
    def go(text, reader=ShotsText, **options):
        path = tmp_path / "day.txt"
        path.write_text(text, encoding="utf-8")
        return reader(**options).read(path, source="day")

    return go


def told(source, what):
    return [each for each in source.evidence if each.what == what]


@pytest.mark.long
def test_no_layout_is_read_wrong_without_a_word_and_the_page_says_which_are_asked(tmp_path):
    path = tmp_path / "d.txt"
    alone = [outcome(each, path) for each in layouts()]
    beside = [outcome(each, path, beside=True) for each in layouts()]
    assert len(alone) >= 60
    assert tally(alone)["wrong"] == 0, [each for each in alone if each.word == "wrong"]
    assert tally(beside) == {"right": len(beside), "asked": 0, "wrong": 0}
    if os.environ.get("GEOQA_WRITE_DOCS"):
        PAGE.write_text(page(alone, beside), encoding="utf-8", newline="\n")
    assert PAGE.read_text(encoding="utf-8") == page(alone, beside), "docs/layouts.md is old"


@pytest.mark.score
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_other_traits_and_numbers_change_nothing(tmp_path, seed):
    path = tmp_path / "d.txt"
    read = [outcome(other_seeds(each, seed), path, seed=seed, beside=True) for each in layouts()]
    assert tally(read)["wrong"] == tally(read)["asked"] == 0


@pytest.mark.parametrize("at", [0, 13, 37, 61, 85])
def test_some_of_them_quickly(tmp_path, at):
    assert outcome(layouts()[at], tmp_path / "d.txt", beside=True).word == "right"


def test_the_score_finds_a_reader_that_is_wrong(tmp_path, monkeypatch):
    shape = next(each for each in layouts() if each.head == "long" and each.order == "N E")
    swapped = ShotsText(columns={"easting": "Northing", "northing": "Easting"})
    monkeypatch.setattr("bench.layouts.ShotsText", lambda **_: swapped)
    assert outcome(shape, tmp_path / "d.txt").word == "wrong"


def test_a_tab_file_whose_descriptions_hold_numbers_is_cut_at_tabs(read):
    rows = "".join(f"{n}\t{415000 + n}.25\t{1415000 + n}.5\t{900 + n}.1\tSWF {n} cracked\n" for n in range(1, 30))
    shots = read("Pt\tNorth (ft)\tEast\tElev\tDescription\n" + rows).layers["shots"]
    assert shots["northing"].tolist() == [415000.25 + n for n in range(1, 30)]
    assert shots["code"].tolist() == [f"SWF {n} cracked" for n in range(1, 30)]


def test_prose_with_blanks_does_not_make_a_comma_file_one_of_blanks(read):
    text = "rule,limit,action,reference\nopening,30 min,warn,clause 4 page 12\nclosing,45 min,reject,clause 5 page 3\n"
    policy = read(text, CheckPolicyText).layers["check_policy"]
    assert policy["limit"].tolist() == ["30 min", "45 min"]
    assert policy["reference"].tolist() == ["clause 4 page 12", "clause 5 page 3"]


def test_a_decimal_comma_between_blanks_is_no_delimiter(read):
    text = "1415000,25 415000,50 900,10\n1415001,25 415001,50 900,20\n"
    shots = read(text, columns=("easting", "northing", "elevation")).layers["shots"]
    assert shots["easting"].tolist() == [1415000.25, 1415001.25]


def test_a_description_at_the_end_of_a_row_cut_by_blanks_may_hold_blanks(read):
    text = "Pt North East Elev Desc\n1 415000.1 1415000.2 900.1 SWF 2 cracked\n2 415001.1 1415001.2 900.2 MH\n"
    source = read(text + "3 415001.1 1415001.2 MH rim\n")
    assert source.layers["shots"]["code"].tolist() == ["SWF 2 cracked", "MH", "rim"]
    assert source.layers["shots"]["elevation"].isna().tolist() == [False, False, True]
    assert [each.line for each in source.troubles] == [4]
    short = read(text + "3 415001.1 1415001.2 MH rim low\n")
    assert short.layers["shots"]["shot"].tolist() == ["1", "2"]
    assert [each.line for each in short.troubles] == [4]


def test_comments_are_left_out_and_counted_and_a_name_with_a_hash_is_none(read):
    source = read("# by the office\nPt,North,East\n#12,415000.1,1415000.2\n// new battery\n13,415001.1,1415001.2\n")
    assert source.layers["shots"]["shot"].tolist() == ["#12", "13"]
    assert source.layers["shots"]["line"].tolist() == [3, 5]
    assert told(source, "comments")[0].answer == "2 lines left out"
    quoted = read('Pt,North,East,Note\n1,415000.1,1415000.2,"one\n# two"\n')
    assert quoted.layers["shots"]["note"].tolist() == ["one\n# two"]


def test_a_header_behind_a_hash_is_the_header(read):
    shots = read("#Pt East North Elev\n1 1415000.2 415000.1 900.1\n").layers["shots"]
    assert shots[["easting", "northing"]].iloc[0].tolist() == [1415000.2, 415000.1]


def test_units_below_the_header_are_those_of_the_headings(read):
    source = read("Pt,North,East,Elev\n-,(ift),(ift),(ift)\n1,415000.1,1415000.2,900.1\n")
    assert source.unit == FOOT
    assert source.layers["shots"]["shot"].tolist() == ["1"]
    with pytest.raises(SourceError, match="two units for coordinates"):
        read("Pt,North,East,Elev\n,m,m,ft\n1,415000.1,1415000.2,900.1\n")


@pytest.mark.parametrize(
    ("heading", "ours"),
    [
        ("RodHeight", "rod_height"),
        ("TiltAzimuth", "tilt_azimuth"),
        ("HRMS", "reported_h"),
        ("Local Time", "time"),
        ("UTCTime", "time"),
        ("FeatureCode", "code"),
        ("OrthoHeight", "elevation"),
        ("TiltAngle (deg)", "tilt"),
    ],
)
def test_headings_in_capitals_and_local_words_are_known(tmp_path, heading, ours):
    path = tmp_path / "day.csv"
    path.write_text(f"PtNo,East_ftUS,North_ftUS,{heading}\n1,1415000.2,415000.1,3\n", encoding="utf-8")
    assert ours in ShotsText().peek(path).holds


def test_grid_coordinates_are_those_of_shots_marks_and_design(tmp_path):
    path = tmp_path / "any.csv"
    path.write_text("Pt,Grid N,Grid E,Ortho Ht\n1,1415000.2,415000.1,3\n", encoding="utf-8")
    for reader in (ShotsText(), ControlText()):
        assert {"easting", "northing", "elevation"} <= set(reader.peek(path).holds)


def test_a_time_of_day_takes_its_day_from_its_column_or_from_the_job(read):
    beside = read("Pt,East,North,Date,Time\n1,1.5,2.5,2026-04-14,08:12:33\n", time_zone="America/New_York")
    stated = read("Pt,East,North,Local Time\n1,1.5,2.5,08:12:33.5\n", time_zone="UTC", date="2026-04-14")
    assert beside.layers["shots"]["time"].astype("str").tolist() == ["2026-04-14 12:12:33+00:00"]
    assert stated.layers["shots"]["time"][0] == pd.Timestamp("2026-04-14T08:12:33.5Z")
    assert told(stated, "day of the times")[0].because == "date = 2026-04-14 in the job"


def test_a_session_of_the_job_is_that_of_rows_that_name_none(read):
    source = read("Pt,East,North,Session\n1,1.5,2.5,B\n2,1.5,2.5,\n", session="A")
    assert source.layers["shots"]["session"].tolist() == ["B", "A"]


def test_a_setup_of_the_job_is_that_of_rows_that_name_no_initialization(read):
    source = read("Pt,East,North,Setup\n1,1.5,2.5,B2\n2,1.5,2.5,\n", setup="A1")
    assert source.layers["shots"]["initialization"].tolist() == ["B2", "A1"]
    assert str(told(source, "setup")[0]) == "setup: A1, for 1 shot (stated in the job for this file)"
    assert read("Pt,East,North\n1,1.5,2.5\n").layers["shots"]["initialization"].isna().all()


def test_columns_without_a_header_are_asked_with_both_lines_and_looked_at_all_the_same(tmp_path):
    path = tmp_path / "day.txt"
    path.write_text("1,415000.1,1415000.2,900.1,SWF\n2,415001.1,1415001.2,900.2,MH\n", encoding="utf-8")
    with pytest.raises(OrderError) as refused:
        ShotsText().read(path, source="d")
    either = [
        f'columns = ["shot", "{a}", "{b}", "elevation", "code"]'
        for a, b in (("easting", "northing"), ("northing", "easting"))
    ]
    assert all(line in str(refused.value) for line in either)
    peek = ShotsText().peek(path)
    assert {"easting", "northing", "elevation", "code"} <= set(peek.holds)
    (asked,) = [each for each in peek.evidence if each.what == "order of columns"]
    assert all(line in asked.answer for line in either)
    assert asked.answer.count("columns = [") == 2


@pytest.mark.parametrize("last", ["08:12:33", "2026-04-14", "3"])
def test_a_last_column_that_is_no_note_is_asked(read, last):
    with pytest.raises(SourceError, match="column 6 would be the note"):
        read(f"1,415000.1,1415000.2,900.1,SWF,{last}\n", near=(1415000, 415000))


def test_a_table_of_offsets_is_doubted(tmp_path):
    path = tmp_path / "antenna.csv"
    path.write_text("Band,North,East,Up\nL1,0.58,-1.20,66.31\nL2,-0.11,0.74,65.02\n", encoding="utf-8")
    assert "offsets, not shots" in ShotsText().peek(path).doubt
    path.write_text("Pt,North,East,Elev\n1,0.58,-1.20,66.31\n", encoding="utf-8")
    assert offsets_only(ShotsText().peek(path)) == ""


def test_a_very_wide_table_takes_no_time_for_its_width(tmp_path):
    import time

    path = tmp_path / "wide.csv"
    width = 3000
    head = ",".join(f"Attribute number {n}" for n in range(width))
    row = ",".join(f"val{n}" if n % 3 else "" for n in range(width))
    text = f"mark,easting,northing,elevation,{head}\n" + "".join(f"P{n},1.5,2.5,3.5,{row}\n" for n in range(4))
    path.write_text(text, encoding="utf-8")
    began = time.process_time()
    control = ControlText().read(path, source="d").layers["control"]
    assert len(control) == 4
    assert time.process_time() - began < 3.0


@pytest.mark.parametrize(("mark", "name"), [(",", "comma"), (";", "semicolon"), ("\t", "tab")])
def test_a_delimiter_in_a_description_at_the_end_of_a_row_without_a_header_is_part_of_it(read, mark, name):
    rows = [mark.join((str(n), f"{446000 + n}.25", f"{2228500 + n}.50", f"{900 + n}.10", "EP")) for n in range(1, 31)]
    rows[3] += f" cracked{mark} see photo 12{mark}north"
    rows[5] = rows[5].removesuffix("EP") + f"MH{mark}"
    columns = ("shot", "northing", "easting", "elevation", "code")
    source = read("\n".join(rows) + "\n", columns=columns)
    shots = source.layers["shots"]
    assert shots["code"].tolist() == [
        *["EP"] * 3,
        f"EP cracked{mark} see photo 12{mark}north",
        "EP",
        "MH",
        *["EP"] * 24,
    ]
    assert shots["elevation"].tolist() == [pytest.approx(900.1 + n) for n in range(1, 31)]
    assert source.troubles == ()
    [found] = told(source, "last column")
    assert found.answer == f"2 rows with a {name} in it, taken whole"


@pytest.mark.parametrize(
    "row",
    [
        "9,,446009.25,2228509.50,909.10,EP",
        "9,446009.25,,2228509.50,909.10,EP",
        "9,446009.25,2228509.50,,909.10,EP",
        "9,446009.25,2228509.50,909.10,,EP",
        "9,1,446009.25,2228509.50,909.10,EP",
        "9,446,009.25,2228509.50,909.10,EP",
        "9,446009.25,2228509.50,909,10,EP",
        "9,446009.25,2228509.50,EP,wet,cold",
        "9,446009.25,2228509.50,909.1x,EP,cold",
    ],
)
def test_a_comma_too_many_anywhere_before_the_description_still_loses_the_row_and_is_told(read, row):
    rows = [f"{n},{446000 + n}.25,{2228500 + n}.50,90{n}.10,EP" for n in range(1, 9)]
    columns = ("shot", "northing", "easting", "elevation", "code")
    source = read("\n".join([*rows, row]) + "\n", columns=columns)
    assert source.layers["shots"]["shot"].tolist() == list("12345678")
    assert [each.reason for each in source.troubles] == ["has 6 fields where the table has 5"]


@pytest.mark.parametrize(
    ("columns", "last"),
    [
        (("shot", "northing", "easting", "elevation", "solution"), "fixed"),
        (("shot", "northing", "easting", "elevation", "code"), "12"),
        (("shot", "northing", "easting", "elevation", "time"), "2026-03-14T14:00:00Z"),
        (("shot", "northing", "easting", "elevation", ""), "EP"),
    ],
)
def test_a_last_column_that_is_no_description_takes_no_surplus_fields(read, columns, last):
    rows = [f"{n},{446000 + n}.25,{2228500 + n}.50,90{n}.10,{last}" for n in range(1, 9)]
    source = read("\n".join([*rows, rows[0].replace("1,", "9,", 1) + ",wet"]) + "\n", columns=columns)
    assert len(source.layers["shots"]) == 8
    assert [each.line for each in source.troubles] == [9]


def test_under_a_header_a_row_with_a_field_too_many_is_not_read(read):
    rows = [f"{n},{446000 + n}.25,{2228500 + n}.50,90{n}.10,EP" for n in range(1, 9)]
    source = read("\n".join(["shot,northing,easting,elevation,code", *rows, rows[0] + ",wet"]) + "\n")
    assert [each.line for each in source.troubles] == [10]
