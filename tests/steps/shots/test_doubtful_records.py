import numpy as np
import pytest

from geoqa.model.tables.layer import Layers
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.shots.doubtful_records import DoubtfulRecords
from geoqa.steps.shots.usable_shots import UsableShots


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
    made = job.run(job.layers(shots=shots), DoubtfulRecords(), UsableShots())
    assert made["shots"]["flags"].tolist() == ["duplicate-name", "duplicate-name", "", "", "", ""]
    assert made["shots"]["use"].all()
    assert job.reasons(made)["reason"].unique().tolist() == [
        "name '1187' is used 2 times, over 212.0 ft, in day1 and day2"
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
    made = job.run(job.layers(shots=shots), DoubtfulRecords(), UsableShots())
    assert made["shots"]["flags"].tolist() == ["null-elevation", "", "unreadable", ""]
    assert job.reasons(made)["reason"].tolist() == [
        "elevation recorded as '0.000', taken as none",
        "easting '12x' could not be used as a number",
    ]
    assert made["shots"]["use"].all()


@pytest.mark.parametrize(
    ("others", "doubted"),
    [
        ([1456.2, 1461.9, 1450.1], True),
        ([-88.0, -84.5, -90.2], True),
        ([3.1, -0.4, 1.2], False),  # at the coast, 0 is an elevation like any other
        ([310.0, 820.0, 460.0], False),  # in the hills the ground may well reach down
        ([1456.2], False),  # one other shot tells nothing
    ],
)
def test_an_elevation_of_exactly_0_is_in_doubt_where_no_ground_is(job, others, doubted):
    """Common practice, no source: loggers write 0 for an elevation they do not have."""
    rows = [{"elevation": 0.0, "raw_elevation": "0.000"}, *({"elevation": each, "station": each} for each in others)]
    made = job.run(job.layers(shots=job.shots(rows)), DoubtfulRecords(), UsableShots())
    assert made["shots"]["flags"].tolist() == ["zero-elevation" if doubted else "", *[""] * len(others)]
    assert made["shots"]["elevation"].iloc[0] == 0.0
    assert made["shots"]["use"].all()


def test_nothing_vertical_is_judged_by_an_elevation_of_0_in_doubt(job):
    shots = job.shots(
        [{"elevation": 0.0, "station": 10.0}, *({"station": at, "elevation": 100.0 + at / 1e4} for at in (20.0, 30.0))]
    )
    limits = job.limits(("curb-top", "offset", -0.1, 0.1), ("curb-top", "elevation", -0.08, 0.08))
    layers = job.layers(shots=job.prepared(shots), limits=limits, **job.design({"CTB-L": ("curb-top", 0.0, 0, 200)}))
    layers = Layers({**layers, "shots": layers["shots"].drop(columns=["use", "flags"])}, frame=layers.frame)
    made = job.run(layers, DoubtfulRecords(), UsableShots(), MatchLines(), Offsets(), Elevations())
    assert job.told(made, "elevation") == {
        "101": ("NO_DATA", "zero-elevation"), "102": ("IN", "proven"), "103": ("IN", "proven"),
    }  # fmt: skip
    assert {verdict for verdict, _ in job.told(made, "offset").values()} == {"IN"}


def test_no_shots_are_no_error(job):
    assert len(job.run(job.layers(shots=job.shots([])), DoubtfulRecords(), UsableShots())["flags"]) == 0
