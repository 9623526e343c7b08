"""Every shot has its station along the baseline, or the reason why it has none."""

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from geoqa import testing
from geoqa.errors import SourceError
from geoqa.model.quantity import Length
from geoqa.model.station import parse_station
from geoqa.steps.baseline.centre_line import Along, centre_line, point_columns
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


def test_a_station_says_which_equation_it_lies_after(baseline):
    shots = run(baseline, equations=((1300.0, 2000.0),))["shots"]
    assert shots["baseline_place"][3] == "TL 21+00.00 (after equation 1), 120.00 ft left"
    assert shots["baseline_place"][0] == "TL 12+50.25 (before equation 1), 18.21 ft right"
    assert shots["baseline_equation"].astype("Float64").fillna(-1).tolist() == [0, 0, -1, 1, -1]


@pytest.mark.parametrize(("unit", "expected"), [
    ("ftUS", ["5.56 ftUS right", "1.23 ftUS left", "on the line"]),
    ("m", ["5.556 m right", "1.234 m left", "0.004 m right"]),
])  # fmt: skip
def test_an_offset_is_said_to_the_hundredth_of_a_foot_or_the_millimetre(baseline, unit, expected):
    line = replace(centre_line(testing.layers(**baseline())), unit=unit)
    found = Along(
        station=np.full(3, 1250.0), offset=np.array([5.5556, -1.2344, 0.004]), why=np.full(3, None, dtype=object)
    )
    told = point_columns(line, found, pd.RangeIndex(3))["baseline_place"]
    assert told.tolist() == [f"TL 12+50.00, {each}" for each in expected]


def test_beyond_the_reach_there_is_none(baseline):
    shots = run(baseline, step=ShotStations(reach=Length.parse("100 ft")))["shots"]
    assert shots["baseline_place"][3] == "farther from the baseline than the reach"
    assert math.isnan(shots["baseline_station"][3])


def test_without_a_baseline_it_is_no_part_of_the_plan():
    from geoqa.job.plan import plan

    assert plan([ShotStations()], testing.layers().available()) == plan([], [])


def test_a_station_reads_back_as_it_is_shown(baseline):
    line = centre_line(testing.layers(**baseline(equations=((1300.0, 1200.0),))))
    along = np.array([1250.0, 1350.0])
    shown = line.station_words(along)
    assert shown.tolist() == ["12+50.00 (before equation 1)", "12+50.00 (after equation 1)"]
    for station, text in zip(along, shown, strict=True):
        written, equation = parse_station(text)
        assert line.meant(written, equation, place="row 1", what="the station") == pytest.approx(station)
    with pytest.raises(SourceError, match=r"write 12\+50.00 \(before equation 1\) or 12\+50.00 \(after equation 1\)"):
        line.meant(1250.0, None, place="row 1", what="the station")
