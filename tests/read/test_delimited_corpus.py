"""Dirty delimited files made here, so that the truth is known: read right or refused in words, never silently wrong."""

import csv
import itertools

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from geoqa.errors import SourceError
from geoqa.read.shots import ShotsText

pytestmark = pytest.mark.long

ROWS = [
    ("007", 2231543.123, 445566.777, 1458.104, "CTB", "café côté"),
    ("008", 2231544.5, 445567.25, 1458.0, "CTB", ""),
    ("0-12", 2231545.001, 445568.0, None, "CFL", "beside 6 in. pipe"),
    ("CP-1", 2231546.999, 445569.125, 1457.333, "CHK", 'say "when"'),
    ("1e5", 2231547.75, 445570.5, 1457.25, "NA", "-"),
]
NAMES = ("shot", "easting", "northing", "elevation", "code", "note")
ORDERS = {
    "easting first": ("shot", "easting", "northing", "elevation", "code", "note"),
    "northing first": ("shot", "northing", "easting", "elevation", "code", "note"),
}
HEADS = {"shot": "Point", "easting": "East", "northing": "North", "elevation": "Elev", "code": "Code", "note": "Note"}
ENCODINGS = ("utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le with mark")
LAYOUTS = [(",", "."), *itertools.product(";\t|", ".,"), (" ", "."), (" ", ",")]
ENDS = itertools.cycle(("\n", "\r\n", "\r"))
COMBINATIONS = [(*each, next(ENDS)) for each in itertools.product(LAYOUTS, (True, False), ENCODINGS, ORDERS)]


def field(value, mark, decimal):
    if value is None:
        return "-9999"
    text = f"{value:.3f}".replace(".", decimal) if isinstance(value, float) else value
    if text == "" and mark == " ":
        return '""'
    if mark in text or '"' in text or (mark == " " and " " in text):
        return '"' + text.replace('"', '""') + '"'
    return text


def file_of(layout, header, encoding, order, ends):
    mark, decimal = layout
    lines = [mark.join(HEADS[each] for each in ORDERS[order])] if header else []
    for row in ROWS:
        held = dict(zip(NAMES, row, strict=True))
        lines.append(mark.join(field(held[each], mark, decimal) for each in ORDERS[order]))
    text = ends.join([*lines, "", ""])
    if encoding == "utf-16-le with mark":
        return ("\ufeff" + text).encode("utf-16-le")
    return text.encode(encoding)


def check(source, first_line):
    shots = source.layers["shots"]
    assert shots["shot"].tolist() == [row[0] for row in ROWS]
    np.testing.assert_array_equal(shots["easting"], [row[1] for row in ROWS])
    np.testing.assert_array_equal(shots["northing"], [row[2] for row in ROWS])
    np.testing.assert_array_equal(shots["elevation"], [np.nan if row[3] is None else row[3] for row in ROWS])
    assert shots["code"].tolist() == [row[4] for row in ROWS]
    assert shots["note"].fillna("").tolist() == [row[5] for row in ROWS]
    assert shots["line"].tolist() == list(range(first_line, first_line + len(ROWS)))
    assert source.troubles == ()


def test_every_combination_is_read_right_or_refused_in_words(tmp_path):
    path = tmp_path / "day1.csv"
    seen = {True: 0, False: 0}
    for layout, header, encoding, order, ends in COMBINATIONS:
        path.write_bytes(file_of(layout, header, encoding, order, ends))
        seen[header] += 1
        if header:
            check(ShotsText().read(path, source="day1"), 2)
            continue
        with pytest.raises(SourceError, match="cannot tell easting from northing"):
            ShotsText().read(path, source="day1")
        check(ShotsText(near=(2230000.0, 445000.0)).read(path, source="day1"), 1)
        check(ShotsText(columns=ORDERS[order]).read(path, source="day1"), 1)
    assert seen == {True: 90, False: 90}


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_a_detected_layout_is_told_with_its_reason(tmp_path, mark):
    path = tmp_path / "day1.txt"
    path.write_bytes(file_of((mark, "."), True, "cp1252", "easting first", "\n"))
    source = ShotsText().read(path, source="day1")
    told = {each.what: each for each in source.evidence}
    assert set(told) >= {"encoding", "delimiter", "decimal mark", "header", "columns"}
    assert told["encoding"].answer == "cp1252"
    assert "line 2" in told["encoding"].because
    assert "lines have 6 fields" in told["delimiter"].because
    assert all(each.because for each in source.evidence)
    assert source.facts["delimiter"] == told["delimiter"].answer


def test_a_statement_of_the_job_beats_what_the_file_looks_like(tmp_path):
    path = tmp_path / "day1.csv"
    path.write_text("1;100.5;200.5;5.5\n2;101.5;201.5;6.5\n", encoding="utf-8")
    stated = ShotsText(
        delimiter="semicolon", decimal=".", header=False, columns=("shot", "northing", "easting", "elevation")
    )
    source = stated.read(path, source="d")
    assert source.layers["shots"]["northing"].tolist() == [100.5, 101.5]
    assert {each.because for each in source.evidence if each.what in ("delimiter", "decimal mark", "header")} == {
        "stated in the job"
    }


texts = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp", "Zs")), max_size=8)
noted = st.lists(st.tuples(texts, texts.map(lambda each: f'{each}, "{each}"\n{each}')), min_size=1, max_size=12)


@given(noted, st.sampled_from(",;\t|"), st.sampled_from(["\n", "\r\n"]))
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_quoted_text_comes_back_as_the_standard_library_wrote_it(tmp_path, rows, mark, ends):
    path = tmp_path / "noted.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter=mark, lineterminator=ends)
        writer.writerow(["point", "easting", "northing", "elevation", "code", "note"])
        lines = []
        for number, (code, note) in enumerate(rows):
            file.flush()
            lines.append(path.read_bytes().count(b"\n") + 1)
            writer.writerow([f"{number:03d}", f"{1000 + number}.125", "2000.5", "10.25", code, note])
    shots = ShotsText().read(path, source="d").layers["shots"]
    assert shots["shot"].tolist() == [f"{number:03d}" for number in range(len(rows))]
    assert shots["code"].fillna("").tolist() == [code.strip() for code, _ in rows]
    assert shots["note"].tolist() == [note.strip() for _, note in rows]
    assert shots["line"].tolist() == lines


def test_inch_marks_are_no_quotes(tmp_path):
    path = tmp_path / "pipes.csv"
    path.write_text(
        'point,easting,northing,elevation,note\n1,1.5,2.5,3.5,12" PIPE\n2,1.5,2.5,3.5,6" x 4"\n', encoding="utf-8"
    )
    source = ShotsText().read(path, source="d")
    assert source.layers["shots"]["note"].tolist() == ['12" PIPE', '6" x 4"']
    assert source.troubles == ()


def test_a_stray_quote_costs_its_own_row_only(tmp_path):
    path = tmp_path / "stray.csv"
    body = "".join(f"{n},{n}.5,2.5,3.5,{chr(34) if n in (3, 7) else ''}rim\n" for n in range(1, 10))
    path.write_text("point,easting,northing,elevation,note\n" + body, encoding="utf-8")
    source = ShotsText().read(path, source="d")
    assert source.layers["shots"]["shot"].tolist() == ["1", "2", "4", "5", "6", "8", "9"]
    assert source.layers["shots"]["line"].tolist() == [2, 3, 5, 6, 7, 9, 10]
    assert [(each.line, each.reason) for each in source.troubles] == [
        (4, "opens a quote, never closed"),
        (8, "opens a quote, never closed"),
    ]


def test_a_repeated_header_is_skipped_and_told(tmp_path):
    path = tmp_path / "joined.csv"
    part = "point,easting,northing\n{},1.5,2.5\n"
    path.write_text(part.format("a") + part.format("b"), encoding="utf-8")
    source = ShotsText().read(path, source="d")
    assert source.layers["shots"]["shot"].tolist() == ["a", "b"]
    assert [(each.line, each.reason) for each in source.troubles] == [(3, "repeats the header; skipped")]


def test_blank_lines_and_empty_rows_and_trailing_delimiters_are_no_rows(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text("point,easting,northing\n\n1,1.5,2.5,,\n,,\n  \n2,3.5,4.5,,\n,,\n\n", encoding="utf-8")
    source = ShotsText().read(path, source="d")
    assert source.layers["shots"]["line"].tolist() == [3, 6]
    assert any(each.what == "empty rows" and each.answer == "2 left out" for each in source.evidence)
    assert source.troubles == ()


SEVEN = "point,easting,northing,elevation,code,note,photo\n"


@pytest.mark.parametrize(
    "row",
    [
        "102,2228525.10,446004.60,,1462.05,CTB,,",
        "104,,2228575.10,446004.90,1462.10,CTB,,",
        "105,2.5,3.5,1.5,CTB,wet, cold,",
    ],
)
@pytest.mark.parametrize("others", [0, 5])
def test_a_row_with_a_delimiter_too_many_is_told_and_no_number_is_taken_for_another(tmp_path, row, others):
    path = tmp_path / "day.csv"
    path.write_text(SEVEN + "101,2228500.10,446004.30,1462.00,CTB,,\n" * (others + 1) + row + "\n", encoding="utf-8")
    source = ShotsText().read(path, source="d")
    assert set(source.layers["shots"]["shot"]) == {"101"}
    assert [(each.line, each.reason) for each in source.troubles] == [
        (others + 3, "has 8 fields where the table has 7")
    ]


def test_a_row_cut_short_is_named_and_the_rest_goes_on(tmp_path):
    path = tmp_path / "cut.csv"
    path.write_text(
        "point,easting,northing,elevation\n1,1.5,2.5,3.5\n2,3.5,4.5\n3,5.5,6.5,7.5\n4,8.5,44", encoding="utf-8"
    )
    source = ShotsText().read(path, source="d")
    assert source.layers["shots"]["shot"].tolist() == ["1", "3"]
    assert [each.line for each in source.troubles] == [3, 5]
    assert str(source.troubles[0]) == "line 3, row: '2,3.5,4.5' has 3 fields where the table has 4"
    assert any(each.what == "end of file" for each in source.evidence)


def test_lines_above_the_table_are_left_out_when_stated(tmp_path):
    path = tmp_path / "titled.csv"
    path.write_text("Collected on the site\n# in feet\npoint,easting,northing\n1,1.5,2.5\n", encoding="utf-8")
    shots = ShotsText(skip=2).read(path, source="d").layers["shots"]
    assert shots["line"].tolist() == [4]


def test_a_peek_shows_the_header_and_first_rows_of_a_large_file(tmp_path):
    path = tmp_path / "large.csv"
    path.write_text("point,easting,northing\n" + "1,1.5,2.5\n" * 100_000, encoding="utf-8")
    seen = ShotsText().peek(path)
    assert seen.columns == ("point", "easting", "northing")
    assert seen.holds == ("shot", "easting", "northing")
    assert seen.rows == (("1", "1.5", "2.5"),) * 5
    assert {each.what for each in seen.evidence} >= {"encoding", "delimiter", "header"}


def test_reading_leaves_the_file_as_it_was(tmp_path):
    path = tmp_path / "day1.csv"
    held = file_of((";", ","), True, "utf-16", "easting first", "\r\n")
    path.write_bytes(held)
    ShotsText().read(path, source="d")
    assert path.read_bytes() == held
