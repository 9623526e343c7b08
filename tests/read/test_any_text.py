"""Any text and any bytes: a reader gives tables or refuses in words, and every row that goes in is kept or told."""

import csv
import io
import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fuzz.seeds import TABLES
from geoqa import plugins
from geoqa.errors import SourceError
from geoqa.read.design_table import DesignText
from geoqa.read.shots import ShotsText

pytestmark = pytest.mark.long

FEW = settings(max_examples=70, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
MARKS = [*',;|\t" \n\r#/-.', "\r\n", "\x00", "\ufeff", "\u2028", "\x85", "\x1a", "é", "½", "9", "1e5", "nan", "١"]
LETTERS = st.text(st.characters(codec="utf-8"), max_size=6)
PIECES = st.one_of(st.sampled_from(MARKS), LETTERS, st.floats().map(repr), st.integers().map(str))


def sound(role):
    """A sound file of a role, as bytes."""
    held = io.StringIO()
    csv.writer(held, lineterminator="\n").writerows(TABLES[role])
    return held.getvalue().encode()


@st.composite
def spoilt(draw, role):
    """A sound file into which something is put, in place of something; or nothing but that."""
    data = sound(role)
    at = draw(st.integers(0, len(data)))
    gone = draw(st.sampled_from([0, 0, 1, 2, 9, len(data)]))
    put = draw(st.one_of(st.lists(PIECES, max_size=8).map(lambda each: "".join(each).encode()), st.binary(max_size=40)))
    return data[:at] + put + data[at + gone :]


def read(reader, path):
    """What is read of a file, or the words of the refusal; no other error may come."""
    try:
        reader.peek(path)
        return reader.read(path, source="d"), ""
    except SourceError as error:
        return None, str(error)


@pytest.mark.parametrize("role", ["shots", "control", "design", "codes"])
@given(data=st.data())
@FEW
def test_anything_is_read_or_refused_in_words(tmp_path, role, data):
    path = tmp_path / "any.csv"
    path.write_bytes(data.draw(spoilt(role)))
    reader = plugins.load("readers", f"{role}.csv")()
    source, words = read(reader, path)
    if source is None:
        assert "any.csv" in words
        assert str(tmp_path) not in words
    else:
        assert any(len(table) for table in source.layers.values())


PLACES = st.integers(1, 9_000_000).map(lambda each: f"{each / 1000:.3f}")
CELLS = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Zl", "Zp")), max_size=6)
ODD = st.one_of(CELLS, st.sampled_from(["", "-9999", "nan", "1e999", "1,5", "0x1", "-", "# 1", "// a", '"', "ft", " "]))
PLACE = st.one_of(PLACES, PLACES, PLACES, ODD)


def rows_of(sound, *columns):
    """Rows of these columns after some that are sound; of ten rows one or so has a cell too many or too few."""
    whole = st.tuples(*columns).map(list)
    odd = st.lists(st.one_of(ODD, PLACES), max_size=len(columns) + 2)
    return st.lists(st.one_of(*[whole] * 9, odd), min_size=1, max_size=12).map(lambda rows: [*sound, *rows])


def file_with(path, head, rows):
    """Write them, a line a row; gives the number of each line with more than delimiters on it."""
    held = io.StringIO()
    csv.writer(held, lineterminator="\n").writerows([head, *rows])
    path.write_bytes(held.getvalue().encode())
    lines = held.getvalue().split("\n")
    return {
        at for at, each in enumerate(lines, start=1) if at > 1 and any(ord(mark) > 32 and mark != "," for mark in each)
    }


def told(source):
    """Lines whose row was left out, by name; and how many were left out as comments or units, by number."""
    lost = {each.line for each in source.troubles if not each.kept}
    said = {each.what: each.answer for each in source.evidence}
    comments = re.match(r"\d+", said.get("comments", "0"))
    return lost, int(comments[0]) + ("stated below" in said.get("units", ""))


SHOTS = [[f"P{each}", f"{each}.250", "40.500", "7.125", "CTB", ""] for each in range(100, 104)]
PLAN = [
    ["L0", "", "curb-top", "1.5", "2.5", "3.5"],
    ["L0", "", "curb-top", "4.5", "2.5", "3.5"],
    ["", "V", "k", "9", "9", ""],
]


@given(rows=rows_of(SHOTS, CELLS.map("P{}".format), PLACE, PLACE, PLACE, ODD, ODD))
@FEW
def test_every_row_of_a_log_is_a_shot_or_is_told(tmp_path, rows):
    path = tmp_path / "day.csv"
    inked = file_with(path, ["point", "easting", "northing", "elevation", "code", "note"], rows)
    source, words = read(ShotsText(), path)
    assert source is not None, words  # the first rows are sound
    kept = source.layers["shots"]["line"].tolist()
    assert len(set(kept)) == len(kept)
    left_out = {each.line for each in source.troubles if each.loses_row or each.header}
    assert not left_out & set(kept)
    assert set(kept) | left_out <= inked
    assert len(kept) + len(left_out) + told(source)[1] == len(inked)


@given(rows=rows_of(PLAN, st.sampled_from(["", "L1", "L2"]), CELLS, st.just("curb-top"), PLACE, PLACE, PLACE))
@FEW
def test_every_row_of_a_design_is_a_vertex_or_a_point_or_is_told(tmp_path, rows):
    path = tmp_path / "plan.csv"
    inked = file_with(path, ["line", "point", "kind", "easting", "northing", "elevation"], rows)
    source, words = read(DesignText(bad_rows=100), path)
    if source is None:
        assert "plan.csv" in words  # two points of one name
        return
    lost, others = told(source)
    elements, points = source.layers["design_elements"], source.layers["design_points"]
    lines = source.layers["design_lines"]["line"]
    vertices = len(elements) + len(lines)
    again = sum(len(repeated(rows, name)) for name in lines)
    # a line without length is told once, by its first row; all of its rows are of it
    short = sum(row[0] == name for name in {"L1", "L2"} - set(lines) for row in rows if len(row) == 6)
    assert vertices + len(points) + again + len(lost) + others + short >= len(inked)
    assert vertices + len(points) <= len(inked)


def repeated(rows, name):
    """Rows of a line at the place of the one before: one vertex."""
    places = [tuple(row[3:5]) for row in rows if len(row) == 6 and row[0] == name]
    return [place for place, before in zip(places[1:], places, strict=False) if place == before]
