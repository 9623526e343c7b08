"""Shapefiles, opened again by two libraries, with what the format loses."""

import csv
import struct
from dataclasses import replace

import fiona
import numpy as np
import pyogrio
import pytest
from pyproj import CRS

from geoqa.errors import OutputError
from geoqa.model.tables.layer import Layers
from geoqa.write.gis import shapefile
from geoqa.write.gis.fields import LONGEST_TEXT, fitting, short_names
from geoqa.write.gis.shapefile import FOLDER, NAMES, Shapefile
from geoqa.write.text import visible


@pytest.fixture
def folder(results, tmp_path):
    names = Shapefile().write(results, tmp_path)
    assert all((tmp_path / name).is_file() for name in names)
    return tmp_path / FOLDER


def _names(folder):
    with (folder / NAMES).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_rows_without_an_elevation_are_in_a_file_of_their_own_and_never_at_zero(results, folder):
    high = pyogrio.read_dataframe(folder / "shots.shp")
    flat = pyogrio.read_dataframe(folder / "shots_flat.shp")
    assert len(high) + len(flat) == len(results.shots)
    assert high.geometry.has_z.all()
    assert not flat.geometry.dropna().has_z.any()
    assert set(flat["shot_key"]) == {"day1/102", "day1/104"}
    assert (high.geometry.z != 0.0).all()


@pytest.mark.long
def test_where_every_row_has_an_elevation_there_is_no_file_of_those_without(results, tmp_path):
    high = results.shots[np.isfinite(results.shots["elevation"].to_numpy(float))].reset_index(drop=True)
    sound = replace(results, layers=Layers({**dict(results.layers), "shots": high}, frame=results.layers.frame))
    names = Shapefile().write(sound, tmp_path)
    assert f"{FOLDER}/shots.shp" in [str(name) for name in names]
    assert not (tmp_path / FOLDER / "shots_flat.shp").exists()
    Shapefile().read_back(sound, tmp_path)


def test_both_libraries_find_every_point_where_it_was(results, folder):
    wanted = results.shots.set_index("shot_key")
    for file in ("shots.shp", "shots_flat.shp"):
        found = pyogrio.read_dataframe(folder / file).set_index("shot_key").geometry
        with fiona.open(folder / file) as source:
            again = {record.properties["shot_key"]: record.geometry for record in source}
        for key, shape in found.items():
            shot = wanted.loc[key]
            if np.isnan(shot["easting"]):
                assert shape is None
                assert again[key] is None
                continue
            place = [each for each in shot[["easting", "northing", "elevation"]] if not np.isnan(each)]
            assert list(shape.coords[0]) == list(again[key].coordinates) == place


def test_the_prj_names_the_foot_by_its_length(results, folder):
    text = (folder / "shots.prj").read_text(encoding="utf-8")
    # 1 ft = 0.3048 m exactly: 24 FR 5348 (1959)
    assert text.endswith("0.3048]]")
    assert "\n" not in text
    found = CRS(text)
    wanted = CRS(results.layers.frame.horizontal_wkt)
    assert found.axis_info[0].unit_conversion_factor == 0.3048
    assert found.to_epsg(min_confidence=50) == wanted.to_epsg() == 6547
    with fiona.open(folder / "shots.shp") as source:
        assert CRS.from_wkt(source.crs_wkt).axis_info[0].unit_conversion_factor == 0.3048


def test_the_date_in_the_header_is_the_jobs(folder):
    # dBASE header: bytes 1 to 3 are year since 1900, month, day (value from memory)
    for path in folder.glob("*.dbf"):
        assert struct.unpack("3B", path.read_bytes()[1:4]) == (126, 3, 20)
    assert (folder / "shots.cpg").read_text(encoding="utf-8").strip() == "UTF-8"


def test_every_field_name_leads_back_to_its_column(results, folder):
    rows = [row for row in _names(folder) if row["file"] == "shots.shp"]
    fields = [row["field"] for row in rows]
    assert len({field.lower() for field in fields}) == len(fields)
    assert all(len(field) <= 10 for field in fields)
    with fiona.open(folder / "shots.shp") as source:
        assert list(source.schema["properties"]) == fields
    columns = [row["column"] for row in rows]
    assert columns == [name for name in results.shots.columns if name != "geometry"]


def test_texts_are_cut_between_characters_and_the_list_says_how_many(results, folder):
    notes = next(row for row in _names(folder) if row["file"] == "shots.shp" and row["column"] == "note")
    assert notes["texts_cut"] == "1"
    assert int(notes["width"]) == LONGEST_TEXT
    found = pyogrio.read_dataframe(folder / "shots.shp").set_index("shot_key")["note"]
    for key, note in zip(results.shots["shot_key"], results.shots["note"], strict=True):
        if key in found.index:
            assert (found[key] if isinstance(found[key], str) else "") == fitting(visible(note))


@pytest.mark.parametrize(
    ("text", "bytes_kept"), [("é" * 200, 253), ("雪" * 100, 252), ("a" * 254, 254), ("a" * 255, 254)]
)
def test_a_cut_text_is_whole_characters(text, bytes_kept):
    assert len(fitting(text).encode("utf-8")) == bytes_kept


def test_names_that_are_cut_alike_are_told_apart():
    names = short_names(["correction_age", "correction_kind", "CORRECTION"])
    assert len({name.lower() for name in names.values()}) == 3
    assert names["correction_age"] == "correction"


def test_truth_values_times_and_one_sided_limits_are_text(folder):
    shots = pyogrio.read_dataframe(folder / "shots.shp").set_index("shot_key")
    assert shots["use"]["day1/101"] == "false"
    assert shots["time"]["day1/100"] == "2026-03-14T13:00:00.250000Z"
    assert shots["time"].isna()["day1/105"]
    findings = pyogrio.read_dataframe(folder / "findings.shp").set_index("finding")
    assert findings["lower_text"]["F000000000008"] == "-inf"
    assert np.isnan(findings["lower"]["F000000000008"])
    assert findings["verified"].isna().sum() == 0


def test_a_missing_number_is_null_and_not_zero(folder):
    shots = pyogrio.read_dataframe(folder / "shots.shp").set_index("shot_key")
    assert np.isnan(shots["pdop"]["day1/106"])
    assert np.isnan(shots["satellites"]["day1/101"])
    assert shots["u_v_random"].isna().all()


def test_a_table_larger_than_the_format_is_refused_and_told_where_to_go(results, tmp_path, monkeypatch):
    monkeypatch.setattr(shapefile, "LARGEST", 100)
    with pytest.raises(OutputError, match="use the GeoPackage instead"):
        Shapefile().write(results, tmp_path)


@pytest.mark.long
def test_a_shapefile_with_the_other_foot_is_found_out(results, tmp_path):
    Shapefile().write(results, tmp_path)
    path = tmp_path / FOLDER / "shots.prj"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("0.3048]]", "0.304800609601219]]"), encoding="utf-8")
    with pytest.raises(OutputError, match=r"shots\.shp gives back a unit of 0\.30480060960121\d* m"):
        Shapefile().read_back(results, tmp_path)


@pytest.mark.long
def test_a_shapefile_in_another_zone_is_found_out(results, tmp_path):
    Shapefile().write(results, tmp_path)
    path = tmp_path / FOLDER / "shots.prj"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("-100.5", "-101.5"), encoding="utf-8")
    with pytest.raises(OutputError, match="the coordinate system"):
        Shapefile().read_back(results, tmp_path)
