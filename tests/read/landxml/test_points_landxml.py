"""Shots and control from the points of LandXML."""

import math

import pytest

from bench import landxml as made
from geoqa.errors import SourceError
from geoqa.read.landxml.points import ControlLandXML, ShotsLandXML

POINTS = made.cg_points(
    made.cg_point("101", (2231000.25, 445000.5, 1457.125), code="CT", desc="top of curb"),
    made.cg_point("102", (2231010.25, 445000.5)),
    made.cg_points(made.cg_point("CP1", (2231020.0, 445001.0, 1458.0), desc="rod and cap"), name="inside"),
)


@pytest.mark.parametrize("version", ["1.0", "1.1", "1.2"])
def test_shots_keep_name_code_note_line_and_what_is_missing(written, version):
    source = ShotsLandXML().read(written(made.document(POINTS, version=version, unit="ftUS", epsg="6548")), source="a")
    shots = source.layers["shots"]
    assert (source.unit.name, source.crs) == ("ftUS", "EPSG:6548")
    assert shots["shot_key"].tolist() == ["a/101", "a/102", "a/CP1"]
    assert shots[["easting", "northing"]].to_numpy()[0].tolist() == [2231000.25, 445000.5]
    assert math.isnan(shots["elevation"][1])
    assert (shots["code"][0], shots["note"][0], shots["raw_easting"][0]) == ("CT", "top of curb", "2231000.25")


def test_session_and_setup_of_a_file_are_the_jobs_word(written):
    path = written(made.document(POINTS))
    shots = ShotsLandXML(session="A", setup="base 2").read(path, source="a").layers["shots"]
    assert shots[["session", "initialization"]].drop_duplicates().to_numpy().tolist() == [["A", "base 2"]]
    assert ShotsLandXML().read(path, source="a").layers["shots"][["session", "initialization"]].isna().all(axis=None)


def test_control_takes_the_marks_that_are_named(written):
    path = written(made.document(POINTS))
    source = ControlLandXML(only=("CP",)).read(path, source="control")
    control = source.layers["control"]
    assert control[["mark", "elevation", "reference"]].to_numpy().tolist() == [["CP1", 1458.0, "rod and cap"]]
    assert [each.answer for each in source.evidence if each.what == "CgPoint"] == ["2 left out"]
    with pytest.raises(SourceError, match="no CgPoint whose name begins with ZZ"):
        ControlLandXML(only=("ZZ",)).read(path, source="control")


def test_a_mark_twice_or_without_a_name_is_refused(written):
    twice = made.cg_points(made.cg_point("A", (1, 2)), made.cg_point("A", (1, 2)))
    with pytest.raises(SourceError, match=r"has the mark 'A' twice, in lines \d+ and \d+"):
        ControlLandXML().read(written(made.document(twice)), source="c")
    with pytest.raises(SourceError, match=r"line \d+: a CgPoint has no name"):
        ControlLandXML().read(written(made.document("<CgPoints><CgPoint>1 2</CgPoint></CgPoints>")), source="c")


def test_a_first_look_says_what_it_is_and_design_is_not_taken_for_shots(written):
    peek = ShotsLandXML().peek(written(made.document(POINTS)))
    assert peek.rows[0] == ("101", "445000.5", "2231000.25", "1457.125", "CT", "top of curb", "")
    walk = made.Walk(0.0, 0.0, 0.0).line(10.0)
    both = made.document(POINTS, made.plan_features(made.plan_feature("A", walk.geometry())))
    assert "it looks like design" in ShotsLandXML().peek(written(both)).doubt
    assert ControlLandXML(only=("CP",)).peek(written(both)).doubt == ""
    with pytest.raises(SourceError, match="no CgPoint"):
        ShotsLandXML().peek(written(made.document()))
