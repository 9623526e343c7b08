"""A refusal names the file, the place, what is allowed, and the line of the job that would settle it: a sample."""

import ezdxf
import pytest

from geoqa.errors import GeoqaError
from geoqa.job.check import check

HEAD = '[job]\nname = "A"\n[frame]\nhorizontal = "EPSG:6559"\n'
SHOTS = "point,easting,northing,elevation,code\n1,8212400.1,651300.2,800.3,K\n2,8212410.1,651310.2,800.3,K\n"
XML = (
    '<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2">'
    '<Units><Imperial linearUnit="foot"/></Units>'
    '<PlanFeatures><PlanFeature name="A"><CoordGeom><Line><Start>651300 8212400</Start><End>651400 8212400</End></Line>'
    "</CoordGeom></PlanFeature></PlanFeatures></LandXML>"
)
SHOT_TABLE = '[[shots]]\nfile = "a.csv"\n'
SAMPLE = {
    "columns that are not there": (
        SHOT_TABLE + 'columns = { code = "Kode" }\n',
        ("'a.csv'", "no column 'Kode'", "point, easting", "the name in its columns"),
    ),
    "a column by a number too large": (
        SHOT_TABLE + "columns = { code = 9 }\n",
        ("'a.csv'", "columns 1 to 5", "no column 9", "the number in its columns"),
    ),
    "no coordinates": ('[[shots]]\nfile = "bare.csv"\n', ("'bare.csv'", "First row: who, what", "columns = [2 names")),
    "two orders": (
        '[[shots]]\nfile = "order.csv"\n',
            ("'order.csv'", "northing, easting", 'columns = ["shot", "easting"', "near ="),
    ),
    "a layer of a drawing": (
        SHOT_TABLE + '[[design]]\nfile = "d.dxf"\nlayers = { "GUTTER" = "g" }\n',
            ("'d.dxf'", "GUTTER", "curb", "layers = {"),
    ),
    "a surface": (
        SHOT_TABLE + '[[design]]\nfile = "p.xml"\nsurfaces = ["FG"]\n',
            ("'p.xml'", "no surface FG", "none", "surfaces ="),
    ),
    "no points": (SHOT_TABLE + '[control]\nfile = "p.xml"\n',
        ("'p.xml'", "1 PlanFeature", "no CgPoint", "[[design]] file")),
    "an alignment": (SHOT_TABLE + '[baseline]\nfile = "p.xml"\n',
        ("'p.xml'", "no Alignment", "[baseline]", "points = [")),
    "marks without a name": (SHOT_TABLE + '[control]\nfile = "bare.csv"\n',
        ("'bare.csv'", "needed: mark", "who, what", "columns = [")),
    "an empty list": (SHOT_TABLE + '[codes]\nfile = "none.csv"\n', ("'none.csv'", "no rows", "export it again")),
    "a column of the job that is none": (
        SHOT_TABLE + 'columns = ["shot", "easting", "northing", "height", "code"]\n',
            ("'height'", "allowed are", "elevation"),
    ),
    "an option that is none": (SHOT_TABLE + 'delimeter = ","\n', ("line 7", "did you mean delimiter", "allowed:")),
    "a limit without its unit": (
        SHOT_TABLE + '[tolerance.k]\nvertical = "0.1"\nreference = "C"\n',
            ("[tolerance.k], vertical, line 8", '"0.10 ft"'),
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", SAMPLE)
def test_every_refusal_of_the_sample_has_all_of_it(tmp_path, case):
    (tmp_path / "a.csv").write_text(SHOTS, encoding="utf-8")
    (tmp_path / "bare.csv").write_text("who,what\nA,B\nC,D\n", encoding="utf-8")
    (tmp_path / "none.csv").write_text("code,kind\n", encoding="utf-8")
    (tmp_path / "order.csv").write_text("1,5300.1,5400.2,800.3,K\n2,5310.1,5420.2,800.3,K\n", encoding="utf-8")
    (tmp_path / "p.xml").write_text(XML, encoding="utf-8")
    document = ezdxf.new("R2010")
    document.modelspace().add_line((8212400, 651300), (8212400, 651400), dxfattribs={"layer": "CURB"})
    document.saveas(tmp_path / "d.dxf")
    table, parts = SAMPLE[case]
    job = tmp_path / "job.toml"
    job.write_text(HEAD + table, encoding="utf-8")
    try:
        said = "\n".join(check(job).problems)
    except GeoqaError as error:
        said = str(error)
    assert said
    for part in parts:
        assert part in said, said
