import numpy as np
import pytest

from geoqa.errors import FrameError
from geoqa.frames.systems.area import check_area, outside_area
from geoqa.frames.systems.geographic import from_geographic
from geoqa.frames.systems.resolve import resolve
from geoqa.frames.systems.similar import systems_at
from geoqa.model.quantity import FOOT

SITES = {"EPSG:6547": (-99.46, 46.885), "EPSG:6559": (-122.9, 45.4), "EPSG:6405": (-112.4, 33.9)}


def site(code, count=5):
    longitude, latitude = SITES[code]
    easting, northing = from_geographic(code, [longitude], [latitude])
    return np.repeat(easting, count), np.repeat(northing, count)


@pytest.mark.parametrize("code", SITES)
def test_positions_on_the_site_are_inside(code):
    frame = resolve(code)
    easting, northing = site(code)
    assert not outside_area(frame, easting, northing).any()
    assert check_area(frame, easting, northing, what="day1.csv") == ()


@pytest.mark.parametrize("code", ["EPSG:6547", "EPSG:6559"])
def test_swapped_columns_are_named_as_one_possible_cause(code):
    frame = resolve(code)
    easting, northing = site(code)
    with pytest.raises(FrameError, match=r"day1.csv: 5 of 5 .* row 1: .* proven: easting and northing swapped"):
        check_area(frame, northing, easting, what="day1.csv")


def test_metres_in_a_foot_frame_are_named_as_one_possible_cause():
    frame = resolve("EPSG:6559")
    easting, northing = site("EPSG:6559")
    with pytest.raises(FrameError, match=r"metres taken for feet \(5 of 5 would lie inside\)"):
        check_area(frame, easting * FOOT.metres_float, northing * FOOT.metres_float, what="day1.csv")


def test_feet_in_a_metre_frame_are_named_as_one_possible_cause():
    easting, northing = from_geographic("EPSG:6498", [-84.46], [42.58])
    with pytest.raises(FrameError, match=r"feet taken for metres \(1 of 1 would lie inside\)"):
        check_area(resolve("EPSG:6498"), easting / 0.3048, northing / 0.3048, what="day1.csv")


def test_coordinates_of_another_zone_are_outside_and_no_cause_is_claimed():
    frame = resolve("EPSG:6547")
    easting, northing = from_geographic("EPSG:6545", [-99.46], [48.3])
    with pytest.raises(FrameError, match="another zone or coordinate system") as caught:
        check_area(frame, easting, northing - 486_227, what="day1.csv")
    assert "would lie inside" not in str(caught.value)


def test_one_wild_row_of_many_is_told_and_not_fatal():
    frame = resolve("EPSG:6547")
    easting, northing = site("EPSG:6547")
    easting = easting.copy()
    easting[3] = 0.0
    told = check_area(frame, easting, northing, what="day1.csv", tolerated=0.5)
    assert [each.answer for each in told] == ["1"]
    assert "the first is row 4" in told[0].because
    with pytest.raises(FrameError, match="1 of 5 positions"):
        check_area(frame, easting, northing, what="day1.csv")


def test_a_missing_position_is_not_outside():
    assert not outside_area(resolve("EPSG:6547"), [np.nan, 0.0], [444000.0, np.nan]).any()


def test_a_system_without_an_area_of_use_cannot_say():
    wkt = resolve("EPSG:6547").horizontal_wkt
    bare = wkt[: wkt.index(",USAGE[")] + "]"
    frame = resolve(bare)
    assert not outside_area(frame, [0.0, 9e9], [0.0, 9e9]).any()


def test_an_area_across_the_180th_meridian_is_one_area():
    frame = resolve("EPSG:3832")  # PDC Mercator: from 98.69 E across to 68 W
    easting, northing = from_geographic(frame, [179.0, -179.0, 0.0], [10.0, 10.0, 10.0])
    assert outside_area(frame, easting, northing).tolist() == [False, False, True]


def test_the_systems_of_a_place_are_found_by_its_position():
    assert systems_at(-112.4, 33.9, words="NAD83(2011) (ft)") == ("EPSG:6405 (NAD83(2011) / Arizona Central (ft))",)
