"""Design rasters as faces: elevations at centres, holes, the edge, and what is refused."""

import numpy as np
import pytest
import rasterio
from rasterio import Affine

from geoqa.errors import SourceError
from geoqa.kernels.design.tin_elevation import tin_elevation
from geoqa.read import surface_raster
from geoqa.read.surface_raster import DesignRaster

ORIGIN = (2_228_000.0, 446_000.0)


def written(path, values, *, transform=None, crs="EPSG:6547", **options):
    values = np.asarray(values, dtype="float64")
    transform = transform or Affine(10, 0, ORIGIN[0], 0, -10, ORIGIN[1])
    options = {"driver": "GTiff", "count": 1, "dtype": "float64", "nodata": -9999.0} | options
    with rasterio.open(
        path, "w", height=values.shape[0], width=values.shape[1], crs=crs, transform=transform, **options
    ) as raster:
        raster.write(values, 1)
    return path


def placed(transform, x, y):
    a, b, c, d, e, f = tuple(transform)[:6]
    return a * x + b * y + c, d * x + e * y + f


def surface(path, **options):
    layers = DesignRaster(**options).read(path, source="d").layers
    points = layers["surface_points"][["easting", "northing", "elevation"]].to_numpy(float)
    return points, layers["surface_faces"][["first", "second", "third"]].to_numpy(np.int64), layers


@pytest.mark.parametrize("turn", [0.0, 30.0])
def test_a_plane_is_the_plane_and_ends_at_the_outermost_centres(tmp_path, turn):
    cos, sin = 10 * np.cos(np.radians(turn)), 10 * np.sin(np.radians(turn))
    transform = Affine(cos, sin, ORIGIN[0], sin, -cos, ORIGIN[1])
    row, column = np.mgrid[:6, :8]
    east, north = placed(transform, column + 0.5, row + 0.5)

    def plane(e, n):
        return 1400 + 0.01 * (e - ORIGIN[0]) + 0.02 * (n - ORIGIN[1])

    points, faces, _ = surface(written(tmp_path / "FG.tif", plane(east, north), transform=transform))
    at = np.random.default_rng(1).uniform([0.5, 0.5], [7.5, 5.5], (200, 2)).T
    place = placed(transform, *at)
    found = tin_elevation(points, faces, *place)[0]
    np.testing.assert_allclose(found, plane(*place), atol=1e-7)
    beyond = placed(transform, np.array([0.4, 7.6]), np.array([3.0, 3.0]))
    assert np.isnan(tin_elevation(points, faces, *beyond)[0]).all()


def test_a_cell_without_a_number_leaves_a_hole(tmp_path):
    values = np.full((5, 5), 100.0)
    values[2, 2] = -9999.0
    points, faces, layers = surface(written(tmp_path / "FG.tif", values), surface="pad")
    assert len(points) == 24
    assert len(faces) == 2 * 12 + 4
    assert np.isnan(tin_elevation(points, faces, ORIGIN[0] + 25, ORIGIN[1] - 25)[0]).all()
    assert set(layers["surface_points"]["surface"]) == {"pad"}
    assert DesignRaster().peek(tmp_path / "FG.tif").layers == ("FG",)


def test_what_is_no_surface_is_refused(tmp_path, monkeypatch):
    path = written(tmp_path / "FG.tif", [[1.0, 2.0], [3.0, 4.0]])
    with pytest.raises(SourceError, match="band = 2 was asked"):
        surface(path, band=2)
    with pytest.raises(SourceError, match="no four neighbouring cells"):
        surface(written(tmp_path / "flat.tif", [[1.0, 2.0, 3.0]]))
    (tmp_path / "bad.tif").write_bytes(b"II*\x00nothing")
    with pytest.raises(SourceError, match="cannot be read as a GeoTIFF"):
        surface(tmp_path / "bad.tif")
    monkeypatch.setattr(surface_raster, "MOST_CELLS", 3)
    with pytest.raises(SourceError, match="are more than 3; cut it to the site"):
        surface(path)
