"""The difference of surfaces as a raster: cells, place, frame, and the same bytes again."""

import numpy as np
import pandas as pd
import pytest
import rasterio

from geoqa.errors import OutputError
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.write.gis.geotiff import FILE, GeoTIFF


def with_difference(results):
    made = pd.DataFrame({"column": [3, 4, 4], "row": [7, 7, 8], "difference": [0.1, -0.25, 0.5]})
    made["easting"], made["northing"] = 2_228_000 + 2 * (made["column"] + 0.5), 446_000 - 2 * (made["row"] + 0.5)
    made = made.assign(cell=2.0, asbuilt=100.0, design=100.0, surface="FG")
    layers = Layers(
        {**results.layers, "surface_difference": conform("surface_difference", made)}, frame=results.layers.frame
    )
    return results.__class__(**{**vars(results), "layers": layers})


def test_cells_come_back_at_their_place(results, tmp_path):
    judged = with_difference(results)
    assert GeoTIFF().write(judged, tmp_path) == (FILE,)
    assert GeoTIFF().read_back(judged, tmp_path) == {FILE: {"cells": 3}}
    with rasterio.open(tmp_path / FILE) as raster:
        assert raster.crs.to_epsg() == 6547
        assert np.isnan(raster.nodata)
        assert raster.units == (judged.layers.frame.unit.name,)
        values = raster.read(1)
        np.testing.assert_allclose(values, [[0.1, -0.25], [np.nan, 0.5]], rtol=1e-6)
        assert raster.index(2_228_009, 445_985) == (0, 1)
        assert raster.tags()["frame"] == judged.layers.frame.describe()


def test_the_same_bytes_again(results, tmp_path):
    found = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        GeoTIFF().write(with_difference(results), tmp_path / name)
        found.append((tmp_path / name / FILE).read_bytes())
    assert found[0] == found[1]


def test_without_surfaces_nothing_is_written_and_a_changed_file_is_refused(results, tmp_path):
    assert GeoTIFF().write(results, tmp_path) == ()
    assert GeoTIFF().read_back(results, tmp_path) == {}
    judged = with_difference(results)
    GeoTIFF().write(judged, tmp_path)
    with rasterio.open(tmp_path / FILE, "r+") as raster:
        raster.write(raster.read() + 1)
    with pytest.raises(OutputError, match="another raster than was written"):
        GeoTIFF().read_back(judged, tmp_path)
