"""An alignment from a drawing: bulges are arcs, entities join either way, what is no single line is refused."""

import ezdxf
import numpy as np
import pytest

from geoqa.errors import SourceError
from geoqa.model.quantity import US_SURVEY_FOOT
from geoqa.read.baseline.drawing import AlignmentDrawing

EAST, NORTH = 2_228_000.0, 446_000.0


@pytest.fixture
def drawing(tmp_path):
    def made(draw, name="cl.dxf", **options):
        document = ezdxf.new(units=21)
        draw(document.modelspace())
        document.saveas(tmp_path / name)
        return AlignmentDrawing(layer="C-ROAD", **options).read(tmp_path / name, source="baseline")

    return made


def at(east, north):
    return EAST + east, NORTH + north


def polyline(space, layer="C-ROAD"):
    """North 100, quarter circle right of radius 50, east 80, quarter circle left of radius 60, north 40."""
    quarter = np.tan(np.pi / 8)
    points = [(*at(0, 0), 0), (*at(0, 100), -quarter), (*at(50, 150), 0), (*at(130, 150), quarter), (*at(190, 210), 0),
              (*at(190, 250), 0)]  # fmt: skip
    space.add_lwpolyline(points, format="xyb", dxfattribs={"layer": layer})


def test_a_polyline_with_bulges(drawing):
    source = drawing(polyline, start="10+00")
    rows = source.layers["baseline"]
    assert rows["shape"].tolist() == ["line", "arc", "line", "arc", "line"]
    np.testing.assert_allclose(rows["start_radius"].dropna(), [50, -60], rtol=1e-9)
    np.testing.assert_allclose(rows["azimuth"] % 360, [0, 0, 90, 90, 0], atol=1e-6)
    np.testing.assert_allclose(rows["start_station"], np.cumsum([1000, 100, 25 * np.pi, 80, 30 * np.pi]), atol=1e-6)
    assert source.unit == US_SURVEY_FOOT


def test_from_the_other_end(drawing):
    rows = drawing(polyline, from_end=True).layers["baseline"]
    np.testing.assert_allclose(rows["start_radius"].dropna(), [60, -50], rtol=1e-9)
    np.testing.assert_allclose(rows["azimuth"] % 360, [180, 180, 270, 270, 180], atol=1e-6)
    assert (rows["easting"][0], rows["northing"][0]) == pytest.approx(at(190, 250))


def test_lines_and_arcs_drawn_either_way_are_joined(drawing):
    def apart(space):
        on = {"layer": "C-ROAD"}
        space.add_line(at(0, 0), at(0, 100), dxfattribs=on)
        space.add_line(at(130, 150), at(50, 150), dxfattribs=on)  # against the way
        space.add_arc(at(50, 100), 50, 90, 180, dxfattribs=on)
        polyline(space, "OTHER")

    rows = drawing(apart).layers["baseline"]
    assert rows["shape"].tolist() == ["line", "arc", "line"]
    assert rows["start_radius"].dropna().tolist() == pytest.approx([50.0])


def test_what_is_no_single_line_is_refused(drawing):
    def two(space):
        polyline(space)
        space.add_line(at(500, 0), at(600, 0), dxfattribs={"layer": "C-ROAD"})

    with pytest.raises(
        SourceError, match=r"'cl.dxf', line C-ROAD-2, piece 1: it starts at 2228500.00, 446000.00 and joins"
    ):
        drawing(two)


def test_a_kink_is_refused_with_its_piece(drawing):
    def bent(space):
        space.add_lwpolyline([at(0, 0), at(0, 100), at(50, 200)], dxfattribs={"layer": "C-ROAD"})

    with pytest.raises(
        SourceError, match=r"piece 2, baseline 'C-ROAD': it turns off by \+26.5651 degrees .*kink_deg = 26.6"
    ):
        drawing(bent)


def test_a_layer_that_is_not_there_is_named(drawing):
    with pytest.raises(SourceError, match="no layer C-ROAD"):
        drawing(lambda space: polyline(space, "OTHER"))
