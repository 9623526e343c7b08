import numpy as np

from geoqa.steps.duplicates import Duplicates
from geoqa.steps.use import Use


def test_one_name_for_two_places_is_flagged_and_both_are_kept(job):
    shots = job.shots(
        [
            {"shot": "1187", "station": 0.0},
            {"shot": "1187", "source": "day2", "station": 212.0},
            {"shot": "5"},
            {"shot": "5", "shot_key": "day1/5~2", "station": 0.05},
            {"shot": None, "shot_key": "day1/?1"},
            {"shot": None, "shot_key": "day1/?2", "station": 50.0},
        ]
    )
    made = job.run(job.layers(shots=shots), Duplicates(), Use())
    assert made["shots"]["flags"].tolist() == ["duplicate-name", "duplicate-name", "", "", "", ""]
    assert made["shots"]["use"].all()
    assert made["flags"]["reason"].unique().tolist() == [
        "name '1187' is used 2 times, over 212.000 ft, in day1 and day2"
    ]


def test_what_was_written_and_could_not_be_used_is_said(job):
    shots = job.shots(
        [
            {"raw_elevation": "0.000", "elevation": np.nan},
            {"raw_elevation": "", "elevation": np.nan},
            {"raw_easting": "12x", "easting": np.nan},
            {"raw_elevation": "100.0"},
        ]
    )
    made = job.run(job.layers(shots=shots), Duplicates(), Use())
    assert made["shots"]["flags"].tolist() == ["null-elevation", "", "unreadable", ""]
    assert made["flags"]["reason"].tolist() == [
        "elevation recorded as '0.000', taken as none",
        "easting '12x' could not be used as a number",
    ]
    assert made["shots"]["use"].all()


def test_no_shots_are_no_error(job):
    assert len(job.run(job.layers(shots=job.shots([])), Duplicates(), Use())["flags"]) == 0
