import numpy as np
import pytest

from geoqa.frames.moving.lonlat import display_operation, to_lonlat
from geoqa.frames.systems.geographic import from_geographic
from geoqa.frames.systems.resolve import resolve


@pytest.mark.parametrize(
    ("code", "place"), [("EPSG:6547", (-99.46, 46.885)), ("EPSG:6559", (-122.9, 45.4)), ("EPSG:6405", (-112.4, 33.9))]
)
def test_a_us_frame_is_shown_through_the_null_operation(code, place):
    frame = resolve(code)
    longitude, latitude = to_lonlat(frame, *from_geographic(frame, [place[0]], [place[1]]))
    assert (longitude[0], latitude[0]) == (pytest.approx(place[0], abs=1e-11), pytest.approx(place[1], abs=1e-11))
    assert display_operation(frame).accuracy == 2.0


def test_longitude_comes_first():
    longitude, latitude = to_lonlat(resolve("EPSG:6547"), [2228000.0], [444000.0])
    assert longitude[0] < -90 < latitude[0]


def test_a_missing_position_has_no_longitude():
    longitude, latitude = to_lonlat(resolve("EPSG:6547"), [np.nan, 2228000.0], [444000.0, 444000.0])
    assert np.isnan(longitude).tolist() == np.isnan(latitude).tolist() == [True, False]


def test_an_older_datum_is_shown_with_the_accuracy_it_has():
    operation = display_operation(resolve("EPSG:26741"))
    assert operation.accuracy > 2.0
    assert not operation.best


def test_nine_decimals_of_a_degree_hold_a_thousandth_of_a_foot():
    frame = resolve("EPSG:6547")
    longitude, latitude = to_lonlat(frame, [2228000.0], [444000.0])
    east, north = from_geographic(frame, np.round(longitude, 9), np.round(latitude, 9))
    assert abs(east[0] - 2228000.0) < 0.001
    assert abs(north[0] - 444000.0) < 0.001
