"""What a folder's files are drafted as, beside shots; and what a list that is not filled in is told."""

import tomllib

import pytest

from geoqa.errors import SourceError
from geoqa.job.begin.begin import begin
from geoqa.job.begin.listing import look
from geoqa.job.day import DayFiles, job_text
from geoqa.read.codes import CodesText
from geoqa.read.landxml.design import DesignLandXML

SHOTS = "Point,Northing,Easting,Elevation\n1,446000.2,2228500.1,460.1\n2,446100.2,2228520.1,460.2\n"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "day.csv").write_text(SHOTS, encoding="utf-8")
    return tmp_path


def test_shots_without_a_code_are_drafted(folder):
    assert 'file = "day.csv"' in begin(folder).path.read_text(encoding="utf-8")


def test_points_of_intersection_and_a_profile_are_no_shots(folder):
    table = "pi,northing,easting,radius,station\nA,446000,2228500,,100\nB,446300,2228500,50,\nC,446300,2228900,,\n"
    (folder / "cl.csv").write_text(table, encoding="utf-8")
    (folder / "grade.csv").write_text("station,elevation,curve\n100,460,\n300,462,100\n500,461,\n", encoding="utf-8")
    roles = {each.shown: each.role for each in look(folder).found}
    assert roles == {"cl.csv": "baseline", "day.csv": "shots", "grade.csv": "profile"}
    assert '[baseline]\nfile = "cl.csv"' in begin(folder).path.read_text(encoding="utf-8")


def test_design_of_landxml_is_drafted_in_its_own_unit(folder):
    text = (
        '<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units>'
        '<Imperial linearUnit="foot"/></Units><PlanFeatures><PlanFeature name="TC-1"><CoordGeom><Line>'
        "<Start>446000 2228500 1</Start><End>446100 2228500 1</End></Line></CoordGeom></PlanFeature></PlanFeatures>"
        "</LandXML>"
    )
    (folder / "plan.xml").write_text(text, encoding="utf-8")
    drafted = begin(folder).path.read_text(encoding="utf-8")
    assert '[[design]]\nfile = "plan.xml"' in drafted
    assert '\nkinds = { "TC-*" = "tc" }' in drafted


def test_level_notes_ask_what_they_may_miss(folder):
    (folder / "run.csv").write_text("point,BS,FS,distance\nA,4.2,,\nT,3.1,5.0,100\nA,,2.3,100\n", encoding="utf-8")
    drafted = begin(folder).path.read_text(encoding="utf-8")
    assert all(f'{key} = "REQUIRED"' in drafted for key in ("closure", "reference"))
    assert 'per = "mile"   # or "km": the length that closure is stated for' in drafted


@pytest.mark.parametrize(
    ("values", "what", "u"), [("1.8 %\n2,2.2 %", "cross-slope", "0.1 %"), ("4.02 ft\n2,48 in", "clear-width", "1/8 in")]
)
def test_readings_beside_the_shots_ask_what_they_are_of(folder, values, what, u):
    (folder / "level.csv").write_text(f"Point,Reading\n1,{values}\n", encoding="utf-8")
    drafted = begin(folder).path.read_text(encoding="utf-8")
    assert f'[[readings]]\nfile = "level.csv"\nwhat = "REQUIRED"   # "{what}"? or ' in drafted
    assert f'u = "REQUIRED"   # 1 sigma of one reading, e.g. "{u}"' in drafted


def test_a_typical_section_is_one(folder):
    text = "line,kind,from,to,offset,slope\nFL,curb-flow,10+00,20+00,-16,-0.02\n"
    (folder / "typical.csv").write_text(text, encoding="utf-8")
    assert '[section]\nfile = "typical.csv"' in begin(folder).path.read_text(encoding="utf-8")


def test_a_column_that_may_be_the_elevation_is_asked_for(tmp_path):
    (tmp_path / "day.csv").write_text(SHOTS.replace("Elevation", "Level (site)"), encoding="utf-8")
    asked = '# QUESTION: no column is known as elevation; is it "Level (site)"? Then: columns = { elevation ='
    assert asked in begin(tmp_path).path.read_text(encoding="utf-8")


def test_a_day_in_text_of_another_ending_is_read_as_init_does(folder):
    path = folder / "day.asc"
    path.write_text(SHOTS.replace(",", "\t"), encoding="utf-8")
    assert 'use = "shots.csv"' in job_text(DayFiles(shots=path))
    assert "shots.csv" not in job_text(DayFiles(shots=path, lines=('use = "shots.txt"',)))


def test_kinds_that_are_not_filled_in_are_named(tmp_path):
    path = tmp_path / "codes_draft.csv"
    path.write_text("code,kind\nGS,\nTC,\nCB,rim\n", encoding="utf-8")
    with pytest.raises(SourceError, match=r"the kind of 2 codes is not filled in: GS, TC\."):
        CodesText().read(path, source="codes")


@pytest.mark.parametrize(("name", "head"), [("ctrl list.csv", "Pt"), ("ctl_2026.csv", "Point No"), ("pts.csv", "Pnt")])
def test_marks_that_are_numbers_under_any_heading_of_points_are_control(tmp_path, name, head):
    shots = (
        "1,446000.11,2228500.15,460.1,CHK 201\n2,446100.09,2228600.02,461.2,CHK 202\n3,446050.1,2228550.2,460.5,CTB\n"
    )
    (tmp_path / "log.txt").write_text(shots, encoding="utf-8")
    rows = "201,446000.10,2228500.10,460.10,nail\n202,446100.10,2228600.00,461.20,cap\n"
    (tmp_path / name).write_text(f"{head},Northing,Easting,Elevation,Desc\n{rows}", encoding="utf-8")
    drafted = begin(tmp_path).path.read_text(encoding="utf-8")
    assert f'[control]\nfile = "{name}"' in drafted
    assert "check shots: 2 on 2 marks" in drafted


NETWORK = (
    '<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units>'
    '<Imperial linearUnit="foot"/></Units>'
    '<CgPoints><CgPoint name="H1" desc="Fire hydrant">446000 2228520 460</CgPoint>'
    '<CgPoint name="H2" desc="Fire hydrant">446090 2228520 460</CgPoint><CgPoint name="N1" desc="mag nail">446000 '
    '2228400 460</CgPoint></CgPoints><PipeNetworks><PipeNetwork name="San"><Structs>'
    '<Struct name="SMH-1" elevRim="460"><Center>446000 2228500</Center><Invert elev="452" flowDir="out" refPipe="P1"/>'
    '</Struct><Struct name="SMH-2" elevRim="461"><Center>446100 2228500</Center><Invert elev="451" flowDir="in" '
    'refPipe="P1"/></Struct></Structs><Pipes><Pipe name="P1" refStart="SMH-1" refEnd="SMH-2"/></Pipes></PipeNetwork>'
    "</PipeNetworks></LandXML>"
)


def test_what_is_drafted_for_a_network_and_bare_points_is_read_as_drafted(folder):
    (folder / "sewer.xml").write_text(NETWORK, encoding="utf-8")
    drafted = begin(folder).path.read_text(encoding="utf-8")
    (kinds,) = [tomllib.loads(line)["kinds"] for line in drafted.splitlines() if line.startswith("kinds = ")]
    assert kinds == {"structure": "rim", "Fire hydrant": "hydrant"}
    points = DesignLandXML(kinds=kinds).read(folder / "sewer.xml", source="s").layers["design_points"]
    assert sorted(points["kind"]) == ["hydrant", "hydrant", "invert", "invert", "rim", "rim"]
