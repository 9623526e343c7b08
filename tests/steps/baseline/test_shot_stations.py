"""Every shot has its station along the baseline, or the reason why it has none."""

import math

import pytest

from geoqa import testing
from geoqa.model.quantity import Length
from geoqa.steps.baseline.shot_stations import ShotStations

ROWS = [
    {"station": 250.25, "offset": 18.214},
    {"station": 0.0, "offset": -7.0},
    {"station": -3.0, "offset": 0.0},
    {"station": 400.0, "offset": -120.0},
    {"station": 550.0, "offset": math.nan},
]


def run(baseline, *, step=None, rows=ROWS, **options):
    step = step or ShotStations()
    start = testing.layers(shots=testing.judged_shots(rows), **baseline(**options))
    return testing.run(start, step)


def test_stations_and_words(baseline):
    done = run(baseline)
    shots = done["shots"]
    assert shots["baseline_station"].tolist() == pytest.approx([1250.25, 1000, math.nan, 1400, math.nan], nan_ok=True)
    assert shots["baseline_offset"].tolist() == pytest.approx([18.214, -7, math.nan, -120, math.nan], nan_ok=True)
    said = shots["baseline_place"].tolist()
    assert said[:4] == ["TL 12+50.25, 18.21 ft right", "TL 10+00.00, 7.00 ft left", "before the start of the baseline",
                        "TL 14+00.00, 120.00 ft left"]  # fmt: skip
    assert isinstance(said[4], float)
    (note,) = done["notes"].to_dict("records")
    assert [note["note"], note["count"], note["total"]] == ["no-station", 1, 5]


def test_equations_are_shown_by_region(baseline):
    shots = run(baseline, equations=((1300.0, 2000.0),))["shots"]
    assert shots["baseline_place"][3] == "TL 21+00.00 R2, 120.00 ft left"
    assert shots["baseline_place"][0] == "TL 12+50.25 R1, 18.21 ft right"
    assert shots["baseline_region"].astype("Float64").fillna(0).tolist() == [1, 1, 0, 2, 0]


def test_beyond_the_reach_there_is_none(baseline):
    shots = run(baseline, step=ShotStations(reach=Length.parse("100 ft")))["shots"]
    assert shots["baseline_place"][3] == "farther from the baseline than the reach"
    assert math.isnan(shots["baseline_station"][3])


def test_without_a_baseline_it_is_no_part_of_the_plan():
    from geoqa.job.plan import plan

    assert plan([ShotStations()], testing.layers().available()) == plan([], [])
