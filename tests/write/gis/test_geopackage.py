"""The GeoPackage, opened again by two libraries that each carry their own GDAL."""

import sqlite3
from contextlib import closing
from xml.etree import ElementTree

import fiona
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from pyproj import CRS

from geoqa.errors import OutputError
from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.model.tables.layer import Layers, shaped
from geoqa.write.gis.desk import TITLES, WHOLE
from geoqa.write.gis.geopackage import ABOUT, AUDIT, FILE, STYLES, GeoPackage


@pytest.fixture
def path(results, tmp_path):
    """The file of every table."""
    assert GeoPackage().write(results, tmp_path) == (FILE, AUDIT)
    return tmp_path / AUDIT


@pytest.fixture
def desk(path):
    return path.with_name(FILE)


def _holding(path, layer):
    return path.with_name(FILE) if layer in WHOLE else path


def _with(results, **tables):
    layers = Layers({**dict(results.layers), **tables}, frame=results.layers.frame)
    return Results(title=results.title, layers=layers, summary=results.summary, record=results.record)


def _records(path, layer):
    with fiona.open(path, layer=layer) as source:
        return list(source), source.schema, source.crs_wkt


def test_every_table_is_a_layer_for_both_libraries(results, path, desk):
    listed = {name for name, _ in pyogrio.list_layers(path)}
    assert listed == {*results.layers, ABOUT, STYLES} - set(WHOLE)
    assert set(fiona.listlayers(path)) == listed
    shown = [name for name, _ in pyogrio.list_layers(desk)]
    assert set(shown) == {*(each for each in TITLES if each in results.layers or each == "items"), ABOUT, STYLES}
    assert len(shown) <= 11
    assert set(results.layers) <= listed | set(shown)


def test_the_desk_file_alone_can_be_asked_for(results, tmp_path):
    writer = GeoPackage(audit=False)
    assert writer.write(results, tmp_path) == (FILE,)
    assert set(writer.read_back(results, tmp_path)) == {FILE}
    assert [each.name for each in tmp_path.iterdir()] == [FILE]


def test_a_desk_reads_what_layers_and_columns_are_called(results, path, desk):
    with closing(sqlite3.connect(desk)) as base:
        told = base.execute("select table_name, identifier from gpkg_contents where data_type = 'features'").fetchall()
        assert dict(told) == {name: title for name, (title, _) in TITLES.items() if name in dict(told)}
        columns = base.execute("select table_name, column_name, name, description from gpkg_data_columns").fetchall()
        named = {(table, column): (name, says) for table, column, name, says in columns}
        for table, _ in told:
            for _, column, *_ in base.execute(f'pragma table_info("{table}")'):
                if column not in ("fid", "geom"):
                    assert named[table, column][0]
        assert named["findings", "deviation"] == (
            "Deviation",
            "measured - design; of falls and reveals measured (in the unit of the quantity)",
        )
        assert named["shots", "elevation"] == ("Elevation", "in the job's frame (ft)")
        words = base.execute("select value, description from gpkg_data_column_constraints").fetchall()
        assert dict(words)["OUT"] == SIGNS["OUT"].text
        # OGC 12-128r19, tables of the extensions gpkg_schema and gpkg_metadata
        held = set(base.execute("select table_name, extension_name from gpkg_extensions"))
        assert {
            ("gpkg_data_columns", "gpkg_schema"),
            ("gpkg_data_column_constraints", "gpkg_schema"),
            ("gpkg_metadata", "gpkg_metadata"),
            ("gpkg_metadata_reference", "gpkg_metadata"),
        } <= held
        (said,) = base.execute(
            "select metadata from gpkg_metadata m join gpkg_metadata_reference r on m.id = r.md_file_id"
        )
        root = ElementTree.fromstring(said[0])
        assert root.findtext("{http://purl.org/dc/elements/1.1/}title").startswith("Tannery Lane")
        assert "not a certification" in root.findtext("{http://purl.org/dc/elements/1.1/}description")
    with closing(sqlite3.connect(path)) as base:
        told = dict(base.execute("select column_name, description from gpkg_data_columns where table_name = 'limits'"))
        assert told["reference"] == "where the limit is written"


@pytest.mark.long
def test_the_desks_layers_hold_each_shot_and_what_is_not_within_tolerance(results, desk):
    shots = pyogrio.read_dataframe(desk, layer="shots").set_index("shot_key")
    assert set(shots.index) == set(results.shots["shot_key"])
    assert set(shots["verdict"]) <= {*SIGNS, "NOT_CHECKED"}
    high = results.shots.set_index("shot_key")["elevation"].notna()
    assert (shots.geometry.has_z == high.reindex(shots.index)).all()
    found = pyogrio.read_dataframe(desk, layer="findings")
    reported = results.reported
    assert set(found["finding"]) == set(reported.loc[reported["verdict"] != "IN", "finding"])
    assert found["says"].notna().all()
    assert "IN" not in set(pyogrio.read_dataframe(desk, layer="items")["verdict"])


@pytest.mark.long
def test_design_lines_are_in_space_where_every_elevation_is_known(results, tmp_path):
    from geoqa import testing

    made = testing.design({"A": ("curb-top", 300.0, 0.0, 50.0), "B": ("curb-top", 300.0, 0.0, 50.0)})
    elements = made["design_elements"]
    elements.loc[elements["line"] == "B", "end_elevation"] = np.nan
    shapes = [
        shapely.LineString([each[:2], each[2:]])
        for each in elements[["start_easting", "start_northing", "end_easting", "end_northing"]].to_numpy()
    ]
    lines = shaped(made["design_lines"], shapes, results.layers.frame)
    more = _with(results, design_lines=lines, design_elements=elements)
    GeoPackage().write(more, tmp_path)
    GeoPackage().read_back(more, tmp_path)
    found = pyogrio.read_dataframe(tmp_path / FILE, layer="design_lines").set_index("line").geometry
    assert found.has_z.to_dict() == {"A": True, "B": False}
    ends = elements[elements["line"] == "A"]
    levels = shapely.get_coordinates(found["A"], include_z=True)[:, 2]
    assert (levels[0], levels[-1]) == (ends["start_elevation"].iloc[0], ends["end_elevation"].iloc[-1])


@pytest.mark.long
@pytest.mark.parametrize("layer", ["shots", "findings", "design_points", "control"])
def test_points_come_back_where_they_were_with_z_only_where_there_is_an_elevation(results, path, layer):
    key = {"shots": "shot_key", "findings": "finding", "design_points": "point", "control": "mark"}[layer]
    wanted = results.layers[layer].set_index(key)
    path = _holding(path, layer)
    by_pyogrio = pyogrio.read_dataframe(path, layer=layer).set_index(key)
    by_fiona = {record.properties[key]: record.geometry for record in _records(path, layer)[0]}
    assert len(by_pyogrio) == len(by_fiona) == len(wanted)
    for name, row in wanted.iterrows():
        place = [row["easting"], row["northing"], row["elevation"]]
        flat = place[:2] if np.isnan(place[2]) else place
        if np.isnan(place[0]):
            assert by_pyogrio.geometry[name] is None
            assert by_fiona[name] is None
            continue
        assert list(by_pyogrio.geometry[name].coords[0]) == flat
        assert list(by_fiona[name].coordinates) == flat


def test_the_point_layers_declare_z_as_optional(path):
    with sqlite3.connect(path) as base:
        rows = dict(base.execute("select table_name, z from gpkg_geometry_columns").fetchall())
    # OGC 12-128r19, table 7: z 0 = prohibited, 1 = mandatory, 2 = optional (value from memory)
    assert rows["shots"] == rows["findings"] == 2
    assert rows["bands"] == 0


@pytest.mark.parametrize("layer", ["runs", "gaps", "bands", "design_lines"])
def test_lines_and_areas_come_back_identical(results, path, layer):
    path = _holding(path, layer)
    wanted = results.layers[layer].geometry
    assert pyogrio.read_dataframe(path, layer=layer).geometry.geom_equals_identical(wanted).all()
    with fiona.open(path, layer=layer) as source:
        shapes = [shapely.geometry.shape(fiona.model.to_dict(record.geometry)) for record in source]
    assert shapely.equals_identical(shapes, wanted.to_numpy()).all()


@pytest.mark.long
def test_the_frame_comes_back_with_its_own_foot(results, path):
    wanted = CRS(results.layers.frame.horizontal_wkt)
    found = pyogrio.read_dataframe(path, layer="shots").crs
    again = CRS.from_wkt(_records(path, "shots")[2])
    assert found == wanted
    assert again.to_epsg() == found.to_epsg() == 6547
    # 1 ft = 0.3048 m exactly: 24 FR 5348 (1959)
    assert found.axis_info[0].unit_conversion_factor == again.axis_info[0].unit_conversion_factor == 0.3048


@pytest.mark.long
def test_attributes_come_back_equal_with_their_types(results, path):
    wanted = results.layers["shots"].set_index("shot_key")
    records, schema, _ = _records(path, "shots")
    assert schema["properties"]["satellites"] == "int32"
    assert schema["properties"]["use"] == "bool"
    assert schema["properties"]["time"] == "datetime"
    found = pyogrio.read_dataframe(path, layer="shots").set_index("shot_key")
    for record in records:
        shot = wanted.loc[record.properties["shot_key"]]
        row = found.loc[record.properties["shot_key"]]
        assert bool(row["use"]) is record.properties["use"] is bool(shot["use"])
        if pd.isna(shot["satellites"]):
            assert record.properties["satellites"] is None
            assert pd.isna(row["satellites"])
        else:
            assert record.properties["satellites"] == row["satellites"] == shot["satellites"]
        if pd.isna(shot["time"]):
            assert record.properties["time"] is None
            assert pd.isna(row["time"])
        else:
            assert pd.Timestamp(record.properties["time"]) == row["time"] == shot["time"]
        assert (record.properties["shot"] is None) == pd.isna(shot["shot"]) == pd.isna(row["shot"])


def test_an_unknown_truth_is_null_and_not_false(results, path):
    wanted = results.findings.set_index("finding")["verified"]
    for record in _records(path, "findings")[0]:
        said = wanted[record.properties["finding"]]
        assert record.properties["verified"] is (None if pd.isna(said) else bool(said))


def test_a_one_sided_limit_is_null_with_its_text_and_an_unknown_limit_is_null_without(path):
    found = pyogrio.read_dataframe(path, layer="findings").set_index("finding")
    one_sided, unknown = found.loc["F000000000008"], found.loc["F000000000006"]
    assert np.isnan(one_sided["lower"])
    assert one_sided["lower_text"] == "-inf"
    assert one_sided["upper"] == 0.1
    assert pd.isna(one_sided["upper_text"])
    assert np.isnan(unknown["lower"])
    assert pd.isna(unknown["lower_text"])
    limits = pyogrio.read_dataframe(path, layer="limits").set_index("check")["lower_text"]
    assert limits["elevation"] == "-inf"
    assert pd.isna(limits["offset"])


def test_findings_are_worst_first_and_those_without_a_measure_last(path):
    found = pyogrio.read_dataframe(path, layer="findings")
    assert "excess_text" not in found
    assert (found["u"].iloc[0], found["verdict"].iloc[0]) == (0.0, "OUT")
    assert np.isnan(found["excess"].iloc[0])
    assert found["excess"].iloc[1:-1].is_monotonic_decreasing
    assert found["verdict"].iloc[-1] == "NO_DATA"


@pytest.mark.long
def test_the_file_says_what_it_is_and_that_it_was_not_reviewed(results, path):
    said = pyogrio.read_dataframe(path, layer=ABOUT).set_index("item")["text"]
    assert said["title"] == "Tannery Lane, phase 0"
    assert said["review"].startswith("PRELIMINARY")
    assert said["unit_metres"] == "0.3048"
    assert said["vertical_name"] == "NAVD88 height (ft)"
    assert "not a certification" in said["caution"]
    assert "811" in said["caution_buried"]
    assert said["schema_version"] == "1"
    assert said["note_1"] == results.notes[0]


@pytest.mark.long
@pytest.mark.parametrize("layer", ["items", "findings", "shots"])
def test_the_desks_styles_carry_the_signs_of_every_verdict_and_fit_every_layer(results, desk, layer):
    styles = pyogrio.read_dataframe(desk, layer=STYLES).set_index("f_table_name")
    assert set(styles.index) == {name for name, kind in pyogrio.list_layers(desk) if kind is not None}
    sld = ElementTree.fromstring(styles["styleSLD"][layer])
    space = {"sld": "http://www.opengis.net/sld", "ogc": "http://www.opengis.net/ogc"}
    asked = {each.text for each in sld.iterfind(".//ogc:Literal", space)}
    assert set(SIGNS) <= asked
    columns = set(pyogrio.read_info(desk, layer=layer)["fields"])
    assert {each.text for each in sld.iterfind(".//ogc:PropertyName", space)} <= columns


def test_the_styles_carry_the_signs_of_every_verdict(path):
    styles = pyogrio.read_dataframe(path, layer=STYLES).set_index("f_table_name")
    assert styles["useAsDefault"].all()
    space = {"sld": "http://www.opengis.net/sld", "ogc": "http://www.opengis.net/ogc"}
    for sld in styles["styleSLD"]:
        assert ElementTree.fromstring(sld).get("version") == "1.0.0"
    root = ElementTree.fromstring(styles["styleSLD"]["findings"])
    colours = {
        rule.findtext(".//ogc:Literal", None, space): rule.findtext(".//sld:Fill/sld:CssParameter", None, space)
        for rule in root.iterfind(".//sld:Rule", space)
    }
    assert colours == {verdict: sign.colour for verdict, sign in SIGNS.items()}
    shapes = {rule.findtext(".//sld:WellKnownName", None, space) for rule in root.iterfind(".//sld:Rule", space)}
    assert len(shapes) == len(SIGNS)


@pytest.mark.long
def test_empty_tables_are_written_with_their_columns(results, tmp_path):
    emptied = {name: table.iloc[:0] for name, table in results.layers.items()}
    GeoPackage().write(_with(results, **emptied), tmp_path)
    found = pyogrio.read_dataframe(tmp_path / AUDIT, layer="findings")
    assert len(found) == 0
    assert {"lower_text", "verdict"} <= set(found.columns)
    assert pyogrio.read_info(tmp_path / AUDIT, layer="findings")["geometry_type"] == "Point"
    GeoPackage().read_back(_with(results, **emptied), tmp_path)


@pytest.mark.long
def test_a_table_a_stranger_brings_is_written_too(results, tmp_path):
    strange = pd.DataFrame(
        {"b": ["x", "y"], "a": [2.5, np.inf], "o": [{"k": 1}, None], "c": pd.Categorical(["u", "v"])}
    )
    more = _with(results, cross_slopes=strange)
    GeoPackage().write(more, tmp_path)
    found = pyogrio.read_dataframe(tmp_path / AUDIT, layer="cross_slopes")
    assert found["a_text"].tolist()[1] == "inf"
    assert found["o"].tolist()[0] == "{'k': 1}"
    GeoPackage().read_back(more, tmp_path)


@pytest.mark.long
def test_columns_that_differ_in_case_only_are_refused_by_name(results, tmp_path):
    twins = pd.DataFrame({"Width": [1.0], "width": [2.0]})
    with pytest.raises(OutputError, match="'Width' and 'width'"):
        GeoPackage().write(_with(results, widths=twins), tmp_path)


def test_a_layer_named_like_one_of_the_files_own_is_refused(results, tmp_path):
    with pytest.raises(OutputError, match="about"):
        GeoPackage().write(_with(results, about=pd.DataFrame({"a": [1]})), tmp_path)


def test_writing_lets_go_of_the_clock_it_held(results, tmp_path):
    before = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    GeoPackage().write(results, tmp_path)
    assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") == before


@pytest.mark.long
def test_lines_of_one_part_and_of_several_share_a_layer(results, tmp_path):
    gaps = pd.concat([results.layers["gaps"].drop(columns="geometry")] * 2, ignore_index=True)
    gaps["finding"], gaps["station"] = ["F01", "F02"], [1100.0, 1200.0]
    shapes = [results.layers["gaps"].geometry.iloc[0], results.layers["runs"].geometry.iloc[0]]
    more = _with(results, gaps=shaped(gaps, shapes, results.layers.frame))
    GeoPackage().write(more, tmp_path)
    found = pyogrio.read_dataframe(tmp_path / FILE, layer="gaps").geometry
    assert [len(shape.geoms) for shape in found] == [2, 1]
    assert found.iloc[1].geoms[0].equals_exact(shapes[1], 0.0)
    GeoPackage().read_back(more, tmp_path)
