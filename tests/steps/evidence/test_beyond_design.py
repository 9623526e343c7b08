import math

import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.evidence.beyond_design import BeyondDesign

LINES = {"DWY": ("driveway", 0.0, 0, 50)}
LIMITS = [("driveway", "offset", -0.1, 0.1)]


def found(job, rows, lines=LINES, limits=LIMITS, points=None, **columns):
    shots = job.prepared(job.shots(rows), **({"kind": "driveway"} | columns))
    layers = job.layers(shots=shots, limits=job.limits(*limits), **job.design(lines, points))
    return job.run(layers, MatchLines(), MatchPoints(), BeyondDesign())


def at(station, offset=0.0, **more):
    return {"station": station, "offset": offset, "line_id": "D2"} | more


def test_neighbours_of_one_string_beyond_reach_are_one_finding(job):
    made = found(job, [at(100), at(110), at(120, 4.0), at(20, line_id="D1")])
    (row,) = made["findings"].to_dict("records")
    assert [row["check"], row["verdict"], row["why"]] == ["extra", "OUT", "no-design"]
    assert [row["quantity"], row["measured"], row["upper"], row["u"]] == ["count", 3, 0, 0]
    assert row["label"] == "3 shots of D2"
    assert row["remedy"].endswith("; the nearest design of its kind is 50.0 ft away")
    assert row["shot"] == "day1/101"
    assert made["evidence"]["key"].tolist() == ["day1/101", "day1/102", "day1/103"]


def test_within_reach_nothing_is_extra(job):
    assert len(found(job, [at(55), at(20, 9.0)])["findings"]) == 0


def test_how_far_the_next_design_lies_is_no_deviation(job):
    made = found(job, [at(60.01), at(884.5, line_id="D9")])["findings"].set_index("label").sort_index()
    assert [text.rpartition(" is ")[2] for text in made["remedy"]] == ["10.0 ft away", "834 ft away"]
    assert made[["measured", "deviation"]].to_numpy().tolist() == [[1, 1], [1, 1]]


def test_a_kind_with_a_tolerance_and_no_design_is_no_data(job):
    made = found(job, [at(100)], {})
    (row,) = made["findings"].to_dict("records")
    assert [row["verdict"], row["why"], row["label"]] == ["NO_DATA", "no-design", "1 shot of D2"]
    assert math.isnan(row["deviation"])


def test_kinds_with_neither_tolerance_nor_design_are_not_judged(job):
    assert len(found(job, [at(100)], {}, [])["findings"]) == 0
    assert len(found(job, [at(100)], role="check")["findings"]) == 0


def test_rejected_shots_are_reported_and_not_judged(job):
    made = found(job, [at(100)], use=False)
    assert made["findings"][["verdict", "why"]].to_numpy().tolist() == [["NO_DATA", "screened"]]


@pytest.mark.long
def test_distance_parts_a_string_and_order_of_rows_does_not_matter(job):
    rows = [at(100), at(130), at(300), at(310)]
    one = found(job, rows)["findings"]
    assert sorted(one["label"]) == ["2 shots of D2", "2 shots of D2"]
    named = [dict(row, shot=str(101 + number)) for number, row in enumerate(rows)]
    other = found(job, named[::-1])["findings"]
    assert sorted(one["finding"]) == sorted(other["finding"])


def test_points_are_measured_to_points(job):
    points = {"H-1": ("hydrant", 0.0, 0.0, 100.0)}
    made = found(job, [at(30.0, 40.0)], {}, [], points, kind="hydrant")
    assert made["findings"]["remedy"].str.endswith(" is 50.0 ft away").tolist() == [True]


def test_shots_under_a_blunder_are_told_from_screened_ones(job):
    shots = job.prepared(job.shots([at(100), at(110), at(120)]), kind="driveway").assign(use=[False, False, False])
    key = shots["shot_key"]
    flags = pd.DataFrame(
        {"shot_key": key, "flag": ["open-blunder", "open-blunder", "spike"], "reject": True, "step": "x"}
    )
    shifts = {f"{size}_{axis}": 0.5 for size in ("shift", "u") for axis in ("easting", "northing", "elevation")}
    acted = pd.DataFrame({"cause": "rod", "subject": "s", "shot_key": key[:2], "sure": True, "holds": True, **shifts})
    layers = job.layers(
        shots=shots, limits=job.limits(*LIMITS), **job.design({}, []),
        flags=conform("flags", flags), cause_shots=conform("cause_shots", acted),
    )  # fmt: skip
    rows = job.run(layers, MatchLines(), MatchPoints(), BeyondDesign())["findings"].set_index("why")
    assert rows["label"].to_dict() == {"open-blunder": "2 shots of D2", "screened": "1 shot of D2"}
    assert rows.loc["open-blunder", "remedy"] == "clear the blunder first: see the diagnosis"


def test_a_kind_judged_by_its_own_shots_needs_no_design(job):
    assert len(found(job, [at(100)], {}, [("driveway", "ramp-slope", -math.inf, 1 / 12)])["findings"]) == 0
    assert len(found(job, [at(100)], limits=[("driveway", "ramp-slope", -math.inf, 1 / 12)])["findings"]) == 1
