"""No crew covers more than 10 m a second: 32.8 ft. Times in seconds, places in feet along the line."""

import pandas as pd
import pytest

from geoqa.steps.shots.motion import Motion

START = pd.Timestamp("2026-03-14 14:00", tz="UTC")


def raised(job, path, step=None, **columns):
    """Flags of shots at (seconds, station), named 101, 102, ... in the order of the rows."""
    rows = [
        {"time": None if seconds is None else START + pd.Timedelta(seconds, "s"), "station": station}
        for seconds, station in path
    ]
    shots = job.shots(rows)
    for name, values in columns.items():
        shots[name] = values
    return job.raised(job.run(job.layers(shots=shots), step or Motion()))


THERE_AND_BACK = [(0, 0), (10, 5), (13, 305), (16, 10), (26, 15)]


def test_three_hundred_feet_in_three_seconds_are_flagged_and_only_the_shot_that_strays(job):
    assert raised(job, THERE_AND_BACK) == {("103", "motion", False)}


def test_the_same_way_at_a_walking_speed_is_not(job):
    # 300 ft in 60 s: 5 ft a second
    assert raised(job, [(0, 0), (10, 5), (70, 305), (130, 10), (140, 15)]) == set()


def test_of_two_shots_that_are_as_likely_wrong_both_are_flagged(job):
    assert raised(job, [(0, 0), (3, 300)]) == {("101", "motion", False), ("102", "motion", False)}


@pytest.mark.parametrize(("seconds", "flags"), [(9, 2), (10, 0)])
def test_the_fastest_pace_is_ten_metres_a_second(job, seconds, flags):
    # 10 m/s over 9 s are 295.3 ft, over 10 s 328.1 ft
    assert len(raised(job, [(0, 0), (seconds, 300)])) == flags


@pytest.mark.parametrize(("station", "flags"), [(29.9, 0), (33.0, 2)])
def test_two_shots_of_one_whole_second_may_be_a_second_apart(job, station, flags):
    assert len(raised(job, [(0, 0), (0, station)])) == flags


@pytest.mark.parametrize(("station", "flags"), [(99.0, 0), (101.0, 2)])
def test_a_short_way_is_always_possible(job, station, flags):
    assert len(raised(job, [(0, 0), (1, station)], Motion(short="100 ft"))) == flags


def test_two_files_are_two_crews(job):
    assert raised(job, [(0, 0), (3, 300)], source=["day1", "day2"], shot_key=["day1/101", "day2/102"]) == set()


def test_a_clock_that_goes_back_against_the_rows_is_flagged(job):
    assert raised(job, [(0, 0), (60, 5), (50, 10), (120, 15)]) == {("103", "clock", False)}
    assert raised(job, [(0, 0), (60, 5), (61, 10), (120, 15)]) == set()


def test_a_file_that_is_not_in_the_order_of_time_has_no_clock_that_goes_back(job):
    assert raised(job, [(180, 0), (120, 5), (60, 10), (0, 15)]) == set()


def test_without_time_or_place_nothing_is_said(job):
    assert raised(job, [(None, 0), (None, 300)]) == set()
    assert raised(job, THERE_AND_BACK, easting=[None] * 5) == set()
    assert raised(job, []) == set()
