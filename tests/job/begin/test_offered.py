"""What a file of design holds besides is offered with counts and names, as comments that can be taken in."""

import tomllib

import pytest

from geoqa.job.begin.begin import begin

pytestmark = pytest.mark.long

UNITS = '<Units><Imperial linearUnit="foot"/></Units>'
LINE = (
    '<PlanFeatures><PlanFeature name="SWK-FRONT-1"><CoordGeom><Line><Start>651300 8212400 1</Start>'
    "<End>651400 8212400 1</End></Line></CoordGeom></PlanFeature></PlanFeatures>"
)
POINTS = (
    '<CgPoints><CgPoint name="K1">651310 8212410 800</CgPoint><CgPoint name="K2">651320 8212420 800</CgPoint>'
    '<CgPoint name="F9" code="HYD">651330 8212400 800</CgPoint></CgPoints>'
)
SURFACE = (
    '<Surfaces><Surface name="FG"><Definition surfType="TIN"><Pnts><P id="1">651300 8212400 1</P>'
    '<P id="2">651300 8212500 1</P><P id="3">651400 8212400 1</P></Pnts><Faces><F>1 2 3</F></Faces></Definition>'
    "</Surface></Surfaces>"
)
SHOTS = (
    "Point,Northing,Easting,Elevation,Code\n1,651310,8212410,800,CK K1\n2,651320,8212420,800,CK K2\n"
    "3,651305,8212400,1,SW\n"
)


@pytest.fixture
def drafted(tmp_path):
    def of(*parts, **files):
        head = '<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2">'
        (tmp_path / "plan.xml").write_text(head + UNITS + "".join(parts) + "</LandXML>", encoding="utf-8")
        (tmp_path / "shots.csv").write_text(SHOTS, encoding="utf-8")
        for name, text in files.items():
            (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
        return begin(tmp_path, force=True).path.read_text(encoding="utf-8")

    return of


def test_points_beside_lines_are_offered_as_control(drafted):
    text = drafted(POINTS, LINE)
    assert "# 3 points (CgPoint): K1, K2, F9; the shots name 2 of them." in text
    assert '# [control]\n# file = "plan.xml"\n# only = ["K1"]' in text
    taken = text.replace('# [control]\n# file = "plan.xml"', '[control]\nfile = "plan.xml"')
    assert tomllib.loads(taken)["control"] == {"file": "plan.xml"}


def test_points_whose_code_says_so_are_design_too(drafted):
    assert '\nkinds = { "SWK-FRONT-*" = "walk-front", "HYD" = "hydrant" }' in drafted(POINTS, LINE)


def test_where_a_list_of_marks_is_there_the_draft_says_that_a_job_takes_one(drafted):
    marks = "mark,easting,northing\nK1,8212410,651310\nK2,8212420,651320\n"
    assert "# A job takes one [control], and marks.csv is it; to have these instead:" in drafted(
        POINTS, LINE, marks=marks
    )


def test_a_surface_beside_lines_is_offered(drafted):
    text = drafted(LINE, SURFACE)
    assert '# surfaces = ["FG"]   # 1 surface of the file, not read' in text
    assert "such as ground: surface =" in text


def test_a_file_without_points_offers_none(drafted):
    assert "CgPoint" not in drafted(LINE)
