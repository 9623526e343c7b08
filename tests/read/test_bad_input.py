"""What cannot be read is refused, with words that say what, where and what to do."""

import pytest

from geoqa.errors import SourceError
from geoqa.read.codes import CodesText
from geoqa.read.control import ControlText
from geoqa.read.screening import ScreeningText
from geoqa.read.shots import ShotsText

HEADER = "point,easting,northing,elevation\n"

REFUSED = {
    "empty": (b"", "is empty"),
    "only line ends": (b"\n\r\n  \n", "is empty"),
    "binary": (bytes(range(256)) * 8, "NUL byte in line 1"),
    "one NUL": (HEADER.encode() + b"1,2.5,3.5,4\x00.5\n", "NUL byte in line 2, so it is binary"),
    "utf-16 without its mark": ((HEADER + "1,2.5,3.5,4.5\n").encode("utf-16-le"), 'set encoding = "utf-16-le"'),
    "workbook": (b"PK\x03\x04rest of it", "a workbook is read where its name ends in .xlsx"),
    "document": (b"%PDF-1.7\n", "PDF document"),
    "database": (b"SQLite format 3\x00more", r"perhaps a GeoPackage; name it as \[\[design\]\]"),
    "compressed": (b"\x1f\x8b\x08more", "compressed; unpack it"),
    "one column": (b"point\n1\n2\n", "one column only"),
    "prose": (b"Dear\nSirs\n", "one column only"),
    "ten megabytes in a line": (
        HEADER.encode() + b"1," + b"9" * 10_000_000 + b"\n",
        "line 2: a line of 10,000,002 bytes",
    ),
    "a long line far down": (
        HEADER.encode() + b"1,2.5,3.5,4.5\n" * 500 + b"7" * 1_000_001 + b"\n",
        "line 502: a line of 1,000,001 bytes",
    ),
    "duplicate headers": (b"point,easting,northing,easting\n1,2,3,4\n", "names 'easting' twice, columns 2 and 4"),
    "two names for one thing": (
        b"point,easting,east,northing\n1,2,3,4\n",
        r"'easting' \(column 2\) and 'east' \(column 3\)",
    ),
    "no northing": (
        b"point,easting,elevation\n1,2,3\n",
        "no column for northing; its columns are point, easting, elevation",
    ),
    "unknown words": (
        b"a,b,c\n1.5,2.5,3.5\n4.5,5.5,6.5\n",
        "no column for easting and northing; its columns are a, b, c",
    ),
    "title above the header": (
        b"A title, here\npoint,easting,northing\n1,2.5,3.5\n2,2.5,3.5\n",
        "has lines above its header 'point, easting, northing'; state skip = their number",
    ),
    "header only": (HEADER.encode(), "has a header and no rows"),
    "no header": (
        b"1,445566.5,2231543.5,9.5\n2,445567.5,2231544.5,9.5\n",
        r"(?s)as easting, northing: about E 445,567 N 2,231,544.*northing, easting: about E 2,231,544 N 445,567.*near",
    ),
    "no header, four decimals": (b"1.5,2.5,3.5,4.5\n1.5,2.5,3.5,4.5\n", "columns with decimals: 1, 2, 3, 4"),
    "no header, elevation first": (
        b"1,9.5,445566.5,2231543.5\n2,9.5,445567.5,2231544.5\n",
        "not the smallest of three",
    ),
    "no header, much after": (b"1,445566.5,2231543.5,9.5,a,b,c\n", "3 columns follow the elevation"),
    "comma in two readings": (
        b"p;e;n\n1;500,125;600,250\n2;501,125;600,250\n",
        "500,125 can be read as 500.125 or as 500125",
    ),
    "both decimal marks": (b"p;e;n\n1;5000,125;600.25\n2;5010,125;600.25\n", r"a comma \(5000,125\) and with a point"),
    "two units": (b"point,easting_ft,northing_m\n1,2.5,3.5\n", "easting in ft, which foot is not said, northing in m"),
    "degrees": (b"point,easting_deg,northing_deg\n1,2.5,3.5\n", "only plane coordinates"),
    "undecodable": (HEADER.encode() + b"1,2.5,3.5,4.5\n2,\x81,3.5,4.5\n", "not cp1252 at line 3"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_file_that_is_no_table_of_shots_is_refused_in_words(tmp_path, case):
    held, message = REFUSED[case]
    path = tmp_path / "shots.csv"
    path.write_bytes(held)
    with pytest.raises(SourceError, match=message):
        ShotsText().read(path, source="d")


def test_a_missing_file_is_named_with_its_folder(tmp_path):
    with pytest.raises(SourceError, match=r"There is no file 'day9\.csv' in .*; check its name"):
        ShotsText().read(tmp_path / "day9.csv", source="d")


def test_a_folder_is_no_file(tmp_path):
    with pytest.raises(SourceError, match="is a folder"):
        ShotsText().read(tmp_path, source="d")


@pytest.mark.parametrize("text", ["NaN", "nan", "inf", "-Infinity", "1e400", "-1e999"])
def test_an_endless_number_is_named_and_null_and_the_rest_goes_on(tmp_path, text):
    path = tmp_path / "shots.csv"
    path.write_text(f"{HEADER}1,2.5,3.5,{text}\n2,2.5,3.5,4.5\n", encoding="utf-8")
    source = ShotsText().read(path, source="d")
    assert source.layers["shots"]["elevation"].isna().tolist() == [True, False]
    assert source.layers["shots"]["raw_elevation"].tolist()[0] == text
    assert [str(each) for each in source.troubles] == [f"line 2, elevation: '{text}' is not a finite number"]


@pytest.mark.parametrize("text", ["abc", "12'", "1_000", "0x1F", "1,5", "--3", "1.5.2", "٣", "2 231 543.1", "1d5"])
def test_what_is_no_number_is_named_and_null_never_half_read(tmp_path, text):
    path = tmp_path / "shots.csv"
    path.write_text(f'{HEADER}1,2.5,3.5,"{text}"\n2,2.5,3.5,4.5\n', encoding="utf-8")
    source = ShotsText().read(path, source="d")
    assert source.layers["shots"]["elevation"].isna().tolist() == [True, False]
    assert [(each.line, each.column, each.text) for each in source.troubles] == [(2, "elevation", text)]


def test_more_bad_rows_than_stated_refuse_the_file_and_list_the_first(tmp_path):
    path = tmp_path / "shots.csv"
    path.write_text(HEADER + "1,2.5,3.5,4.5\n" * 8 + "2,x,3.5,4.5\n" * 3, encoding="utf-8")
    assert len(ShotsText(bad_rows=3).read(path, source="d").troubles) == 3
    with pytest.raises(
        SourceError, match=r"(?s)3 rows cannot be read whole, more than bad_rows = 2.*line 10, easting: 'x'"
    ):
        ShotsText(bad_rows=2).read(path, source="d")


def test_a_wrong_encoding_is_refused_by_name_and_by_place(tmp_path):
    path = tmp_path / "shots.csv"
    path.write_bytes(HEADER.encode() + "1,2.5,3.5,4.5 café\n".encode("cp1252"))
    with pytest.raises(SourceError, match="No encoding named 'klingon'"):
        ShotsText(encoding="klingon").read(path, source="d")
    with pytest.raises(SourceError, match="No encoding named 'hex'"):
        ShotsText(encoding="hex").read(path, source="d")
    with pytest.raises(SourceError, match="is not utf-8 at line 2"):
        ShotsText(encoding="utf-8").read(path, source="d")


STATED = {
    "too few": ({"columns": ("shot", "easting")}, "has 4 columns and columns = names 2"),
    "unknown": ({"columns": ("shot", "easting", "northing", "altitude")}, "'altitude', which is no column here"),
    "twice": ({"columns": ("shot", "easting", "easting", "")}, "names 'easting' twice, for columns 2 and 3"),
    "not there": ({"columns": {"easting": "Rechts"}}, "no column 'Rechts'; its columns are point, easting"),
    "no such number": ({"columns": {"easting": 9}}, "columns 1 to 4; there is no column 9"),
    "shared": ({"columns": {"easting": 2, "northing": 2}}, "'easting' both to easting and to northing"),
    "no columns left": ({"columns": ("shot", "", "", "")}, "no column for easting and northing"),
    "same mark": ({"delimiter": ",", "decimal": ","}, "cannot both be ','"),
    "skip too much": ({"skip": 9}, "no row after its first 9 lines"),
    "wrong delimiter": ({"delimiter": ";"}, "one column only when cut by semicolon"),
}


@pytest.mark.parametrize("case", STATED)
def test_a_statement_that_does_not_fit_the_file_is_refused(tmp_path, case):
    options, message = STATED[case]
    path = tmp_path / "shots.csv"
    path.write_text(HEADER + "1,2.5,3.5,4.5\n", encoding="utf-8")
    with pytest.raises(SourceError, match=message):
        ShotsText(**options).read(path, source="d")


def test_an_unknown_delimiter_is_refused_before_any_file_is_opened():
    with pytest.raises(ValueError, match="'#' is no delimiter; use one of tab, semicolon, bar, comma, space"):
        ShotsText(delimiter="#")


LISTS = {
    "control twice": (
        ControlText,
        "mark,easting,northing\nA,1.5,2.5\nB,1,2\nA,3.5,4.5\n",
        "'A' twice, in lines 2 and 4",
    ),
    "control without a place": (ControlText, "mark,easting\nA,1.5\n", "has no column for northing"),
    "control with a bad number": (
        ControlText,
        "mark,easting,northing\nA,1.5,x\n",
        "line 2, northing: 'x' is not a number",
    ),
    "control with a bad u": (ControlText, "mark,easting,northing,u_h\nA,1.5,2,-1\n", "u_h: '-1' is negative"),
    "control neither yes nor no": (ControlText, "mark,easting,northing,held\nA,1,2,maybe\n", "neither yes nor no"),
    "control without a name": (ControlText, "mark,easting,northing\n,1.5,2.5\n", "no name of a mark"),
    "control without a header": (
        ControlText,
        "A,1.5,2.5\nB,1.5,2.5\n",
        "no header and its column order cannot be told",
    ),
    "control without rows": (ControlText, "mark,easting,northing\n", "has a header and no rows"),
    "codes without kind": (CodesText, "code,meaning\nCTB,curb\n", "no column for kind"),
    "codes twice": (CodesText, "code,kind\nA,b\nA,c\n", "the code 'A' twice, in lines 2 and 3"),
    "codes with another geometry": (CodesText, "code,kind,geometry\nA,b,area\n", "'area' is none of line, point"),
    "codes with another role": (CodesText, "code,kind,role\nA,b,boss\n", "'boss' is none of feature, check, other"),
    "codes with a lost partner": (CodesText, "code,kind,pairs_with\nA,b,ZZ\n", "'ZZ' is no code of this list"),
    "screening of an unknown field": (ScreeningText, "kind,field,worst\n*,hope,3\n", "'hope' is no column of shots"),
    "screening without a limit": (ScreeningText, "kind,field,worst\n*,pdop,\n", "is no limit"),
    "screening with another action": (
        ScreeningText,
        "field,worst,action\npdop,4,shout\n",
        "'shout' is none of warn, reject",
    ),
}


@pytest.mark.parametrize("case", LISTS)
def test_a_small_table_with_a_fault_is_refused_whole(tmp_path, case):
    reader, text, message = LISTS[case]
    path = tmp_path / "list.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SourceError, match=message):
        reader().read(path, source="d")
