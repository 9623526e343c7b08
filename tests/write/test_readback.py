"""A writer that has gone wrong is found out when its file is opened again."""

from pathlib import Path

import geopandas
import numpy as np
import pytest
import shapely
from pyproj import CRS

from geoqa.errors import OutputError
from geoqa.write import tables
from geoqa.write.cad.dxf import Drawing
from geoqa.write.gis import geojson, geopackage
from geoqa.write.gis.geojson import GeoJSON
from geoqa.write.gis.geopackage import GeoPackage
from geoqa.write.gis.geoparquet import GeoParquet
from geoqa.write.gis.shapefile import Shapefile
from geoqa.write.readback import compare_frame
from geoqa.write.sheets.sheets import Sheets
from geoqa.write.summary import Summary
from geoqa.write.tables import Tables

pytestmark = pytest.mark.long

WRITERS = (GeoPackage, GeoJSON, Tables, Drawing, Sheets, Shapefile, GeoParquet)


@pytest.mark.parametrize("writer", WRITERS, ids=lambda each: each.name)
def test_an_honest_writer_passes_and_says_what_was_compared(results, tmp_path, writer):
    names = writer().write(results, tmp_path)
    said = writer().read_back(results, tmp_path)
    assert said
    assert {Path(name).name for name in said} <= {Path(name).name for name in names}
    assert sum(_numbers(said)) > 0


@pytest.mark.parametrize("writer", [*WRITERS, Summary], ids=lambda each: each.name)
def test_a_file_that_broke_off_in_the_middle_is_found_out(results, tmp_path, writer):
    for name in writer().write(results, tmp_path):
        whole = (tmp_path / name).read_bytes()
        (tmp_path / name).write_bytes(whole[: len(whole) // 2])
    with pytest.raises(OutputError, match=r"do not use it|gives back"):
        writer().read_back(results, tmp_path)


@pytest.mark.parametrize("writer", [*WRITERS, Summary], ids=lambda each: each.name)
def test_a_file_that_is_not_there_is_found_out(results, tmp_path, writer):
    with pytest.raises(OutputError, match=f"What '{writer.name}' wrote cannot be opened again"):
        writer().read_back(results, tmp_path)


def _numbers(said):
    for each in said.values():
        yield from _numbers(each) if isinstance(each, dict) else [each] if isinstance(each, int) else []


def _moved(change):
    def spoil(table):
        if "elevation" not in table.columns:
            return table
        return table.set_geometry(shapely.transform(np.asarray(table.geometry.array), change), crs=table.crs)

    return spoil


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda xy: xy[:, ::-1], "northing before easting"),
        (lambda xy: xy * (1200 / 3937 / 0.3048), "the other foot"),
        (lambda xy: xy.astype("float32").astype("float64"), "half the digits"),
        (lambda xy: xy + np.array([0.0, 0.001]), "a thousandth to the north"),
    ],
    ids=lambda each: each if isinstance(each, str) else "",
)
def test_a_writer_that_moves_points_is_found_out(results, tmp_path, monkeypatch, change, why):
    spoil = _moved(change)
    monkeypatch.setattr(geopackage, "elevated", spoil)
    GeoPackage().write(results, tmp_path)
    with pytest.raises(OutputError, match=r"layer findings, gives back another place in row \d+: POINT"):
        GeoPackage().read_back(results, tmp_path)


def test_a_writer_that_puts_a_missing_elevation_at_zero_is_found_out(results, tmp_path, monkeypatch):
    monkeypatch.setattr(
        geopackage,
        "elevated",
        lambda table: (
            table
            if "elevation" not in table.columns
            else table.set_geometry(
                shapely.force_3d(np.asarray(table.geometry.array), table["elevation"].fillna(0.0).to_numpy()),
                crs=table.crs,
            )
        ),
    )
    GeoPackage().write(results, tmp_path)
    with pytest.raises(OutputError, match="another place"):
        GeoPackage().read_back(results, tmp_path)


@pytest.mark.parametrize(
    ("module", "writer"),
    [(geopackage, GeoPackage), (geojson, GeoJSON), (tables, Tables)],
    ids=["gpkg", "geojson", "csv"],
)
@pytest.mark.parametrize(
    ("column", "change", "message"),
    [
        ("deviation", lambda values: values.round(3), "another deviation in row"),
        ("verdict", lambda values: values.replace("UNDECIDED", "IN"), "another verdict in row"),
        ("u", lambda values: values.fillna(0.0), "another u in row"),
        ("verified", lambda values: values.fillna(value=False), "another verified in row"),
        ("upper", lambda values: values.fillna(1e9), "another upper in row"),
    ],
)
def test_a_writer_that_changes_a_column_is_found_out(
    results, tmp_path, monkeypatch, module, writer, column, change, message
):
    honest = module.on_disk if hasattr(module, "on_disk") else None

    def spoil(table):
        return table.assign(**{column: change(table[column])}) if column in table.columns else table

    if honest is None:
        made = module.tables_of
        monkeypatch.setattr(
            module, "tables_of", lambda every: {name: spoil(each) for name, each in made(every).items()}
        )
    else:
        monkeypatch.setattr(module, "on_disk", lambda *given, **options: spoil(honest(*given, **options)))
    writer().write(results, tmp_path)
    with pytest.raises(OutputError, match=message):
        writer().read_back(results, tmp_path)


def test_a_writer_that_drops_a_row_is_found_out(results, tmp_path, monkeypatch):
    honest = geopackage.on_disk
    monkeypatch.setattr(geopackage, "on_disk", lambda *given, **options: honest(*given, **options).iloc[1:])
    GeoPackage().write(results, tmp_path)
    with pytest.raises(OutputError, match=r"rows? where [0-9]+ were written"):
        GeoPackage().read_back(results, tmp_path)


def test_a_writer_that_names_the_other_foot_is_found_out(results, tmp_path, monkeypatch):
    honest = geopackage.elevated

    def spoil(table):
        made = honest(table)
        shapes = isinstance(made, geopandas.GeoDataFrame)
        return made.set_crs("EPSG:2266", allow_override=True) if shapes else made

    monkeypatch.setattr(geopackage, "elevated", spoil)
    GeoPackage().write(results, tmp_path)
    with pytest.raises(OutputError, match=r"the coordinate system|a unit of"):
        GeoPackage().read_back(results, tmp_path)


def test_the_feet_are_told_apart_by_their_length_and_not_by_their_name(results):
    frame = results.layers.frame
    survey_foot = CRS("EPSG:2227")  # a system in US survey feet
    with pytest.raises(OutputError, match=r"unit of 0\.304800609601219\d* m where the international foot"):
        compare_frame("x.gpkg", frame, CRS(frame.horizontal_wkt), survey_foot)


def test_a_file_without_a_coordinate_system_is_found_out(results):
    frame = results.layers.frame
    with pytest.raises(OutputError, match="no coordinate system"):
        compare_frame("x.gpkg", frame, CRS(frame.horizontal_wkt), None)
