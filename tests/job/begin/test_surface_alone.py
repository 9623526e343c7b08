"""A folder whose only design is a surface: its only one is drafted as design, of several the draft asks which."""

import pytest

import geoqa
from geoqa.job.begin.begin import begin
from geoqa.job.check import check

EAST, NORTH = 2_228_500.0, 446_000.0


def folder(path, *names):
    """Twelve shots on a plane of one triangle, written as one surface or several."""
    points = [(NORTH, EAST), (NORTH + 200, EAST), (NORTH, EAST + 200)]
    corners = "".join(f'<P id="{n}">{north} {east} 100</P>' for n, (north, east) in enumerate(points, 1))
    surfaces = "".join(
        f'<Surface name="{name}"><Definition surfType="TIN"><Pnts>{corners}</Pnts><Faces><F>1 2 3</F></Faces>'
        "</Definition></Surface>"
        for name in names
    )
    (path / "ground.xml").write_text(
        '<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2" date="2026-01-01" time="00:00:00">'
        '<Units><Imperial linearUnit="foot"/></Units><CoordinateSystem epsgCode="6547"/>'
        f"<Surfaces>{surfaces}</Surfaces></LandXML>"
    )
    rows = [f"{n},{EAST + 5 + 7 * n},{NORTH + 90 - 6 * n},100.02,GND" for n in range(1, 13)]
    (path / "shots.csv").write_text("point,easting,northing,elevation,code\n" + "\n".join(rows) + "\n")
    (path / "codes.csv").write_text("code,kind,geometry,role\nGND,ground,point,feature\n")
    return begin(path, frame="EPSG:6547").path


@pytest.mark.long
def test_the_only_surface_is_drafted_and_the_draft_is_in_order(tmp_path):
    path = folder(tmp_path, "FG 'north'")
    text = path.read_text(encoding="utf-8")
    assert '\n[[design]]\nfile = "ground.xml"\nsurfaces = ["FG \'north\'"]   # the only surface' in text
    assert "cannot be read" not in text
    assert check(path).problems == ()


def test_of_several_the_draft_asks_the_one_question(tmp_path):
    path = folder(tmp_path, "EG", "FG")
    text = path.read_text(encoding="utf-8")
    assert text.count('REQUIRED"') == 1
    assert 'surfaces = "REQUIRED"   # which is the design? "EG", "FG"; as ["NAME"]' in text
    path.write_text(text.replace('surfaces = "REQUIRED"', 'surfaces = ["FG"]'), encoding="utf-8")
    assert check(path).problems == ()


@pytest.mark.long
def test_what_is_drafted_runs_and_judges_every_shot_against_the_surface(tmp_path):
    """The plane lies at 100.00 everywhere, and the shots at 100.02; one limit is all that a person fills in."""
    path = folder(tmp_path, "FG")
    text = path.read_text(encoding="utf-8")
    assert "[tolerance]" in text
    limits = 'surface = "0.10 ft"\nreference = "Drawing 3"\n'
    text = text.replace("[tolerance]\n", f"[tolerance.ground]\n{limits}")
    worth = 'horizontal_random = "0.02 ft"\nvertical_random = "0.02 ft"\nvertical_common = "0.01 ft"\n'
    path.write_text(f'{text}[uncertainty.default]\n{worth}reference = "Crew"\n', encoding="utf-8")
    found = geoqa.run(path).findings
    surface = found[found["check"] == "surface"]
    assert len(surface) == 12
    assert set(surface["verdict"]) == {"IN"}
    assert surface["deviation"].tolist() == pytest.approx([0.02] * 12, abs=0.001)
    assert (tmp_path / "out" / "map.html").is_file()
