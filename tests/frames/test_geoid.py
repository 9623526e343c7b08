import hashlib
import struct

import numpy as np
import pytest

from geoqa.errors import FrameError
from geoqa.frames.moving.geoid import open_geoid
from geoqa.frames.systems.geographic import from_geographic
from geoqa.frames.systems.resolve import resolve

SOUTH, WEST, STEP = 46.0, -100.0, 0.1


def separations():
    """A tilted plane, metres: interpolation between its nodes is exact."""
    rows, columns = np.mgrid[0:21, 0:16]
    return -25.0 + 0.10 * rows - 0.05 * columns


def plane(longitude, latitude):
    return -25.0 + 0.10 * (latitude - SOUTH) / STEP - 0.05 * (longitude - WEST) / STEP


def write_gtx(path):
    values = separations()
    head = struct.pack(">4d2i", SOUTH, WEST, STEP, STEP, *values.shape)
    path.write_bytes(head + values.astype(">f4").tobytes())
    return path


def write_geotiff(path):
    import rasterio

    values = separations()[::-1].astype("float32")
    top = SOUTH + STEP * (values.shape[0] - 1)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=values.shape[1],
        height=values.shape[0],
        count=1,
        dtype="float32",
        crs="EPSG:6319",
        transform=rasterio.Affine(STEP, 0.0, WEST - STEP / 2, 0.0, -STEP, top + STEP / 2),
    ) as out:
        out.write(values, 1)
        out.update_tags(AREA_OR_POINT="Point", TYPE="VERTICAL_OFFSET_GEOGRAPHIC_TO_VERTICAL")
    return path


@pytest.fixture(params=[write_gtx, write_geotiff], ids=["gtx", "geotiff"])
def grid_file(request, tmp_path):
    folder = tmp_path / "grids of this job"
    folder.mkdir()
    return request.param(folder / ("plane.gtx" if request.param is write_gtx else "plane.tif"))


CHECK = (46.885, -99.46, plane(-99.46, 46.885))


def test_a_grid_that_gives_the_published_value_is_taken(grid_file):
    grid = open_geoid(grid_file, "plane", check=CHECK)
    assert abs(grid.missed_by) < 1e-5
    assert grid.sha256 == hashlib.sha256(grid_file.read_bytes()).hexdigest()
    longitude, latitude = np.array([-99.9, -99.0]), np.array([46.1, 47.5])
    assert grid.separation(longitude, latitude) == pytest.approx(plane(longitude, latitude), abs=1e-5)
    assert "published separation" in grid.evidence().because


def test_elevation_is_ellipsoid_height_minus_separation_in_the_frames_foot(grid_file):
    frame = resolve("EPSG:6547")
    easting, northing = from_geographic(frame, [-99.46], [46.885])
    grid = open_geoid(grid_file, "plane", check=CHECK)
    elevation = grid.elevation(frame, easting, northing, [1360.0])
    assert elevation[0] == pytest.approx(1360.0 - plane(-99.46, 46.885) / 0.3048, abs=1e-4)
    assert elevation[0] > 1360.0  # the geoid lies below the ellipsoid here


def test_a_missing_position_or_height_stays_missing(grid_file):
    grid = open_geoid(grid_file, "plane", check=CHECK)
    easting, northing = from_geographic("EPSG:6547", [-99.46], [46.885])
    elevation = grid.elevation(
        resolve("EPSG:6547"), [np.nan, easting[0], easting[0]], [northing[0]] * 3, [1360.0, np.nan, 1360.0]
    )
    assert np.isnan(elevation).tolist() == [True, True, False]


def test_a_position_outside_the_grid_is_an_error_and_no_infinity(grid_file):
    grid = open_geoid(grid_file, "plane", check=CHECK)
    with pytest.raises(FrameError, match=r"'plane' .* cannot be used for all positions.*-112.0000.*cover them"):
        grid.separation([-99.46, -112.0], [46.885, 33.9])


def test_a_grid_that_misses_the_published_value_is_refused(grid_file):
    with pytest.raises(FrameError, match=r"the job file says -20.0000 m there"):
        open_geoid(grid_file, "plane", check=(46.885, -99.46, -20.0))


def test_a_check_value_with_the_sign_turned_round_is_told(grid_file):
    with pytest.raises(FrameError, match="agrees with the sign turned round"):
        open_geoid(grid_file, "plane", check=(CHECK[0], CHECK[1], -CHECK[2]))


def test_a_missing_grid_file_is_named(tmp_path):
    with pytest.raises(FrameError, match=r"'absent\.gtx' is not there"):
        open_geoid(tmp_path / "absent.gtx", "plane", check=CHECK)


def test_a_file_that_is_no_grid_is_refused(tmp_path):
    path = tmp_path / "notes.gtx"
    path.write_text("not a grid\n", encoding="utf-8")
    with pytest.raises(FrameError, match="is the file whole"):
        open_geoid(path, "plane", check=CHECK)


def test_a_quote_in_the_path_is_refused(tmp_path):
    with pytest.raises(FrameError, match="double quote"):
        open_geoid(write_gtx(tmp_path / 'a"b.gtx'), "plane", check=CHECK)
