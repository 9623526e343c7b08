"""Numbers written beside flat vertices are counted and told; nothing is taken from them."""

import ezdxf
import pytest

from geoqa.read.vector.dxf import DesignDrawing

CORNERS = [(2_228_000.0, 446_000.0), (2_228_050.0, 446_000.0), (2_228_050.0, 446_080.0)]


def read(folder, texts, *, z=None, units=2, multi=False):
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = units
    space = document.modelspace()
    if z is None:
        space.add_lwpolyline(CORNERS, dxfattribs={"layer": "WALK"})
    else:
        space.add_polyline3d([(*each, z) for each in CORNERS], dxfattribs={"layer": "WALK"})
    for (east, north), text in texts:
        if multi:
            space.add_mtext(text, dxfattribs={"layer": "NOTES", "insert": (east, north)})
        else:
            space.add_text(text, dxfattribs={"layer": "NOTES", "insert": (east, north)})
    document.saveas(folder / "d.dxf")
    source = DesignDrawing(layers={"WALK": "walk-front"}).read(folder / "d.dxf", source="d")
    return source, [each for each in source.evidence if each.what == "elevations as text"]


def beside(texts, off=1.5):
    return [((east + off, north), text) for (east, north), text in zip(CORNERS, texts, strict=True)]


@pytest.mark.parametrize("multi", [False, True])
def test_numbers_beside_flat_vertices_are_counted_and_not_taken(tmp_path, multi):
    source, (told,) = read(tmp_path, beside(["1461.25", "TC 1462.10", "STA 12+50.25"]), multi=multi)
    assert told.answer == "2 of 3 vertices and points without one have a number beside them, 1461.25 to 1462.10"
    assert "not taken" in told.because
    assert source.layers["design_elements"]["start_elevation"].isna().all()


def test_two_numbers_at_one_vertex_are_counted_apart(tmp_path):
    texts = [*beside(["1461.25", "1462.10", "1463.00"]), ((CORNERS[0][0], CORNERS[0][1] + 1.0), "1460.75")]
    _, (told,) = read(tmp_path, texts)
    assert told.answer.startswith("2 of 3 ")
    assert told.answer.endswith("; 1 more have several")


@pytest.mark.parametrize(
    ("texts", "off", "z", "units"),
    [
        (["1461.25"] * 3, 2.5, None, 2),
        (["1461.25"] * 3, 1.0, None, 6),
        (["1461.25"] * 3, 1.5, 1461.0, 2),
        (["2.00%", "R25", "1461"], 1.5, None, 2),
    ],
)
def test_nothing_is_told_of_other_texts_and_of_lines_with_elevations(tmp_path, texts, off, z, units):
    assert read(tmp_path, beside(texts, off), z=z, units=units)[1] == []
