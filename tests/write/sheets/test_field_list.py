"""What to shoot again, for a collector: plain points, what is about to be covered first, gaps split at the spacing."""

import numpy as np
import pandas as pd
import pytest
import shapely

from geoqa import testing
from geoqa.contract.meanings import explain_any
from geoqa.model.point_file import LONGEST, Place, point_file
from geoqa.model.results import Results, Title
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers, placed, shaped
from geoqa.write.sheets.field_list import FILE, FieldList, field_list
from geoqa.write.sheets.lists import return_list

EAST, NORTH = testing.ORIGIN


def finding(nth, kind, verdict, *, check="elevation", shot=None, station=50.0, why="near-limit", upper=0.08):
    return {"finding": f"F{nth}", "check": check, "against": "job; design", "kind": kind, "subject": f"L{nth}",
            "label": f"shot {shot}", "shot": shot, "verdict": verdict, "why": why, "quantity": "length",
            "easting": EAST + nth, "northing": NORTH + station, "deviation": 0.07, "lower": -0.08, "upper": upper,
            "u": 0.03, "excess": 1.0, "remedy": "shoot it again", "verified": False, "rule": "guarded"}  # fmt: skip


def results(findings, *, gaps=(), shots=()):
    frame = testing.frame()
    table = placed("findings", conform("findings", pd.DataFrame(findings)), frame)
    held = testing.judged_shots(shots or [{}])
    layers = {**dict(testing.layers(shots=held)), "findings": table}
    if gaps:
        rows = pd.DataFrame([{name: each[name] for name in each if name != "shape"} for each in gaps])
        layers["gaps"] = shaped(conform("gaps", rows), [each["shape"] for each in gaps], frame)
    return Results(title=Title(name="test"), layers=Layers(layers, frame=frame), summary={}, record={})


def gap(finding_id, length, *, kind="curb-top"):
    shape = shapely.LineString([(EAST, NORTH), (EAST, NORTH + length)])
    return {"finding": finding_id, "kind": kind, "line": "CTB-1", "station": 1000.0, "station_end": 1000.0 + length,
            "length": length, "shape": shape}  # fmt: skip


def test_what_is_about_to_be_covered_comes_first_then_gaps_then_what_has_no_number():
    rows = [
        finding(1, "walk-front", "UNDECIDED"),
        finding(2, "curb-top", "OUT"),
        finding(3, "curb-top", "NO_DATA", why="screened"),
        finding(4, "curb-top", "OUT", check="coverage", why="no-evidence", upper=30.0),
        finding(5, "water-top", "UNDECIDED"),
    ]
    told = field_list(results(rows, gaps=[gap("F4", 50.0)], shots=[{"station": 0.0}, {"station": 50.0}]))
    assert [each.says.split()[0] for each in told] == ["undecided", "gap", "again", "out", "undecided"]
    assert all(explain_any(each.says.split()[0]) for each in told)
    assert told[0].easting == EAST + 5


@pytest.mark.parametrize(("length", "count"), [(50.0, 1), (60.0, 1), (61.0, 2), (200.0, 6)])
def test_a_gap_is_split_so_that_no_leg_is_longer_than_the_spacing(length, count):
    rows = [finding(4, "curb-top", "OUT", check="coverage", why="no-evidence", upper=30.0)]
    told = field_list(results(rows, gaps=[gap("F4", length)], shots=[{"station": 0.0}, {"station": length}]))
    assert len(told) == count
    north = np.array([NORTH, *sorted(each.northing for each in told), NORTH + length])
    assert np.diff(north).max() <= 30.0 + 1e-6


def test_the_end_of_a_line_that_nobody_shot_is_a_point_too():
    rows = [finding(4, "curb-top", "OUT", check="coverage", why="no-evidence", upper=30.0)]
    told = field_list(results(rows, gaps=[gap("F4", 50.0)], shots=[{"station": 0.0}]))
    assert [round(each.northing - NORTH, 6) for each in told] == [25.0, 50.0]


def test_two_numbers_of_one_place_are_one_walk_to_it():
    both = [finding(1, "curb-top", "UNDECIDED"), {**finding(1, "curb-top", "OUT"), "finding": "F9", "subject": "L9"}]
    assert [each.says for each in field_list(results(both))] == ["out L9"]


def test_the_return_list_splits_a_gap_as_well_and_says_what_is_asked_for_once():
    rows = [finding(4, "curb-top", "OUT", check="coverage", why="no-evidence", upper=30.0)]
    told = results(rows, gaps=[gap("F4", 200.0)], shots=[{"station": 0.0}, {"station": 200.0}])
    table = return_list(told)
    places = field_list(told)
    assert table[["easting", "northing"]].to_numpy().tolist() == [[each.easting, each.northing] for each in places]
    assert table["point"].tolist()[:2] == ["CTB-1 10+29", "CTB-1 10+57"]
    assert table["note"].str.contains("shoot it again").tolist() == [True] + [False] * 5
    assert table["note"].tolist()[-1] == "the same reach as CTB-1 10+29, point 6 of 6"


def test_one_shot_with_two_open_numbers_is_one_place():
    rows = [finding(1, "curb-top", "UNDECIDED", shot="day1/101"), finding(2, "curb-top", "OUT", shot="day1/101")]
    told = field_list(results(rows))
    assert len(told) == 1
    assert told[0].says.startswith("out 101")


def test_the_file_has_five_fields_no_head_and_no_elevation(tmp_path):
    rows = [finding(1, "curb-top", "UNDECIDED", shot="day1/101"), finding(2, "rim", "OUT")]
    told = results(rows)
    assert FieldList().write(told, tmp_path) == (FILE,)
    lines = (tmp_path / FILE).read_text(encoding="ascii").splitlines()
    fields = [each.split(",") for each in lines]
    assert [len(each) for each in fields] == [5, 5]
    assert [each[0] for each in fields] == ["R1", "R2"]
    assert all(each[3] == "" for each in fields)
    assert [float(each[1]) for each in fields] == [NORTH + 50.0] * 2
    assert [float(each[2]) for each in fields] == [EAST + 2, EAST + 1]
    FieldList().read_back(told, tmp_path)


@pytest.mark.parametrize("text", ["a,b", "=1+1", "naïve", "x" * 80, "\u202eback", 'a "b"\n', "+1"])
def test_a_description_parts_no_field_and_fits(text):
    line = point_file([Place(easting=1.0, northing=2.0, says=text)], digits=2)
    assert line.isascii()
    name, north, east, level, says = line.rstrip("\n").split(",")
    assert (name, north, east, level) == ("R1", "2.00", "1.00", "")
    assert len(says) <= LONGEST
    assert says[:1] not in tuple("=+-@")


def test_a_place_without_a_position_is_left_out():
    assert point_file([Place(easting=float("nan"), northing=2.0, says="a")], digits=2) == ""


def test_nobody_is_sent_back_for_what_is_settled_at_the_desk():
    assert field_list(results([finding(1, "curb-top", "NO_DATA", why="no-limit")])) == ()
