"""Codes are drafted with their kinds whatever is known of the frame and the unit, and proposals are comments."""

import csv
from types import SimpleNamespace

import ezdxf
import pandas as pd
import pytest

from geoqa.job.begin.begin import begin
from geoqa.job.begin.descriptions import described
from geoqa.job.begin.seen_codes import SeenCode, code_list, seen_codes, with_proposals
from geoqa.read.codes import CodesText

SHOTS = "Point,Northing,Easting,Elevation,Code\n" + "".join(
    f"{n},{651300.0 + 10 * n},{8212400.0 + off},800,{code}\n"
    for n, (code, off) in enumerate([*[("K", 0.1)] * 6, ("KK", 40.0), ("KK", 41.0), *[("FH", 80.0)] * 2, ("ZQ", 90.0)])
)


def drawn(folder, units):
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = units
    document.modelspace().add_lwpolyline([(8212400, 651200), (8212400, 651500)], dxfattribs={"layer": "CURB-TOP"})
    document.saveas(folder / "plan.dxf")


@pytest.mark.long
@pytest.mark.parametrize("frame", [None, "EPSG:6559"])
@pytest.mark.parametrize("units", [0, 2])
def test_the_draft_does_not_hang_on_the_unit_or_the_frame(tmp_path, units, frame):
    drawn(tmp_path, units)
    (tmp_path / "shots.csv").write_text(SHOTS, encoding="utf-8")
    begun = begin(tmp_path, frame=frame)
    rows = {row["code"]: row for row in csv.DictReader(begun.codes.open(encoding="utf-8")) if row["kind"]}
    assert rows["K"]["kind"] == "curb-top"
    assert rows["K"]["because"].startswith("6 of 6 lie on design of this kind")
    assert rows["# FH"]["kind"] == "hydrant"
    assert rows["# ZQ"]["kind"] == "…"


def test_codes_are_proposed_by_a_told_one_and_by_their_letters():
    codes = (SeenCode("TBC1", 40, "curb-top", "line"), SeenCode("TBC", 2), SeenCode("WV", 3), SeenCode("XX", 1))
    made = with_proposals(codes, {})
    assert [(each.kind, each.proposed) for each in made] == [
        ("curb-top", ""), ("", "curb-top"), ("", "valve"), ("", ""),
    ]  # fmt: skip


def test_a_list_with_proposals_is_read_without_them(tmp_path):
    codes = (
        SeenCode("F", 40, "walk-front", "line"), SeenCode("B", 40, "walk-back", "line"),
        SeenCode("WV", 3, proposed="valve"),
    )  # fmt: skip
    path = tmp_path / "codes_draft.csv"
    path.write_text(code_list(codes), encoding="utf-8")
    read = CodesText().read(path, source="codes").layers["codes"]
    assert read["code"].tolist() == ["F", "B"]
    assert read["pairs_with"].tolist() == ["B", "F"]


def test_a_point_in_reach_and_the_letters_of_a_code_go_before_a_line_that_passes_by():
    shots = pd.DataFrame(
        [(code, 10.0 * n, 0.2, str(n), None, None) for n, code in enumerate(["WV", "RIM", "C", "C", "C", "OB"])],
        columns=["code", "easting", "northing", "shot", "line_id", "note"],
    )
    line = {"line": "L", "kind": "curb-top", "start_easting": 0.0, "start_northing": 0.2, "end_easting": 60.0}
    lines = pd.DataFrame([line | {"end_northing": 0.2}])
    points = pd.DataFrame(
        [("valve", 0.0, 0.0), ("invert", 10.0, 0.0), ("rim", 10.0, 0.5)], columns=["kind", "easting", "northing"]
    )
    design = {"design_lines": lines[["line", "kind"]], "design_elements": lines, "design_points": points}
    found = {each.code: each for each in seen_codes([shots], [design], None, None)}
    assert {code: each.kind for code, each in found.items()} == {"WV": "valve", "RIM": "rim", "C": "curb-top", "OB": ""}
    assert found["OB"].proposed == "curb-top"


def test_a_shot_on_a_structure_is_of_the_kind_at_its_elevation():
    shots = pd.DataFrame({"code": ["SMH"] * 3, "easting": [0.0, 50.0, 90.0], "northing": 0.0, "elevation": 700.0,
                          "shot": ["1", "2", "3"], "line_id": None, "note": None})  # fmt: skip
    rims = pd.DataFrame({"kind": "rim", "easting": [0.0, 50.0, 90.0], "northing": 0.0, "elevation": 700.02})
    points = pd.concat([rims.assign(kind="invert", elevation=692.0), rims])
    (found,) = seen_codes([shots], [{"design_points": points}], None, None)
    assert (found.kind, found.because) == ("rim", "3 of 3 lie on design of this kind; 3 on invert")


DAYS = {
    "day1.txt": ("CB1", "FL1", "a note"),
    "day2.txt": ("CB2", "FL2", "CB2"),
    "single.txt": ("T1", "T2", "T3"),
}


def test_a_crew_that_numbers_its_lines_through_the_days_has_one_code_in_all_files():
    def file(name, codes):
        shots = pd.DataFrame({"code": pd.Series([*codes] * 3, dtype="str")})
        return SimpleNamespace(name=name, key=name, role="shots", source=SimpleNamespace(layers={"shots": shots}))

    one, two, single = (file(name, codes) for name, codes in DAYS.items())
    assert described([one]) == {}
    assert set(described([one, two])) == {"day1.txt", "day2.txt"}
    assert set(described([one, single])) >= {"single.txt"}
