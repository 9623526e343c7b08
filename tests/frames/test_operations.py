import numpy as np
import pyproj
import pytest

from geoqa.errors import FrameError
from geoqa.frames.moving.operations import pick

MICHIGAN = (-84.5, 42.5, -84.4, 42.6)


@pytest.mark.parametrize("area", [MICHIGAN, None], ids=["with an area", "without an area"])
@pytest.mark.parametrize(
    ("source", "target", "grid"),
    [
        ("EPSG:2253", "EPSG:6499", "us_noaa_nadcon5_nad83_1986_nad83_harn_conus.tif"),
        ("EPSG:2898", "EPSG:6499", "us_noaa_nadcon5_nad83_fbn_nad83_2007_conus.tif"),
        ("EPSG:4267", "EPSG:6318", "us_noaa_nadcon5_nad27_nad83_1986_conus.tif"),
        ("EPSG:4269", "EPSG:6318", "us_noaa_nadcon5_nad83_2007_nad83_2011_conus.tif"),
        ("EPSG:6499+8228", "EPSG:6319", "us_noaa_g2018u0.tif"),
        ("EPSG:2253", "EPSG:6499+5703", "us_noaa_nadcon5_nad83_1986_nad83_harn_conus.tif"),
    ],
)
def test_a_datum_change_without_its_grids_is_refused_by_name(source, target, grid, area):
    with pytest.raises(FrameError, match=grid):
        pick(source, target, what="design", area=area)


@pytest.mark.parametrize(
    ("source", "target"),
    [("EPSG:6499", "EPSG:6498"), ("EPSG:6499+8228", "EPSG:6498+5703"), ("EPSG:6499", "EPSG:6345")],
)
def test_a_change_of_unit_or_zone_alone_is_taken_and_is_exact(source, target):
    operation = pick(source, target, what="design", area=MICHIGAN)
    assert operation.accuracy == 0.0
    assert operation.best


def test_the_null_operation_to_wgs_84_states_its_two_metres():
    assert pick("EPSG:6499", "EPSG:4326", what="map", area=MICHIGAN).accuracy == 2.0


def test_an_operation_beyond_the_accuracy_limit_is_refused():
    with pytest.raises(FrameError, match=r"good to 2 m, and the job allows 0.05 m"):
        pick("EPSG:6499", "EPSG:4326", what="map", area=MICHIGAN, accuracy_limit=0.05)


def test_a_lesser_operation_needs_to_be_accepted():
    with pytest.raises(FrameError, match=r"a better operation is known.*us_noaa_mihpgn.tif"):
        pick("EPSG:2253", "EPSG:4326", what="map", area=MICHIGAN)
    operation = pick("EPSG:2253", "EPSG:4326", what="map", area=MICHIGAN, accept_second_best=True)
    assert (operation.accuracy, operation.best) == (4.0, False)


def test_accepting_a_lesser_operation_does_not_accept_a_detour():
    with pytest.raises(FrameError, match="no known operation can be used"):
        pick("EPSG:2898", "EPSG:6499", what="design", area=MICHIGAN, accept_second_best=True)


def test_among_accepted_operations_the_limit_chooses_and_gives_the_published_coordinates():
    # Source: EPSG Guidance Note 7-2, example of the similarity transformation, as kept in OSGeo/PROJ,
    # test_cs2cs_various.yaml: EPSG:23031 -> EPSG:25831.
    operation = pick(
        "EPSG:23031", "EPSG:25831", what="plan", area=(2, 40, 3, 41), accuracy_limit=0.1, accept_second_best=True
    )
    easting, northing = operation.apply([300000.0], [4500000.0], what="plan")
    assert easting[0] == pytest.approx(299905.060, abs=0.002)
    assert northing[0] == pytest.approx(4499796.515, abs=0.002)


def test_an_operation_that_moves_with_time_needs_the_epoch():
    operation = pick("EPSG:9990", "EPSG:6318", what="shots", area=MICHIGAN)
    assert operation.moves_with_time
    with pytest.raises(FrameError, match="coordinates move with time; give the epoch"):
        operation.apply([-84.45], [42.55], what="shots")
    early = operation.apply([-84.45], [42.55], what="shots", epoch=2010.0)
    late = operation.apply([-84.45], [42.55], what="shots", epoch=2026.9)
    west = (late[0][0] - early[0][0]) * 111_320 * np.cos(np.radians(42.55))
    # the plate moves by 15 to 20 mm a year there: 0.2 to 0.4 m in 16.9 years
    assert 0.2 < abs(west) < 0.4


def test_a_missing_position_stays_missing():
    operation = pick("EPSG:6499", "EPSG:6498", what="design")
    easting, northing = operation.apply([np.nan, 13360891.735], [300809.979, np.nan], what="design")
    assert np.isnan(easting).all()
    assert np.isnan(northing).all()


def test_a_position_beyond_the_operation_is_an_error_and_no_infinity():
    operation = pick("EPSG:4326", "EPSG:6498", what="design", accept_second_best=True)
    with pytest.raises(FrameError, match=r"design: .*not defined"):
        operation.apply([0.0], [-91.0], what="design")
    easting, _ = operation.apply([0.0], [-91.0], what="design", strict=False)
    assert np.isnan(easting[0])


@pytest.mark.parametrize(("source", "target"), [("EPSG:6318", "EPSG:4617"), ("EPSG:4617", "EPSG:6318")])
def test_a_detour_by_way_of_wgs_84_is_refused_although_it_is_called_the_best(source, target):
    with pytest.raises(FrameError, match="what is left goes by way of WGS 84"):
        pick(source, target, what="design", accept_second_best=True)


def test_a_time_dependent_operation_gives_the_published_coordinates_of_its_epoch():
    # Source: EPSG Guidance Note 7-2, example of the time-dependent coordinate frame rotation: ITRF2008 to GDA94 at
    # epoch 2013.90, geocentric metres
    way = pick("EPSG:5332", "EPSG:4938", what="published")
    assert way.moves_with_time
    moved = way.transformer.transform(-3789470.710, 4841770.404, -1690893.952, 2013.90)
    assert moved[:3] == pytest.approx((-3789470.004, 4841770.686, -1690895.108), abs=0.001)
    at_reference = way.transformer.transform(-3789470.710, 4841770.404, -1690893.952, 1994.0)
    # 19.9 years at about 7 cm a year of that plate
    assert np.linalg.norm(np.subtract(moved[:3], at_reference[:3])) == pytest.approx(1.3, abs=0.2)


def test_the_same_published_point_comes_out_of_positions_in_degrees():
    geocentric = {code: pyproj.Transformer.from_crs(code, to, always_xy=True) for code, to in
                  (("EPSG:5332", "EPSG:7911"), ("EPSG:4938", "EPSG:4939"))}  # fmt: skip
    longitude, latitude, _ = geocentric["EPSG:5332"].transform(-3789470.710, 4841770.404, -1690893.952)
    way = pick("EPSG:8999", "EPSG:4283", what="published")
    east, north = way.apply([longitude], [latitude], what="published", epoch=2013.90)
    right = geocentric["EPSG:4938"].transform(-3789470.004, 4841770.686, -1690895.108)
    assert east[0] == pytest.approx(right[0], abs=2e-8)  # degrees: 2 mm
    assert north[0] == pytest.approx(right[1], abs=2e-8)
