"""GeoJSON by longitude and latitude, and in labelled grid coordinates."""

import json
from dataclasses import replace

import fiona
import geopandas as gpd
import numpy as np
import pyogrio
import pytest
from pyproj import CRS, Transformer

from geoqa.model.results import Results
from geoqa.model.tables.layer import Layers
from geoqa.write.gis.geojson import FILES, GRID, GeoJSON


@pytest.fixture
def folder(results, tmp_path):
    assert set(GeoJSON().write(results, tmp_path)) == set(FILES)
    return tmp_path


def _strict(path):
    def refuse(constant):
        raise AssertionError(constant)

    return json.loads(path.read_text(encoding="utf-8"), parse_constant=refuse)


def _by_key(collection, key):
    return {feature["properties"][key]: feature for feature in collection["features"]}


@pytest.mark.parametrize("file", list(FILES))
def test_no_number_is_nan_or_infinite(folder, file):
    collection = _strict(folder / file)
    assert collection["type"] == "FeatureCollection"
    assert len(collection["features"]) > 0


@pytest.mark.parametrize("file", ["findings.geojson", "shots.geojson"])
def test_members_that_rfc_7946_forbids_in_a_collection_are_not_there(folder, file):
    # RFC 7946 (2016), section 7.1; value from memory
    forbidden = {"coordinates", "geometries", "geometry", "properties", "crs"}
    assert not forbidden & set(_strict(folder / file))


def test_positions_are_longitude_and_latitude_to_a_tenth_of_a_millimetre(results, folder):
    features = _by_key(_strict(folder / "shots.geojson"), "shot_key")
    back = Transformer.from_crs("EPSG:6318", "EPSG:6547", always_xy=True)
    for _, shot in results.shots.iterrows():
        geometry = features[shot["shot_key"]]["geometry"]
        if np.isnan(shot["easting"]):
            assert geometry is None
            continue
        lon, lat = geometry["coordinates"]
        assert -104.1 < lon < -96.5
        assert 45.6 < lat < 47.9
        easting, northing = back.transform(lon, lat)
        assert abs(easting - shot["easting"]) < 0.0003
        assert abs(northing - shot["northing"]) < 0.0003


def test_the_grid_file_has_z_only_where_there_is_an_elevation(results, folder):
    features = _by_key(_strict(folder / "shots_grid.geojson"), "shot_key")
    for _, shot in results.shots.iterrows():
        place = [each for each in (shot["easting"], shot["northing"], shot["elevation"]) if not np.isnan(each)]
        geometry = features[shot["shot_key"]]["geometry"]
        assert (geometry["coordinates"] if geometry else []) == place


def test_the_grid_file_names_its_frame_for_people_and_for_programs(results, folder):
    head = _strict(folder / "shots_grid.geojson")
    assert "Not longitude and latitude" in head["crs_note"]
    assert "international foot" in head["crs_note"]
    assert pyogrio.read_dataframe(folder / "shots_grid.geojson").crs == CRS("EPSG:6547")
    with fiona.open(folder / "shots_grid.geojson") as source:
        assert CRS.from_wkt(source.crs_wkt).to_epsg() == 6547


def test_a_grid_without_a_code_is_not_taken_for_longitude_and_latitude(results, tmp_path):
    from dataclasses import replace

    frame = replace(results.layers.frame, horizontal="WKT")
    coded = Results(
        title=results.title,
        layers=Layers(dict(results.layers), frame=frame),
        summary=results.summary,
        record=results.record,
    )
    GeoJSON().write(coded, tmp_path)
    assert pyogrio.read_dataframe(tmp_path / "shots_grid.geojson").crs == CRS("EPSG:6547")
    with fiona.open(tmp_path / "shots_grid.geojson") as source:
        assert CRS.from_wkt(source.crs_wkt).axis_info[0].unit_conversion_factor == 0.3048


@pytest.mark.parametrize("file", list(FILES))
def test_both_libraries_find_the_same_places_and_numbers(folder, file):
    found = pyogrio.read_dataframe(folder / file)
    with fiona.open(folder / file) as source:
        records = list(source)
    assert len(records) == len(found)
    for (_, row), record in zip(found.iterrows(), records, strict=True):
        if row.geometry is None:
            assert record.geometry is None
        else:
            assert list(row.geometry.coords[0]) == list(record.geometry.coordinates)
        assert record.properties["easting"] == (None if np.isnan(row["easting"]) else row["easting"])


def test_missing_values_are_null_and_times_say_utc(results, folder):
    properties = _by_key(_strict(folder / "shots.geojson"), "shot_key")["day1/105"]["properties"]
    assert properties["time"] is None
    first = _by_key(_strict(folder / "shots.geojson"), "shot_key")["day1/100"]["properties"]
    assert first["time"] == "2026-03-14T13:00:00.250000Z"
    assert first["use"] is True
    assert first["satellites"] == 12
    assert first["u_v_random"] is None


def test_the_file_says_how_well_its_positions_are_known(folder):
    head = _strict(folder / "shots.geojson")
    assert head["positions_good_to_m"] >= 1.0
    assert "not to measure" in head["positions_note"]


def test_a_job_without_findings_still_writes_whole_files(results, tmp_path):
    tables = {name: table.iloc[:0] for name, table in results.layers.items()}
    empty = Results(
        title=results.title,
        layers=Layers(tables, frame=results.layers.frame),
        summary=results.summary,
        record=results.record,
    )
    GeoJSON().write(empty, tmp_path)
    assert all(_strict(tmp_path / file)["features"] == [] for file in FILES)
    GeoJSON().read_back(empty, tmp_path)


SITE = (
    'PROJCRS["site grid",BASEGEOGCRS["unknown",DATUM["Site datum",ELLIPSOID["GRS 1980",6378137,298.257222101]]],'
    'CONVERSION["site",METHOD["Transverse Mercator",ID["EPSG",9807]],'
    'PARAMETER["Latitude of natural origin",46,ANGLEUNIT["degree",0.0174532925199433]],'
    'PARAMETER["Longitude of natural origin",-100,ANGLEUNIT["degree",0.0174532925199433]],'
    'PARAMETER["Scale factor at natural origin",1,SCALEUNIT["unity",1]],'
    'PARAMETER["False easting",0,LENGTHUNIT["foot",0.3048]],PARAMETER["False northing",0,LENGTHUNIT["foot",0.3048]]],'
    'CS[Cartesian,2],AXIS["easting",east],AXIS["northing",north],LENGTHUNIT["foot",0.3048]]'
)


def test_of_a_grid_that_is_nowhere_on_the_earth_only_the_grid_file_is_written(results, tmp_path):
    old = results.layers
    frame = replace(old.frame, horizontal="WKT", horizontal_name="site grid", horizontal_wkt=SITE)
    tables = {
        name: table.set_crs(SITE, allow_override=True) if isinstance(table, gpd.GeoDataFrame) else table
        for name, table in old.items()
    }
    local = replace(results, layers=Layers(tables, frame=frame))
    assert GeoJSON().write(local, tmp_path) == (GRID,)
    assert list(GeoJSON().read_back(local, tmp_path)) == [GRID]
    kept, made = (_by_key(_strict(path / GRID), "shot_key") for path in (tmp_path, _written(results, tmp_path)))
    assert {key: each["geometry"] for key, each in kept.items()} == {
        key: each["geometry"] for key, each in made.items()
    }


def _written(results, folder):
    (folder / "on earth").mkdir()
    GeoJSON().write(results, folder / "on earth")
    return folder / "on earth"
