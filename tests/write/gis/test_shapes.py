"""Shapes as a GeoPackage holds them, read without the library that wrote them."""

import sqlite3

import geopandas
import pyogrio
import pytest
import shapely

from geoqa.write.gis.shapes import decoded, systems_of

SHAPES = [
    shapely.Point(1, 2),
    shapely.Point(1, 2, 3),
    None,
    shapely.LineString([(0, 0), (1, 1)]),
    shapely.LineString([(0, 0, 5), (1, 1, 6)]),
    shapely.MultiPolygon([shapely.box(0, 0, 1, 1)]),
    shapely.Polygon(),
]


def test_what_the_library_writes_is_decoded_to_the_bit(tmp_path):
    path = tmp_path / "a.gpkg"
    table = geopandas.GeoDataFrame({"n": range(len(SHAPES))}, geometry=SHAPES, crs=6547)
    pyogrio.write_dataframe(table, path, layer="mixed", driver="GPKG", geometry_type="Unknown")
    file = sqlite3.connect(path)
    found = decoded([each for (each,) in file.execute("SELECT geom FROM mixed ORDER BY fid")])
    assert systems_of(file) == {"mixed": 6547}
    file.close()
    assert [each is None for each in found] == [each is None for each in SHAPES]
    assert all(shapely.equals_identical(one, other) for one, other in zip(found, SHAPES, strict=True) if one)


@pytest.mark.parametrize("damaged", [b"", b"GP", b"XX\x00\x01\x00\x00\x00\x00\x01", b"GP\x00\x0f\x00\x00\x00\x00\x01"])
def test_what_is_no_shape_is_refused(damaged):
    with pytest.raises(ValueError, match="does not begin"):
        decoded([damaged])
