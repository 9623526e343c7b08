"""Vector files that are not what they should be: read as far as they can be, or refused in one sentence."""

import json
import sqlite3
import struct
from contextlib import closing

import geopandas as gpd
import pytest
from shapely import LineString

from geoqa.errors import SourceError
from geoqa.read.design import DesignVector

LEG = [[2231000.0, 445000.0], [2231030.0, 445040.0]]
NINES = "9" * 400


def feature(shape, coordinates, **attributes):
    return {
        "type": "Feature",
        "properties": {"name": "A", "kind": "k"} | attributes,
        "geometry": {"type": shape, "coordinates": coordinates},
    }


GOOD = feature("LineString", LEG, name="G")


def collection(path, *features, crs=False, text=None):
    held = {"type": "FeatureCollection", "features": [*features, GOOD]}
    if crs:
        held["crs"] = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::6547"}}
    path.write_text((text or json.dumps)(held), encoding="utf-8")
    return path


HELD = {"type": "GeometryCollection", "geometries": [{"type": "Point", "coordinates": [1, 2]}]}
JSON = {
    "collection": (
        {"type": "Feature", "properties": {"name": "A", "kind": "k"}, "geometry": HELD},
        "GeometryCollection",
    ),
    "list as a type": (feature(["Point"], [1, 2]), "is a ['Point']"),
    "ring of nothing": (feature("MultiPolygon", [[LEG], 5], kind="limits-of-work"), "no number"),
    "unclosed": (feature("Polygon", [[*LEG, [2231000.0, 445040.0]]], kind="limits-of-work"), "not closed"),
    "dict": (feature("Point", [{"a": 1}, 2]), "no number"),
    "true and false": (feature("LineString", [LEG[0], [True, False], LEG[1]]), "no number"),
    "true for an elevation": (feature("Point", [*LEG[0], True]), "no number"),
    "text for an elevation": (feature("Point", [*LEG[0], "9"]), "no number"),
}


@pytest.mark.parametrize("crs", [True, False])
@pytest.mark.parametrize("case", JSON)
def test_what_is_odd_in_geojson_is_told_and_the_rest_is_read(tmp_path, case, crs):
    bad, reason = JSON[case]
    source = DesignVector().read(collection(tmp_path / "a.geojson", bad, crs=crs), source="d")
    assert "G" in source.layers["design_lines"]["line"].tolist()
    assert any(reason in each.reason for each in source.troubles)


def test_a_ring_that_is_not_closed_is_closed_and_told(tmp_path):
    source = DesignVector().read(collection(tmp_path / "a.geojson", JSON["unclosed"][0]), source="d")
    assert (source.layers["design_elements"]["line"] == "A").sum() == 3


def test_a_number_of_many_digits_is_no_place(tmp_path):
    bad = feature("LineString", [["X", 1.0], [2.0, 3.0]])
    path = collection(tmp_path / "a.geojson", bad, text=lambda held: json.dumps(held).replace('"X"', NINES))
    source = DesignVector().read(path, source="d")
    assert (source.crs, [each.reason for each in source.troubles]) == (
        None,
        ["has a coordinate that is no number; not read"],
    )
    path.write_text(path.read_text().replace(NINES, "9" * 5000))
    with pytest.raises(SourceError, match=r"'a\.geojson' is no JSON"):
        DesignVector().read(path, source="d")


def test_half_a_character_in_a_name_is_replaced(tmp_path):
    path = collection(
        tmp_path / "a.geojson", feature("LineString", [[1.0, 2.0], [3.0, 4.0]], name="w\ud800", kind="k\udfff")
    )
    lines = DesignVector().read(path, source="d").layers["design_lines"]
    assert lines.iloc[0][["line", "kind"]].tolist() == ["w\ufffd", "k\ufffd"]


def package(path, change):
    shape = LineString([(*place, 1458.0) for place in LEG])
    table = gpd.GeoDataFrame({"name": ["A", "G"], "kind": ["k", "k"]}, geometry=[shape, shape], crs="EPSG:6547")
    table.to_file(path, layer="lines")
    with closing(sqlite3.connect(path)) as file:
        for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            file.execute(f'DROP TRIGGER "{name}"')
        change(file)
        file.commit()
    return path


def shape(code, *numbers, counts=(1,), layout="d"):
    held = struct.pack("<BI", 1, code) + struct.pack(f"<{len(counts)}I", *counts)
    return held + struct.pack(f"<{len(numbers)}{layout}", *numbers)


TRIANGLE = shape(17, 0, 0, 1, 0, 1, 1, 0, 0, counts=(1, 4))
SHAPES = {
    "one vertex": (shape(2, 1.0, 2.0), "is a damaged LineString"),
    "TIN": (shape(16) + TRIANGLE, "is a TIN;"),
    "unclosed": (shape(3, 0, 0, 1, 0, 1, 1, counts=(1, 3)), "is a damaged Polygon"),
    "far": (shape(2, 1e300, 2.0, 3.0, 4.0, counts=(2,)), "vertex without a place"),
    "cut": (shape(2, 1.0, counts=(900,)), "no geometry"),
    "no type": (b"\x01\xff\xff\xff\xff", "no geometry"),
}


@pytest.mark.parametrize("case", SHAPES)
def test_a_damaged_shape_in_a_geopackage_is_named_and_the_rest_is_read(tmp_path, case):
    held, reason = SHAPES[case]
    blob = b"GP\x00\x01" + struct.pack("<i", 6547) + held
    path = package(
        tmp_path / "a.gpkg", lambda file: file.execute("UPDATE lines SET geom = ? WHERE name = 'A'", (blob,))
    )
    source = DesignVector().read(path, source="d")
    assert source.layers["design_lines"]["line"].tolist() == ["G"]
    (trouble,) = source.troubles
    assert (trouble.line, reason in trouble.reason) == (1, True)


ENDLESS = (
    "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i AS fid, 'a' AS name, NULL AS geom FROM n"
)


def test_a_view_is_never_read(tmp_path):
    path = package(tmp_path / "a.gpkg", lambda file: file.execute(f"CREATE VIEW endless AS {ENDLESS}"))
    assert DesignVector().read(path, source="d").layers["design_lines"]["line"].tolist() == ["A", "G"]

    def shown(file):
        file.execute(f"CREATE VIEW endless AS {ENDLESS}")
        file.execute("INSERT INTO gpkg_contents (table_name, data_type, srs_id) VALUES ('endless', 'features', 6547)")
        file.execute("INSERT INTO gpkg_geometry_columns VALUES ('endless', 'geom', 'LINESTRING', 6547, 0, 0)")

    (tmp_path / "a.gpkg").unlink()
    path = package(tmp_path / "a.gpkg", shown)
    for look in (lambda: DesignVector().peek(path), lambda: DesignVector().read(path, source="d")):
        with pytest.raises(SourceError, match="endless is a view, which is computed when it is read"):
            look()


LEGS = [LineString([(0, 5 * n), (9, 5 * n)]) for n in range(3)]


def test_values_of_an_attribute_mean_kinds(tmp_path):
    values = ["walk front LT", "Walk Front RT", "note"]
    table = gpd.GeoDataFrame({"FEATURE": values, "ID": [1, 2, 3]}, geometry=LEGS, crs="EPSG:6547")
    table.to_file(tmp_path / "a.shp")
    read = DesignVector(kind_field="FEATURE", values={"walk front *": "walk-front"}, name_field="ID")
    source = read.read(tmp_path / "a.shp", source="d")
    assert source.layers["design_lines"][["line", "kind"]].to_numpy().tolist() == [
        ["1", "walk-front"],
        ["2", "walk-front"],
    ]
    (trouble,) = source.troubles
    assert 'add e.g. values = { "note" = ' in trouble.reason
    left = read.model_copy(update={"values": read.values | {"note": ""}}).read(tmp_path / "a.shp", source="d")
    assert left.troubles == ()
    assert [each.answer for each in left.evidence if each.because == "left out in the job"] == ["note 1"]


def test_names_that_repeat_say_which_attribute_may_name_instead(tmp_path):
    table = gpd.GeoDataFrame(
        {"name": ["W"] * 3, "kind": ["k"] * 3, "TAG": ["a", "b", "c"], "SHEET": ["1", "1", "2"]},
        geometry=LEGS,
        crs="EPSG:6547",
    )
    table.to_file(tmp_path / "a.gpkg", layer="a")
    with pytest.raises(SourceError, match=r'names two things \'W\'.* name_field = "TAG", which differs everywhere'):
        DesignVector().read(tmp_path / "a.gpkg", source="d")
    for field, names in (("TAG", ["a", "b", "c"]), ("", ["k-1", "k-2", "k-3"])):
        source = DesignVector(name_field=field).read(tmp_path / "a.gpkg", source="d")
        assert source.layers["design_lines"]["line"].tolist() == names
