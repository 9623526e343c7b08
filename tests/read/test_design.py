"""Design from vector files: names, kinds, elevations, coordinate systems, and what is refused."""

import json
import sqlite3
import struct

import numpy as np
import pytest

from geoqa.errors import SourceError
from geoqa.read.design import DesignVector


def told(source, what):
    return [each for each in source.evidence if each.what == what]


def feature(shape, coordinates, **properties):
    return {"type": "Feature", "properties": properties, "geometry": {"type": shape, "coordinates": coordinates}}


def collection(*features, **more):
    return {"type": "FeatureCollection", "features": list(features), **more}


@pytest.fixture
def read(design):
    def go(*features, more=None, **options):
        return DesignVector(**options).read(design.geojson(collection(*features, **(more or {}))), source="d")

    return go


LEG = [[2231000.0, 445000.0, 9.0], [2231003.0, 445004.0, 8.0]]


def test_a_missing_z_stays_missing(read):
    source = read(feature("LineString", [[5000.0, 1.0, 9.0], [5003.0, 5.0], [5006.0, 9.0, None]], name="A", kind="k"))
    elements = source.layers["design_elements"]
    np.testing.assert_array_equal(elements["start_elevation"], [9.0, np.nan])
    np.testing.assert_array_equal(elements["end_elevation"], [np.nan, np.nan])


def test_a_z_of_zero_throughout_is_no_elevation_unless_stated(read):
    flat = feature("LineString", [[5000.0, 1.0, 0.0], [5003.0, 5.0, 0.0]], name="A", kind="k")
    source = read(flat)
    assert source.layers["design_elements"]["start_elevation"].isna().all()
    assert "as-drawn" in told(source, "elevations")[0].because
    assert read(flat, elevations="as-drawn").layers["design_elements"]["start_elevation"].tolist() == [0.0]
    raised = feature("LineString", LEG, name="A", kind="k")
    assert read(raised, elevations="none").layers["design_elements"]["start_elevation"].isna().all()


def test_parts_of_one_feature_get_a_number_each(read):
    source = read(feature("MultiLineString", [LEG, [[5000.0, 1.0], [5003.0, 5.0]]], name="A", kind="k"))
    assert source.layers["design_lines"]["line"].tolist() == ["A-1", "A-2"]
    source = read(feature("MultiLineString", [LEG], name="A", kind="k"))
    assert source.layers["design_lines"]["line"].tolist() == ["A"]


def test_two_things_of_one_name_are_refused_with_both_places(read):
    with pytest.raises(
        SourceError, match=r"(?s)names two things 'A': no\. 1 .*2231000\.00, 445000\.00.* and no\. 2 .*5\.00, 6\.00"
    ):
        read(feature("LineString", LEG, name="A", kind="k"), feature("Point", [5.0, 6.0], name="A", kind="k"))


def test_what_has_no_name_is_numbered_by_its_kind(read):
    points = [feature("Point", [5000.0 + each, 6.0], kind="valve") for each in range(3)]
    source = read(*points, feature("LineString", LEG, kind="curb-top", name=""))
    assert source.layers["design_points"]["point"].tolist() == ["valve-1", "valve-2", "valve-3"]
    assert source.layers["design_lines"]["line"].tolist() == ["curb-top-1"]
    assert told(source, "names in layer design")[0].answer == "4 made"


def test_names_that_are_whole_numbers_stay_whole(read):
    source = read(
        feature("Point", [5000.0, 6.0], kind="valve", name=7.0),
        feature("Point", [5001.0, 6.0], kind="valve", name="007"),
    )
    assert source.layers["design_points"]["point"].tolist() == ["7", "007"]


def test_polygons_of_limits_of_work_are_read_as_their_rings(read):
    outer, hole = ([[5000.0, 6000.0], [5100.0, 6000.0], [5100.0, 6100.0], [5000.0, 6000.0]],
                   [[5050.0, 6010.0], [5060.0, 6010.0], [5060.0, 6020.0], [5050.0, 6010.0]])  # fmt: skip
    source = read(
        feature("Polygon", [outer, hole], name="LIMIT", kind="limits-of-work"),
        feature("MultiPolygon", [[outer], [hole]], name="MORE", kind="limits-of-work"),
    )
    lines = source.layers["design_lines"]
    assert lines["line"].tolist() == ["LIMIT-1", "LIMIT-2", "MORE-1", "MORE-2"]
    assert set(lines["kind"]) == {"limits-of-work"}
    assert source.layers["design_elements"].groupby("line").size().tolist() == [3, 3, 3, 3]
    assert not source.troubles


NOT_READ = {
    "polygon": (
        feature("Polygon", [[[0, 0], [1, 0], [1, 1], [0, 0]]], name="B", kind="k"),
        "is a Polygon; only lines and points",
    ),
    "collection": (
        {
            "type": "Feature",
            "properties": {"name": "B", "kind": "k"},
            "geometry": {"type": "GeometryCollection", "geometries": [1]},
        },
        "is a GeometryCollection",
    ),
    "no geometry": ({"type": "Feature", "properties": {"name": "B", "kind": "k"}, "geometry": None}, "has no geometry"),
    "no coordinates": (feature("LineString", [], name="B", kind="k"), "has no geometry"),
    "no kind": (feature("LineString", LEG, name="B"), "has no kind"),
    "no length": (feature("LineString", [LEG[0], LEG[0]], name="B", kind="k"), "has no length"),
    "one vertex": (feature("LineString", [LEG[0]], name="B", kind="k"), "has no length"),
    "text": (feature("LineString", [["1", "2"], ["3", "4"]], name="B", kind="k"), "coordinate that is no number"),
    "short": (feature("Point", [1.0], name="B", kind="k"), "coordinate that is no number"),
    "number": (feature("LineString", 5, name="B", kind="k"), "has no geometry"),
    "nested wrong": (feature("MultiLineString", [5], name="B", kind="k"), "coordinate that is no number"),
    "nan": (feature("LineString", [[float("nan"), 1.0], [2.0, 3.0]], name="B", kind="k"), "vertex without a place"),
    "infinite": (feature("Point", [float("inf"), 1.0], name="B", kind="k"), "has no place"),
    "no object": (5, "has no geometry"),
}


@pytest.mark.parametrize("case", NOT_READ)
def test_a_feature_that_cannot_be_read_is_named_and_the_rest_goes_on(read, case):
    bad, reason = NOT_READ[case]
    source = read(bad, feature("LineString", LEG, name="A", kind="k"))
    assert source.layers["design_lines"]["line"].tolist() == ["A"]
    (trouble,) = source.troubles
    assert trouble.line == 1
    assert reason in trouble.reason


def test_a_vertex_twice_is_one_vertex_and_a_step_is_named(read):
    source = read(feature("LineString", [LEG[0], LEG[0], LEG[1], [*LEG[1][:2], 7.5]], name="A", kind="k"))
    assert len(source.layers["design_elements"]) == 1
    assert source.layers["design_elements"]["end_elevation"].tolist() == [8.0]
    assert [each.reason for each in source.troubles] == ["steps in elevation at vertex 4; the first one is taken"]


def test_a_file_of_nothing_readable_is_refused_with_reasons(read):
    with pytest.raises(SourceError, match=r"(?s)no design line and no design point.*'A' has no length"):
        read(feature("LineString", [LEG[0], LEG[0]], name="A", kind="k"))


def test_layers_without_a_kind_need_one_from_the_job(read):
    leg = feature("LineString", LEG, name="A", sort="curb-top")
    with pytest.raises(
        SourceError,
        match=r"layer design, has no attribute 'kind'; it has name, sort\. State the attribute .* kind_field = ",
    ):
        read(leg)
    assert read(leg, kind_field="sort").layers["design_lines"]["kind"].tolist() == ["curb-top"]
    assert read(leg, layers={"design": "walk-back"}).layers["design_lines"]["kind"].tolist() == ["walk-back"]
    assert read(leg, layers={"*": "rim"}).layers["design_lines"]["kind"].tolist() == ["rim"]
    with pytest.raises(SourceError, match="no layer curbs; its layers are design"):
        read(leg, layers={"curbs": "curb-top"})


def test_a_layer_can_be_left_out(design):
    source = DesignVector(layers={"points": ""}).read(design.gpkg(), source="d")
    assert len(source.layers["design_points"]) == 0
    assert len(source.layers["design_lines"]) == 3
    assert told(source, "layer points")[0].answer == "left out"


def test_geojson_without_a_crs_member_is_longitude_and_latitude(read):
    source = read(feature("LineString", [[-99.46, 46.88], [-99.45, 46.88]], name="A", kind="k"))
    assert source.crs == "OGC:CRS84"
    assert "RFC 7946" in told(source, "coordinate system")[0].because


def test_geojson_in_grid_coordinates_without_a_crs_member_declares_nothing(read):
    source = read(feature("LineString", LEG, name="A", kind="k"))
    assert source.crs is None
    assert "no longitude and latitude" in told(source, "coordinate system")[0].because


@pytest.mark.parametrize(
    ("name", "crs"),
    [
        ("urn:ogc:def:crs:EPSG::6547", "EPSG:6547"),
        ("EPSG:6499", "EPSG:6499"),
        ("urn:ogc:def:crs:OGC:1.3:CRS84", "OGC:CRS84"),
    ],
)
def test_a_crs_member_is_believed(read, name, crs):
    more = {"crs": {"type": "name", "properties": {"name": name}}}
    assert read(feature("LineString", LEG, name="A", kind="k"), more=more).crs == crs


@pytest.mark.parametrize(
    ("held", "message"),
    [
        ("{", "is no JSON: "),
        ("[1, 2]", "no GeoJSON FeatureCollection"),
        ('{"type": "FeatureCollection"}', "no GeoJSON FeatureCollection"),
        ("[" * 100_000, "is no JSON"),
        ("", "is empty"),
    ],
)
def test_a_file_that_is_no_geojson_is_refused(design, held, message):
    path = design.folder / "x.geojson"
    path.write_text(held, encoding="utf-8")
    with pytest.raises(SourceError, match=message):
        DesignVector().read(path, source="d")


@pytest.mark.parametrize("suffix", ["gpkg", "shp"])
def test_a_vector_file_that_cannot_be_opened_is_refused(design, suffix):
    path = design.folder / f"x.{suffix}"
    with pytest.raises(SourceError, match=r"There is no file 'x\."):
        DesignVector().read(path, source="d")
    path.write_bytes(b"no such thing")
    with pytest.raises(SourceError, match=r"cannot be opened as a vector file|is no shapefile"):
        DesignVector().read(path, source="d")


def test_a_shapefile_without_its_index_is_refused(design):
    path = design.shp("lines")
    path.with_suffix(".shx").unlink()
    with pytest.raises(SourceError, match="cannot be opened as a vector file"):
        DesignVector().read(path, source="d")


def test_a_shapefile_without_prj_declares_no_coordinate_system(design):
    path = design.shp("lines")
    path.with_suffix(".prj").unlink()
    source = DesignVector().read(path, source="d")
    assert source.crs is None
    assert "no .prj" in told(source, "coordinate system")[0].because


@pytest.mark.parametrize("held", [b"PROJCS[", b"no definition", b"\xff\xfe\x00"])
def test_a_shapefile_whose_prj_cannot_be_read_is_refused(design, held):
    path = design.shp("lines")
    path.with_suffix(".prj").write_bytes(held)
    with pytest.raises(SourceError, match=r"its coordinate system cannot be read; remove its \.prj and state frame ="):
        DesignVector().read(path, source="d")


@pytest.mark.filterwarnings("ignore:'crs' was not provided")
def test_a_geopackage_without_a_coordinate_system_declares_none(design):
    path = design.folder / "plain.gpkg"
    design.frame("lines").set_crs(None, allow_override=True).to_file(path, layer="lines")
    assert DesignVector().read(path, source="d").crs is None


@pytest.mark.parametrize("place", [200, 5000, 20_000, 60_000])
def test_a_damaged_geopackage_is_refused_and_ends_nothing(design, place):
    path = design.gpkg()
    held = bytearray(path.read_bytes())
    del held[place : place + 9]
    path.write_bytes(held)
    with pytest.raises(SourceError, match="no whole GeoPackage"):
        DesignVector().read(path, source="d")


def test_layers_in_two_coordinate_systems_are_refused(design):
    path = design.gpkg()
    design.frame("points").set_crs("EPSG:6548", allow_override=True).to_file(path, layer="others")
    with pytest.raises(SourceError, match="layers in 2 coordinate systems"):
        DesignVector().read(path, source="d")


def test_a_table_that_draws_nothing_is_told(design):
    import pandas as pd
    import pyogrio

    path = design.gpkg()
    pyogrio.write_dataframe(pd.DataFrame({"title": ["x"]}), path, layer="about")
    assert told(DesignVector().read(path, source="d"), "not read")[0].answer == "about"


def with_curve(path, code, *, column="GEOMETRY"):
    """Rewrite the first line of a layer as another type of well-known binary."""
    with sqlite3.connect(path) as file:
        blob = file.execute("SELECT geom FROM lines WHERE fid = 1").fetchone()[0]
        at = 8 + {0: 0, 1: 32, 2: 48}[(blob[3] >> 1) & 7]
        changed = blob[: at + 1] + struct.pack("<I", code) + blob[at + 5 :]
        for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            file.execute(f"DROP TRIGGER {name}")
        file.execute("UPDATE lines SET geom = ? WHERE fid = 1", (changed,))
        file.execute("UPDATE gpkg_geometry_columns SET geometry_type_name = ? WHERE table_name = 'lines'", (column,))
    return path


@pytest.mark.parametrize("column", ["GEOMETRY", "CIRCULARSTRING"])
def test_a_curve_is_refused_because_it_would_become_chords(design, column):
    path = with_curve(design.gpkg(), 1008, column=column)
    with pytest.raises(SourceError, match="layer lines, holds 1 CircularString, which would be read as chords"):
        DesignVector().read(path, source="d")


@pytest.mark.filterwarnings("ignore:geometry column type for layer")
def test_a_layer_of_any_geometry_with_z_is_read_all_the_same(design):
    truth = DesignVector().read(design.gpkg(), source="d").layers["design_elements"]
    path = with_curve(design.folder / "design.gpkg", 1002)
    assert DesignVector().read(path, source="d").layers["design_elements"].equals(truth)


@pytest.fixture
def with_elements(design, curved):
    def go(change=None, *, name="CFL-R", drop=()):
        import geopandas
        import pyogrio
        import shapely

        path = design.folder / "elements.gpkg"
        line = shapely.LineString([(*place, 0.0) for place in curved.places])
        geopandas.GeoDataFrame({"name": [name], "kind": ["curb-flow"]}, geometry=[line], crs="EPSG:6547").to_file(
            path, layer="lines"
        )
        table = curved.table.drop(columns=list(drop))
        for (row, column), value in (change or {}).items():
            table.loc[row, column] = value
        pyogrio.write_dataframe(table, path, layer="elements")
        return DesignVector().read(path, source="d")

    return go


def test_a_table_of_elements_is_what_is_judged(with_elements, curved):
    source = with_elements()
    assert source.layers["design_elements"]["shape"].tolist() == ["line", "arc", "line"]
    assert source.layers["design_elements"]["length"].tolist() == curved.table["length"].tolist()
    assert told(source, "elements")[0].answer == "3"


def test_elements_may_stand_in_any_order(with_elements, curved):
    truth = with_elements().layers["design_elements"]
    curved.table = curved.table[::-1].reset_index(drop=True)
    assert with_elements().layers["design_elements"].equals(truth)
    assert truth["sequence"].tolist() == [0, 1, 2]


def test_elements_numbered_against_their_course_are_refused(with_elements):
    with pytest.raises(SourceError, match="element 1 of line 'CFL-R' does not begin where the one before it ends"):
        with_elements({(0, "sequence"): 2, (2, "sequence"): 0})


WRONG = {
    "gap": (
        {(0, "start_easting"): 2231049.0, (0, "end_easting"): 2231099.0},
        "element 1 of line 'CFL-R' does not begin where the one before it ends",
    ),
    "radius": ({(1, "radius"): 101.0}, "whose ends are not its radius"),
    "no centre": ({(1, "centre_easting"): np.nan}, "whose ends are not its radius"),
    "shape": ({(2, "shape"): "spiral"}, "element 2 of line 'CFL-R' has a shape other than line or arc"),
    "sense": ({(1, "sense"): 0}, "a sense that does not fit"),
    "turned": ({(1, "sense"): 1}, "a length that does not fit"),
    "length": ({(0, "length"): 49.0}, "element 0 of line 'CFL-R' has a length that does not fit"),
    "station": ({(2, "start_station"): 99.0}, "element 2 of line 'CFL-R' does not begin at the station"),
    "no end": ({(2, "end_easting"): np.nan}, "lacks an end"),
    "elsewhere": ({(2, "end_easting"): 2231184.6410161513 + 0.5}, "a length that does not fit"),
    "stranger": ({(2, "line"): "X"}, "elements of no drawn line: X"),
    "no line": ({(2, "line"): None}, r"elements of no drawn line: \(no name\)"),
    "text": ({(0, "radius"): "wide"}, "Column 'radius' of table 'design_elements' must be float64"),
}


@pytest.mark.parametrize("case", WRONG)
def test_elements_that_contradict_themselves_or_the_lines_are_refused(with_elements, case):
    change, message = WRONG[case]
    if case == "text":
        with pytest.raises(SourceError, match=message):
            with_elements(drop=["radius"], change={(0, "radius"): "wide"})
        return
    with pytest.raises(SourceError, match=message):
        with_elements(change)


def test_elements_of_a_line_drawn_elsewhere_are_refused(with_elements, curved):
    curved.places[0] = curved.places[0] + [0.5, 0.0]
    with pytest.raises(
        SourceError, match=r"as drawn, line 'CFL-R' lies 0\.500 beside its elements at 2231050\.000, 445100\.000"
    ):
        with_elements()


def test_a_drawn_line_without_elements_is_refused(with_elements):
    with pytest.raises(SourceError, match="elements of no drawn line: CFL-R; drawn lines without elements: CFL-9"):
        with_elements(name="CFL-9")


def test_a_table_of_elements_without_a_column_is_refused(with_elements):
    with pytest.raises(SourceError, match="its table elements lacks radius, sense"):
        with_elements(drop=["radius", "sense"])


def test_a_thousand_lines_have_the_stations_of_one_by_one(read):
    rng = np.random.default_rng(5)
    features = [
        feature("LineString", (rng.random((6, 2)) * 1e5 + 1000.0).tolist(), name=f"L{each}", kind="k")
        for each in range(1200)
    ]
    elements = read(*features).layers["design_elements"]
    ends = elements["start_station"] + elements["length"]
    again = elements["sequence"] == 0
    assert (elements.loc[again, "start_station"] == 0.0).all()
    np.testing.assert_allclose(
        elements["start_station"][1:][~again[1:]], ends.shift()[1:][~again[1:]], rtol=0, atol=1e-6
    )


def test_json_with_numbers_beyond_floats_is_named(design):
    path = design.folder / "big.geojson"
    held = json.dumps(
        collection(feature("LineString", LEG, name="A", kind="k"), feature("Point", [7e300, 6.0], name="B", kind="k"))
    )
    path.write_text(held.replace("7e+300", "7e400"), encoding="utf-8")
    source = DesignVector().read(path, source="d")
    assert [each.reason for each in source.troubles] == ["has no place on the earth; not read"]
