"""Design from a plain table: lines of vertices, points, kinds, and what is neither."""

import numpy as np
import pytest

from geoqa.errors import SourceError
from geoqa.read.design_table import DesignText


def read(tmp_path, text, **options):
    (tmp_path / "design.csv").write_text(text, encoding="utf-8")
    return DesignText(**options).read(tmp_path / "design.csv", source="plan")


LINES = """line,point,sequence,kind,easting,northing,elevation
CTB-L,,2,curb-top,100,200,11.5
CTB-L,,1,curb-top,100,100,11.0
,MH-1,,manhole,40,50,9.25
"""


def test_vertices_in_their_sequence_and_points(tmp_path):
    layers = read(tmp_path, LINES).layers
    (leg,) = layers["design_elements"].to_dict("records")
    assert (leg["start_northing"], leg["end_northing"], leg["length"]) == (100, 200, 100)
    assert (leg["start_elevation"], leg["end_elevation"]) == (11.0, 11.5)
    (point,) = layers["design_points"].to_dict("records")
    assert (point["point"], point["kind"], point["elevation"]) == ("MH-1", "manhole", 9.25)


def test_one_kind_for_a_file_and_the_unit_of_its_heading(tmp_path):
    text = "Point,Easting (ftUS),Northing (ftUS),Elevation (ftUS)\nHYD-1,1,2,3\nHYD-2,4,5,6\n"
    source = read(tmp_path, text, kind="hydrant")
    assert source.layers["design_points"]["kind"].tolist() == ["hydrant", "hydrant"]
    assert source.unit.name == "ftUS"


def test_words_of_the_file_for_our_kinds(tmp_path):
    text = "point,kind,easting,northing\nA,Hydr.,1,2\nB,Tree,4,5\nC,valve,7,8\n"
    points = read(tmp_path, text, kinds={"Hydr.": "hydrant", "Tree": ""}).layers["design_points"]
    assert dict(zip(points["point"], points["kind"], strict=True)) == {"A": "hydrant", "C": "valve"}
    assert np.isnan(points["elevation"]).all()


@pytest.mark.parametrize(
    ("text", "options", "says"),
    [
        ("point,easting,northing\nA,1,2\n", {}, "has no column for the kind; state it once for all, kind ="),
        ("point,kind,easting,northing\n,x,1,2\n", {}, "line 2.*names neither line nor point"),
        ("line,kind,easting,northing\nL,x,1,2\nL,y,1,3\n", {}, "line 'L' has two kinds, x and y"),
        ("line,kind,easting,northing\nL,x,1,2\nL,x,1,north\n", {}, "line 3, northing"),
        ("point,kind,easting,northing\nA,x,1,2\nA,x,9,9\n", {}, "names two things 'A'"),
        ("line,kind,easting,northing\nL,x,1,2\n", {}, "has no length"),
    ],
)
def test_what_cannot_be_read_is_said_with_its_place(tmp_path, text, options, says):
    with pytest.raises(SourceError, match=says):
        read(tmp_path, text, **options)


@pytest.mark.parametrize("row", ["B,x,7,-9999,1", "B,x,,8,1", ",x,7,-9999,1", "B,x,7,far,1"])
def test_a_row_without_a_place_is_told_once_and_left_out(tmp_path, row):
    """One that says so with its word for no value was left out in silence."""
    source = read(tmp_path, f"point,kind,easting,northing,elevation\nA,x,1,2,3\n{row}\n", bad_rows=1)
    assert source.layers["design_points"]["point"].tolist() == ["A"]
    (told,) = source.troubles
    assert (told.line, told.kept) == (3, False)
    assert told.column == ("easting" if ",," in row else "northing")
