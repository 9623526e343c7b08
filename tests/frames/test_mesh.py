"""The mesh against the coordinate library's own transformation."""

import numpy as np
import pyproj
import pytest

from geoqa.frames.moving.mesh import GOOD_TO, REACH, lonlat_mesh
from geoqa.frames.systems.geographic import from_geographic
from geoqa.frames.systems.resolve import resolve

GEOD = pyproj.Geod(ellps="GRS80")


@pytest.mark.parametrize(
    ("code", "place"),
    [
        ("EPSG:6547", (-99.46, 46.885)),  # conic, international foot
        ("EPSG:6559", (-122.9, 45.4)),
        ("EPSG:6405", (-112.4, 33.9)),  # transverse Mercator
        ("EPSG:6394", (-134.4, 58.3)),  # oblique Mercator, far north, metres
        ("EPSG:6344", (-93.0, 30.0)),  # a UTM zone, metres
    ],
)
def test_every_place_of_the_mesh_is_where_the_library_puts_it(code, place):
    frame = resolve(code)
    easting, northing = (float(each[0]) for each in from_geographic(frame, [place[0]], [place[1]]))
    mesh = lonlat_mesh(frame, easting, northing)
    reach = REACH / frame.unit.metres_float
    rng = np.random.default_rng(5)
    east, north = easting + rng.uniform(-reach, reach, 2000), northing + rng.uniform(-reach, reach, 2000)
    there = pyproj.Transformer.from_crs(code, "EPSG:4326", always_xy=True, allow_ballpark=False)
    *_, miss = GEOD.inv(*mesh.at(east, north), *there.transform(east, north))
    assert miss.max() < GOOD_TO
    assert miss.max() < 0.01  # ten thousand times nearer than the shift between datums is known to
    assert mesh.accuracy == 2.0


def test_beyond_the_mesh_nothing_is_known():
    frame = resolve("EPSG:6547")
    mesh = lonlat_mesh(frame, 2_228_000.0, 444_000.0)
    longitude, latitude = mesh.at([2_228_000.0 + 140_000.0, np.nan, 2_228_000.0], [444_000.0] * 3)
    assert np.isnan(longitude).tolist() == np.isnan(latitude).tolist() == [True, True, False]


def test_an_older_datum_is_said_to_be_known_less_well():
    assert lonlat_mesh(resolve("EPSG:26741"), 1_400_000.0, 500_000.0).accuracy > 2.0


def test_where_a_projection_has_a_corner_the_mesh_is_not_used():
    frame = resolve("EPSG:6547")
    east, north = (float(each[0]) for each in from_geographic(frame, [-100.5], [89.95]))  # the tip of the cone
    assert lonlat_mesh(frame, east, north) is None


def test_a_mesh_across_the_180th_meridian_is_not_used():
    frame = resolve("EPSG:26701")  # NAD27 / UTM zone 1N, from 180 W on
    east, north = (float(each[0]) for each in from_geographic(frame, [-179.99], [51.9]))
    assert lonlat_mesh(frame, east, north) is None
