"""A raster in a folder is a picture, or, where it holds numbers that are no colours, maybe a design surface."""

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from geoqa.job.begin.listing import look


@pytest.mark.parametrize(("sort", "table"), [("uint8", "[background]"), ("float32", "[[design]]")])
def test_the_table_that_takes_it_in_is_told(tmp_path, sort, table):
    place = {"transform": from_origin(8_212_400, 651_300, 5, 5), "crs": "EPSG:6559"}
    with rasterio.open(
        tmp_path / "site.tif", "w", driver="GTiff", width=4, height=3, count=1, dtype=sort, **place
    ) as file:
        file.write(np.ones((1, 3, 4), dtype=sort))
    [out] = look(tmp_path).left
    assert out.settles[:2] == (table, 'file = "site.tif"')
