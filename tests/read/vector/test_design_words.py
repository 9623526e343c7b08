"""What a design file calls its lines and points, and which kind each may be."""

import ezdxf
import geopandas as gpd
import pytest
from shapely import LineString, Point

from geoqa.model.kind_guess import guessed_kind
from geoqa.read.vector.design_words import design_words


@pytest.mark.parametrize(
    ("word", "geometry", "kind"),
    [
        ("C-SWLK-FRNT", "line", "walk-front"),
        ("Sidewalk_Back", "line", "walk-back"),
        ("walk front LT", "line", "walk-front"),
        ("KERB FLOWLINE", "line", "curb-flow"),
        ("HYD-BLOCK", "point", "hydrant"),
        ("GateValve", "point", "valve"),
        ("STRM-MH", "point", "rim"),
        ("C-STRM-PIPE", "line", "storm-top"),
        ("LIMITS OF WORK", "line", "limits-of-work"),
        ("A-ANNO-TEXT", "", ""),
        ("CURB", "line", ""),
        ("EX-CURB-TOP", "line", ""),
        ("0", "line", ""),
    ],
)
def test_a_drafters_word_means_a_kind_or_nothing(word, geometry, kind):
    assert guessed_kind(word, geometry=geometry)[0] == kind


def test_a_code_list_decides_before_words_do():
    kinds = {"berm": "line", "lamp": "point"}
    assert guessed_kind("BRM", kinds=kinds, codes={"brm": "berm"}) == ("berm", "code brm")
    assert guessed_kind("BRM", kinds=kinds, codes={"BRM": "berm"}, geometry="point")[0] == ""


def test_layers_blocks_and_attributes_of_a_drawing_are_listed_with_counts(tmp_path):
    document = ezdxf.new()
    space = document.modelspace()
    for name in ("HYD", "VLV"):
        document.blocks.new(name).add_attdef("TYPE", (0, 0))
    for at in range(3):
        space.add_blockref("HYD", (at, 0), dxfattribs={"layer": "C-WATR"}).add_auto_attribs({"TYPE": "hydrant"})
    space.add_blockref("VLV", (9, 0), dxfattribs={"layer": "C-WATR"})
    space.add_line((0, 0), (9, 9), dxfattribs={"layer": "C-WALK-FRNT", "color": 3, "linetype": "DASHED"})
    space.add_line((0, 0), (9, 9), dxfattribs={"layer": "GONE", "invisible": 1})
    space.add_text("note", dxfattribs={"layer": "C-WALK-FRNT"})
    document.saveas(tmp_path / "a.dxf")
    rows = [(e.option, e.field, e.word, e.lines, e.points, e.others, e.kind) for e in design_words(tmp_path / "a.dxf")]
    assert rows == [
        ("layers", "", "C-WALK-FRNT", 1, 0, 1, "walk-front"),
        ("layers", "", "C-WATR", 0, 4, 0, ""),
        ("blocks", "", "HYD", 0, 3, 0, "hydrant"),
        ("blocks", "", "VLV", 0, 1, 0, "valve"),
        ("values", "TYPE", "hydrant", 0, 3, 0, "hydrant"),
        ("linetypes", "", "DASHED", 1, 0, 0, ""),
        ("colours", "", "3", 1, 0, 0, ""),
    ]


@pytest.mark.parametrize("suffix", ["gpkg", "shp", "geojson"])
def test_the_attribute_that_tells_kinds_comes_first(tmp_path, suffix):
    shapes = [LineString([(0, n), (9, n)]) for n in range(4)]
    table = {
        "AUTHOR": ["drafter"] * 4,
        "FEATURE": ["walk front LT", "walk front LT", "curb top", "curb top"],
        "NAME": ["a", "b", "c", "d"],
        "geometry": shapes,
    }
    path = tmp_path / f"lines.{suffix}"
    gpd.GeoDataFrame(table, crs="EPSG:6547").to_file(path)
    values = [(e.field, e.word, e.lines, e.kind) for e in design_words(path) if e.option == "values"]
    assert values == [
        ("FEATURE", "curb top", 2, "curb-top"),
        ("FEATURE", "walk front LT", 2, "walk-front"),
        ("AUTHOR", "drafter", 4, ""),
    ]


def test_points_are_guessed_among_points(tmp_path):
    table = gpd.GeoDataFrame({"kind": ["ramp"], "geometry": [Point(1, 2)]}, crs="EPSG:6547")
    table.to_file(tmp_path / "p.gpkg")
    assert [(e.word, e.points, e.kind) for e in design_words(tmp_path / "p.gpkg") if e.option == "values"] == [
        ("ramp", 1, "ramp")
    ]
