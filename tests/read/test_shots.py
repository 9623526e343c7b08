"""Shots: keys, nulls, times, words, units, and the order of columns."""

import itertools

import numpy as np
import pandas as pd
import pytest

from geoqa.errors import SourceError
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT
from geoqa.model.tables.columns import columns_of
from geoqa.read.shots import ShotsText


@pytest.fixture
def read(tmp_path):
    def go(text, **options):
        path = tmp_path / "day1.csv"
        path.write_text(text, encoding="utf-8")
        return ShotsText(**options).read(path, source="day1")

    return go


def told(source, what):
    return [each for each in source.evidence if each.what == what]


FULL = (
    "point,easting,northing,elevation,code,line_id,sequence,note,photo,time_utc,session,initialization,solution,"
    "satellites,epochs,pdop,hdop,vdop,correction_age_s,reported_h,reported_v,rod_height,tilt_deg,tilt_azimuth_deg\n"
)


def test_a_full_log_fills_every_column_a_reader_makes(read):
    row = "0101,2231543.123,445566.777,1458.104,CTB,CTB-L,3,dry,IMG_0231.jpg,2026-03-14T14:05:22Z,A,A2,RTK Fixed,"
    source = read(FULL + row + "14,5,1.6,0.9,1.3,1.0,0.021,0.034,6.562,3.2,120\n")
    shots = source.layers["shots"]
    wanted = columns_of("shots", made_by="")
    assert list(shots.columns) == [each.name for each in wanted]
    assert {each.name: each.dtype for each in wanted} == {name: str(kind) for name, kind in shots.dtypes.items()}
    assert shots.notna().all(axis=None)
    only = shots.iloc[0]
    assert only["shot_key"] == "day1/0101"
    assert (only["raw_easting"], only["easting"]) == ("2231543.123", 2231543.123)
    assert only["time"] == pd.Timestamp("2026-03-14 14:05:22", tz="UTC")
    assert (only["solution"], only["satellites"], only["tilt_azimuth"]) == ("fixed", 14, 120.0)
    assert told(source, "not in the file") == []


def test_what_a_short_file_lacks_is_told(read):
    source = read("point,easting,northing\n1,2.5,3.5\n")
    (missing,) = told(source, "not in the file")
    assert "elevation" in missing.answer
    assert "rod_height" in missing.answer
    assert source.layers["shots"]["elevation"].isna().all()


def test_names_stay_text(read):
    shots = read("point,easting,northing,code\n007,1.5,2.5,0010\n1E5,1.5,2.5,NA\nNone,1.5,2.5,1:48\n").layers["shots"]
    assert shots["shot"].tolist() == ["007", "1E5", "None"]
    assert shots["code"].tolist() == ["0010", "NA", "1:48"]


@pytest.mark.long
def test_keys_do_not_depend_on_the_order_of_rows(read):
    rows = [
        "1187,10.5,20.5,1.5,2026-03-14T10:00:00Z",
        "1187,900.5,20.5,1.5,2026-03-14T09:00:00Z",
        "1187,5.5,20.5,1.5,",
        ",7.5,8.5,1.5,2026-03-14T09:00:00Z",
        ",6.5,8.5,1.5,2026-03-14T09:00:00Z",
        "1187~2,1.5,2.5,1.5,2026-03-14T08:00:00Z",
        "-,1.5,2.5,1.5,2026-03-14T08:00:00Z",
    ]
    seen = set()
    for order in itertools.islice(itertools.permutations(rows), 0, None, 97):
        shots = read("point,easting,northing,elevation,time\n" + "\n".join(order) + "\n").layers["shots"]
        assert shots["shot_key"].is_unique
        assert len(shots) == 7
        seen.add(tuple(sorted(zip(shots["shot_key"], shots["easting"], strict=True))))
    assert len(seen) == 1
    place = dict(seen.pop())
    assert (place["day1/1187"], place["day1/1187~2"], place["day1/1187~3"]) == (900.5, 10.5, 5.5)
    assert (place["day1/-"], place["day1/-~2"], place["day1/-~3"]) == (1.5, 6.5, 7.5)
    assert place["day1/1187~~2"] == 1.5


def test_blank_and_minus_9999_are_no_elevation_in_every_spelling(read):
    shots = read(
        "point,easting,northing,elevation\n1,1.5,2.5,\n2,1.5,2.5,-9999\n3,1.5,2.5,-9999.000\n4,1.5,2.5,9999\n"
    ).layers["shots"]
    np.testing.assert_array_equal(shots["elevation"], [np.nan, np.nan, np.nan, 9999.0])


def test_a_stated_null_replaces_the_usual_ones(read):
    text = "point,easting,northing,elevation\n1,1.5,2.5,none\n2,1.5,2.5,9999.00\n3,1.5,2.5,-9999\n"
    shots = read(text, null_elevation=("NONE", 9999)).layers["shots"]
    np.testing.assert_array_equal(shots["elevation"], [np.nan, np.nan, -9999.0])


ZEROS = "point,easting,northing,elevation\n1,1.5,2.5,1458.2\n2,1.5,2.5,0.00\n3,1.5,2.5,1458.4\n"


def test_a_zero_is_kept_and_told_when_it_stands_out(read):
    source = read(ZEROS)
    assert source.layers["shots"]["elevation"].tolist() == [1458.2, 0.0, 1458.4]
    (found,) = told(source, "elevation 0")
    assert found.answer == "1 kept as 0"
    assert "zero_is_null = true" in found.because


def test_a_zero_is_no_elevation_by_policy_only(read):
    source = read(ZEROS, zero_is_null=True)
    np.testing.assert_array_equal(source.layers["shots"]["elevation"], [1458.2, np.nan, 1458.4])
    assert source.layers["shots"]["raw_elevation"].tolist()[1] == "0.00"
    assert told(source, "elevation 0")[0].answer == "1 taken as no elevation"


def test_a_zero_near_the_sea_is_no_news(read):
    assert told(read(ZEROS.replace("1458", "1")), "elevation 0") == []


TIMES = "point,easting,northing,time\n1,1.5,2.5,{}\n"


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2026-03-14T14:05:22Z", "2026-03-14 14:05:22"),
        ("2026-03-14 14:05:22.250Z", "2026-03-14 14:05:22.250"),
        ("2026-03-14T09:05:22-05:00", "2026-03-14 14:05:22"),
        ("2026-03-14T15:05:22+0100", "2026-03-14 14:05:22"),
    ],
)
def test_a_time_with_its_zone_is_read_to_utc(read, text, utc):
    assert read(TIMES.format(text)).layers["shots"]["time"][0] == pd.Timestamp(utc, tz="UTC")


def test_a_time_without_a_zone_is_null_until_the_job_names_one(read):
    source = read(TIMES.format("2026-03-14T09:05:22"))
    assert source.layers["shots"]["time"].isna().all()
    assert "state time_zone" in told(source, "time")[0].because
    source = read(TIMES.format("2026-03-14T09:05:22"), time_zone="America/Chicago")
    assert source.layers["shots"]["time"][0] == pd.Timestamp("2026-03-14 14:05:22", tz="UTC")


@pytest.mark.parametrize("text", ["2026-03-08T02:30:00", "2026-11-01T01:30:00"])
def test_an_hour_that_is_skipped_or_comes_twice_is_named_not_guessed(read, text):
    source = read(TIMES.format(text), time_zone="America/Chicago")
    assert source.layers["shots"]["time"].isna().all()
    assert [(each.line, each.column) for each in source.troubles] == [(2, "time")]


def test_a_time_in_another_order_is_named_unless_its_pattern_is_stated(read):
    source = read(TIMES.format("03/04/2026 14:05:22"), time_zone="UTC")
    assert "is no ISO 8601 time" in source.troubles[0].reason
    source = read(TIMES.format("03/04/2026 14:05:22"), time_zone="UTC", time_format="%d/%m/%Y %H:%M:%S")
    assert source.layers["shots"]["time"][0] == pd.Timestamp("2026-04-03 14:05:22", tz="UTC")


def test_an_unknown_zone_is_refused(read):
    with pytest.raises(SourceError, match="No time zone named 'Mars/Base'"):
        read(TIMES.format("2026-03-14T09:05:22"), time_zone="Mars/Base")


@pytest.mark.parametrize("text", ["2026-03-14", "2026-03", "20260314", "2026-03-14T05"])
def test_the_day_of_a_date_is_no_offset(read, text):
    source = read(TIMES.format(text))
    assert source.layers["shots"]["time"].isna().all()
    assert "state time_zone" in told(source, "time")[0].because


def test_a_place_of_zero_zero_is_no_place_where_the_others_are_far(read):
    source = read("point,easting,northing\n1,0.000,0.000\n2,2231543.5,445566.5\n")
    assert source.layers["shots"]["easting"].isna().tolist() == [True, False]
    assert source.layers["shots"]["raw_easting"].tolist()[0] == "0.000"
    assert "is taken as no place; the nearest other is 2,275,591 away" in source.troubles[0].reason
    near = read("point,easting,northing\n1,0.000,0.000\n2,150.5,200.5\n")
    assert near.layers["shots"]["easting"].tolist() == [0.0, 150.5]


def test_many_unreadable_values_of_a_side_column_are_counted_not_fatal(read):
    rows = "".join(f"{n},1.5,2.5,quite\n" for n in range(300))
    source = read("point,easting,northing,pdop\n" + rows)
    assert len(source.layers["shots"]) == 300
    assert len(source.troubles) == 20
    assert told(source, "pdop")[0].answer == "300 values not taken"


def test_words_of_the_solution_become_one_vocabulary(read):
    words = ["Fixed", "RTK-FLOAT", "dgps", "Autonomous", "single", "fish", ""]
    rows = "".join(f"{n},1.5,2.5,{word}\n" for n, word in enumerate(words))
    source = read("point,easting,northing,solution\n" + rows)
    said = source.layers["shots"]["solution"].fillna("none").tolist()
    assert said == ["fixed", "float", "differential", "autonomous", "autonomous", "other", "none"]
    assert "'fish'" in told(source, "solution")[0].because


@pytest.mark.parametrize(
    ("ending", "unit"), [("_m", METRE), (" (usft)", US_SURVEY_FOOT), ("_ift", FOOT), (" [ft]", None), ("", None)]
)
def test_a_unit_in_the_headings_is_the_units_of_the_file_and_a_bare_foot_is_not_taken_for_one(read, ending, unit):
    source = read(f"point,easting{ending},northing{ending},elevation{ending}\n1,1.5,2.5,3.5\n")
    assert source.unit == unit
    assert source.layers["shots"]["easting"].tolist() == [1.5]
    assert bool(told(source, "unit")) == (ending != "")


def test_a_length_in_another_unit_than_the_coordinates_is_not_taken(read):
    source = read("point,easting_ft,northing_ft,rod_height_m,reported_h_ft\n1,1.5,2.5,2.0,0.02\n")
    assert source.layers["shots"]["rod_height"].isna().all()
    assert source.layers["shots"]["reported_h"].tolist() == [0.02]
    assert told(source, "rod_height")[0].answer == "not taken"


def test_a_description_is_the_code_only_if_no_column_is_called_code(read):
    alone = read("point,easting,northing,description\n1,1.5,2.5,CTB\n").layers["shots"]
    beside = read("point,easting,northing,description,code\n1,1.5,2.5,top of curb,CTB\n").layers["shots"]
    assert (alone["code"][0], alone["note"].isna()[0]) == ("CTB", True)
    assert (beside["code"][0], beside["note"][0]) == ("CTB", "top of curb")


def test_columns_that_are_not_used_are_told(read):
    source = read("point,easting,northing,mood\n1,1.5,2.5,glad\n")
    assert told(source, "columns not used")[0].answer == "'mood'"


def test_columns_can_be_named_by_the_files_own_words_or_numbers(read):
    text = "id,Hochwert,Rechtswert,h\n1,445566.5,2231543.5,9.5\n"
    shots = read(text, columns={"northing": "Hochwert", "easting": 3, "elevation": "H"}).layers["shots"]
    assert shots[["easting", "northing", "elevation"]].iloc[0].tolist() == [2231543.5, 445566.5, 9.5]
    assert shots["shot"].tolist() == ["1"]


def test_columns_without_a_header_can_be_left_out(read):
    text = "1,2231543.5,445566.5,9.5,8.5,CTB\n"
    shots = read(text, columns=("shot", "easting", "northing", "elevation", "", "code")).layers["shots"]
    assert shots[["shot", "code"]].iloc[0].tolist() == ["1", "CTB"]
    assert shots["elevation"].tolist() == [9.5]


@pytest.mark.parametrize("east_first", [True, False])
def test_a_place_near_the_site_decides_the_order_with_its_reason(read, east_first):
    pair = "2231543.5,445566.5" if east_first else "445566.5,2231543.5"
    source = read(f"1,{pair},9.5\n2,{pair},9.25\n", near=(2231000.0, 445000.0))
    assert source.layers["shots"]["easting"].tolist() == [2231543.5] * 2
    assert "near =" in told(source, "columns")[0].because


def test_a_place_that_fits_both_orders_decides_nothing(read):
    with pytest.raises(SourceError, match="does not decide between"):
        read("1,5000.5,5100.5,9.5\n", near=(5050.0, 5040.0))


def test_a_row_without_a_place_stays(read):
    source = read("point,easting,northing,elevation\n1,,2.5,3.5\n2,1.5,2.5,3.5\n")
    assert source.layers["shots"]["easting"].isna().tolist() == [True, False]
    assert told(source, "easting")[0].answer == "1 row without"


def test_numbers_are_exact(read):
    texts = ["2231543.123", "0.1", "-0.000001", "1e-3", "+5.25", ".5", "5.", "13123456.7891"]
    rows = "".join(f"{n},{text},1.5\n" for n, text in enumerate(texts))
    shots = read("point,easting,northing\n" + rows).layers["shots"]
    assert shots["easting"].tolist() == [float(text) for text in texts]
    assert shots["raw_easting"].tolist() == texts


def test_a_number_that_nothing_on_the_earth_has_is_told_and_not_taken(read):
    source = read(
        "point,easting,northing,elevation,reported_h\n1,1e308,3.5,4.5,0.02\n2,2.5,3.5,1e300,1e300\n3,5,6,7,0\n"
    )
    shots = source.layers["shots"]
    assert shots["easting"].isna().tolist() == [True, False, False]
    assert shots["elevation"].isna().tolist() == [False, True, False]
    assert [(each.line, each.column) for each in source.troubles] == [
        (2, "easting"),
        (3, "elevation"),
        (3, "reported_h"),
    ]
    assert {each.reason for each in source.troubles} == {"is larger than any measured number"}


DAYS = "point,easting,northing,time\n1,2231543.5,445566.5,{}\n2,2231544.5,445566.5,{}\n"


def test_a_day_above_12_settles_the_order_of_the_whole_file(read):
    source = read(DAYS.format("03.04.2026 08:00:00", "14.04.2026 08:00:00"), time_zone="UTC")
    assert source.layers["shots"]["time"].dt.strftime("%m-%d").tolist() == ["04-03", "04-14"]
    assert any(each.what == "order of time" and "14.04.2026" in each.because for each in source.evidence)
    source = read(DAYS.format("4/3/2026 8:00 AM", "4/14/2026 1:05 PM"), time_zone="UTC")
    assert source.layers["shots"]["time"].dt.strftime("%m-%d %H").tolist() == ["04-03 08", "04-14 13"]


def test_an_open_order_and_an_open_zone_are_asked_at_once(read):
    source = read(DAYS.format("03.04.2026 08:00:00", "04.04.2026 08:00:00"))
    assert source.layers["shots"]["time"].isna().all()
    [asked] = told(source, "time")
    assert asked.answer == "2 not taken"
    assert 'state time_zone = and time_format = "%d.%m.%Y %H:%M:%S" or "%m.%d.%Y %H:%M:%S"' in asked.because


def test_days_that_contradict_each_other_settle_nothing(read):
    source = read(DAYS.format("14.04.2026 08:00:00", "04.14.2026 08:00:00"), time_zone="UTC")
    assert source.layers["shots"]["time"].isna().all()
