"""GeoParquet, opened again by geopandas, by GDAL where it can, and by a plain Parquet reader."""

import json

import geopandas
import numpy as np
import pyarrow.parquet as pq
import pytest

from geoqa.errors import OutputError
from geoqa.write.gis import geoparquet
from geoqa.write.gis.geoparquet import FOLDER, MOST_ROWS, GeoParquet


@pytest.fixture
def folder(results, tmp_path):
    names = GeoParquet().write(results, tmp_path)
    assert all((tmp_path / name).is_file() for name in names)
    return tmp_path / FOLDER


def _geo(path):
    return json.loads(pq.read_metadata(path).metadata[b"geo"])


def test_it_says_version_1_1_its_frame_and_its_boxes(folder):
    said = _geo(folder / "shots.parquet")
    assert said["version"] == "1.1.0"
    column = said["columns"]["geometry"]
    assert column["crs"]["id"] == {"authority": "EPSG", "code": 6547}
    assert set(column["covering"]["bbox"]) == {"xmin", "ymin", "xmax", "ymax"}
    assert set(column["geometry_types"]) == {"Point", "Point Z"}


def test_a_box_takes_only_the_rows_inside_it(results, folder):
    shots = results.shots
    west, east = 2_228_540.0, 2_228_620.0
    found = geopandas.read_parquet(folder / "shots.parquet", bbox=(west, 445_000.0, east, 447_000.0))
    inside = shots[(shots["easting"] >= west) & (shots["easting"] <= east)]
    assert sorted(found["shot_key"]) == sorted(inside["shot_key"])


def test_points_have_z_only_where_there_is_an_elevation(results, folder):
    found = geopandas.read_parquet(folder / "shots.parquet").set_index("shot_key").geometry
    for _, shot in results.shots.iterrows():
        if np.isnan(shot["easting"]):
            assert found[shot["shot_key"]] is None
        else:
            place = [each for each in shot[["easting", "northing", "elevation"]] if not np.isnan(each)]
            assert list(found[shot["shot_key"]].coords[0]) == place


def test_missing_values_are_nulls_of_their_own_type(folder):
    table = pq.read_table(folder / "shots.parquet")
    assert str(table.schema.field("satellites").type) == "int32"
    assert str(table.schema.field("use").type) == "bool"
    assert str(table.schema.field("time").type) == "timestamp[us, tz=UTC]"
    assert table["satellites"].null_count == 1
    assert table["time"].null_count == 1
    findings = pq.read_table(folder / "findings.parquet")
    assert findings["verified"].null_count == 1
    assert findings["lower_text"].to_pylist().count("-inf") == 2


def test_dtypes_come_back_as_they_were(results, folder):
    found = geopandas.read_parquet(folder / "shots.parquet")
    for name in ("satellites", "sequence", "use", "note", "time", "easting"):
        assert found[name].dtype == results.shots[name].dtype


def test_the_file_says_what_it_is(folder):
    said = json.loads(pq.read_metadata(folder / "findings.parquet").metadata[b"PANDAS_ATTRS"])["geoqa"]
    assert said["title"] == "Tannery Lane, phase 0"
    assert said["review"].startswith("PRELIMINARY")
    assert "not a certification" in said["caution"]


def test_row_groups_hold_at_most_a_hundred_thousand_rows(results, tmp_path, monkeypatch):
    assert MOST_ROWS <= 100_000
    monkeypatch.setattr(geoparquet, "MOST_ROWS", 8)
    GeoParquet().write(results, tmp_path)
    file = pq.ParquetFile(tmp_path / FOLDER / "shots.parquet")
    assert [file.metadata.row_group(each).num_rows for each in range(file.num_row_groups)] == [8, 8, 4]


def test_a_writer_that_drops_the_last_digits_is_found_out(results, tmp_path, monkeypatch):
    honest = geoparquet.on_disk
    monkeypatch.setattr(
        geoparquet, "on_disk", lambda *given, **options: honest(*given, **options).round({"deviation": 3})
    )
    GeoParquet().write(results, tmp_path)
    with pytest.raises(OutputError, match=r"findings\.parquet gives back another deviation"):
        GeoParquet().read_back(results, tmp_path)
