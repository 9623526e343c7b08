"""`check` says what the run will do: what is compared, what not and why, and no "in order" where nothing is."""

import json

import pytest
from click.testing import CliRunner

from bench import landxml
from geoqa.cli import main
from geoqa.job.check import check

TOLERANCE = '[tolerance.curb-top]\nhorizontal = "0.1 ft"\nreference = "C-1"\n'


@pytest.fixture
def job(tmp_path):
    rows = [
        f"{n},{2228500 + 10 * n},446000,1460,{code}"
        for n, code in enumerate(["CTB", "CTB", "CTB", "GND", "CTX", "CTX", "CTX"])
    ]
    (tmp_path / "a.csv").write_text(
        "\n".join(["point,easting,northing,elevation,code", *rows]) + "\n", encoding="utf-8"
    )
    (tmp_path / "codes.csv").write_text(
        "code,kind,geometry,role\nCTB,curb-top,line,feature\nGND,ground,point,other\n", encoding="utf-8"
    )
    lines = [("curb-top", 446000.0), ("walk-front", 446020.0)]
    shapes = [
        {
            "type": "Feature",
            "properties": {"kind": kind, "name": kind},
            "geometry": {"type": "LineString", "coordinates": [[2228500.0, at, 1460.0], [2228600.0, at, 1460.0]]},
        }
        for kind, at in lines
    ]
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::6547"}}
    text = json.dumps({"type": "FeatureCollection", "crs": crs, "features": shapes})
    (tmp_path / "d.geojson").write_text(text, encoding="utf-8")
    path = tmp_path / "job.toml"
    path.write_text(
        '[job]\nname = "A"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
        '[codes]\nfile = "codes.csv"\n[[design]]\nfile = "d.geojson"\n',
        encoding="utf-8",
    )
    return path


def test_what_is_compared_and_what_is_not(job):
    job.write_text(job.read_text() + TOLERANCE + TOLERANCE.replace("curb-top", "rim"), encoding="utf-8")
    checked = check(job)
    assert checked.compares
    first, *others = checked.run
    assert first == "to be compared: 3 shots of 1 kind against 1 line of design (curb-top 3 on 1)"
    assert "not judged: 1 shot of kind ground: no design of this kind" in others
    assert "not judged: 1 line of kind walk-front: neither a shot nor a tolerance" in others
    assert "[tolerance.rim] judges nothing: neither a shot nor a line of design is of this kind" in others
    [unknown] = [line for line in others if "CTX" in line]
    assert unknown.startswith("not judged: 3 shots with code 'CTX', which the code list does not hold: ")
    assert "CTB" in unknown


def test_nothing_to_compare_is_not_in_order(job):
    said = CliRunner().invoke(main, ["check", str(job)])
    assert said.exit_code == 0, said.output
    assert said.output.startswith("nothing of the work will be compared")
    assert "nothing will be compared with design" in said.output
    assert 'add [tolerance.curb-top] with its limits and reference = "…"' in said.output
    assert "in order" not in said.output


def test_without_a_code_list_the_line_that_settles_it_is_told(job):
    job.write_text(job.read_text().replace('[codes]\nfile = "codes.csv"\n', "") + TOLERANCE, encoding="utf-8")
    checked = check(job)
    assert not checked.compares
    assert any("no [codes] says which kind a code stands for; add [codes]" in line for line in checked.run)


def test_what_is_still_required_is_named(job):
    job.write_text(job.read_text().replace('"codes.csv"', '"REQUIRED"'), encoding="utf-8")
    said = CliRunner().invoke(main, ["check", str(job)])
    assert said.exit_code == 2
    assert "[codes], file, line" in said.output
    assert "still to be filled in: the file, by its path" in said.output


def test_kinds_held_against_a_surface_are_compared(job, tmp_path):
    places = [(2228400.0, 445900.0, 1460.0), (2228700.0, 445900.0, 1460.0), (2228500.0, 446200.0, 1460.0)]
    surface = landxml.surfaces(landxml.surface("FG", places, [(1, 2, 3)]))
    (tmp_path / "fg.xml").write_text(landxml.document(surface), encoding="utf-8")
    more = '[[design]]\nfile = "fg.xml"\nsurfaces = ["FG"]\n'
    text = job.read_text(encoding="utf-8") + more
    job.write_text(text, encoding="utf-8")
    assert any("nothing is compared with it" in line for line in check(job).run)
    ground = '[tolerance.ground]\nsurface = "0.1 ft"\nreference = "C-2"\n'
    job.write_text(text + TOLERANCE + ground, encoding="utf-8")
    first, *others = check(job).run
    assert first.startswith("to be compared: 4 shots of 2 kinds against 1 line and a surface of design")
    assert not any("ground" in line or "nothing is compared" in line for line in others)
