"""A table of design in the words of an engineer is design, and its kinds are drafted as its reader takes them."""

import re

import pytest

from geoqa.job.begin.begin import begin
from geoqa.job.begin.listing import look
from geoqa.job.begin.reading import read_folder
from geoqa.job.check import check

KINDS = {"Curb Top": "curb-top", "Gutter Flowline": "curb-flow", "SW back (existing)": ""}


@pytest.fixture
def folder(tmp_path):
    rows = [f"{n},{446000.0 + n / 5:.3f},{2228500.0 + 20 * n:.3f},1460.1,TC" for n in range(11)]
    (tmp_path / "day.csv").write_text("Point,Northing,Easting,Elevation,Code\n" + "\n".join(rows) + "\n")
    return tmp_path


def table(head, *, line=True, name=True):
    """Three lines of three vertices, with the columns that are wanted."""
    rows = []
    for nth, word in enumerate(KINDS):
        for at in range(3):
            cells = [f"L{nth}"] * line + [f"{100 * nth + at}"] * name
            place = (f"{446000.0 + 50 * nth + at:.2f}", f"{2228500.0 + 100 * at:.2f}", f"{1460 + nth}.10")
            rows.append(",".join([*cells, *place, word]))
    return "\n".join([head, *rows]) + "\n"


@pytest.mark.parametrize(
    ("name", "head", "columns", "role"),
    [
        ("Design table.csv", "Line,No,N (ft),E (ft),Elev (ft),Feature", (True, True), "design"),
        ("proposed.txt", "No,North,East,Elev,Description", (False, True), "design"),
        ("lines.csv", "String,N,E,Z,Code", (True, False), "design"),
        ("design survey.csv", "Line,No,N,E,Elev,Feature", (True, True), "shots"),
        ("lines2.csv", "String,Point,N,E,Z,Code", (True, True), "shots"),
    ],
)
def test_what_its_name_or_its_words_call_design_is_no_shots(folder, name, head, columns, role):
    line, named = columns
    (folder / name).write_text(table(head, line=line, name=named))
    found = {each.shown: each for each in read_folder(look(folder)).listing.found}
    assert (found[name].role, found["day.csv"].role) == (role, "shots")
    if role == "design":
        assert "if these are shots, make it a [[shots]] table" in found[name].why


def test_a_list_without_a_header_called_design_is_design(folder):
    rows = table("", line=False).splitlines()[1:]
    (folder / "design points.txt").write_text("\n".join(rows) + "\n")
    read = read_folder(look(folder))
    found = {each.shown: each.role for each in read.listing.found}
    assert found["design points.txt"] == "design"
    assert len(read.sources["design points.txt"].layers["design_points"]) == 9


def test_alone_in_a_folder_it_stays_the_shots(tmp_path):
    (tmp_path / "design.csv").write_text(table("Line,No,N,E,Elev,Feature"))
    assert [each.role for each in read_folder(look(tmp_path)).listing.found] == ["shots"]


@pytest.mark.long
@pytest.mark.parametrize("head", ["Line,No,N (ft),E (ft),Elev (ft),Feature", "Line,No,N (ft),E (ft),Elev (ft),Kind"])
def test_its_kinds_are_drafted_by_the_words_of_the_trade_and_the_draft_is_in_order(folder, head):
    (folder / "design.csv").write_text(table(head))
    path = begin(folder, frame="EPSG:6547").path
    text = path.read_text(encoding="utf-8")
    drafted = dict(re.findall(r'"([^"]+)" = "([^"]*)"', re.search(r"^kinds = .*$", text, re.MULTILINE)[0]))
    assert drafted == KINDS
    assert "values = " not in text
    limits = '"curb-top, curb-flow" = { horizontal = "0.1 ft", vertical = "0.1 ft", reference = "sheet 4" }\n'
    text = text.replace('file = "REQUIRED"', 'file = "codes_draft.csv"').replace(
        "[tolerance]\n", f"[tolerance]\n{limits}"
    )
    path.write_text(text, encoding="utf-8")
    assert check(path).problems == ()
