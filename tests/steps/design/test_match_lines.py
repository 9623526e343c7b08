"""Which design line a shot is of: the nearest of its kind where that is safe, else a question."""

import numpy as np
import pytest

from geoqa.steps.design.match_lines import MatchLines

TWO = {"A": ("curb-top", 0.0, 0, 400), "B": ("curb-top", 2.0, 0, 400), "W": ("walk-front", 1.0, 0, 400)}


def lines_matched(job, rows, lines=TWO, **columns):
    return job.run(job.layers(shots=job.prepared(job.shots(rows), **columns), **job.design(lines)), MatchLines())[
        "line_matches"
    ]


def chosen(matches):
    picked = matches[matches["chosen"]]
    return {key.rpartition("/")[2]: name for key, name in zip(picked["shot_key"], picked["design"], strict=True)}


def test_beside_parallel_lines_the_right_one_is_chosen(job):
    matches = lines_matched(job, [{"offset": 0.1, "station": 50}, {"offset": 1.9, "station": 50}])
    assert chosen(matches) == {"101": "A", "102": "B"}
    assert len(matches) == 4
    best = matches[matches["chosen"]]
    assert best["station"].tolist() == pytest.approx([50, 50])
    assert best["offset"].tolist() == pytest.approx([0.1, -0.1])
    assert best["design_elevation"].tolist() == [100, 100]


def test_a_shot_midway_is_ambiguous(job):
    matches = lines_matched(job, [{"offset": 1.0, "station": 50}])
    assert not matches["chosen"].any()
    assert matches["ambiguous"].all()
    assert matches["odds"].tolist() == pytest.approx([0.5, 0.5])


def test_the_string_or_a_name_decides_for_a_shot_midway(job):
    string = [{"offset": 0.0, "station": at, "line_id": "S1"} for at in (25, 50, 75)]
    matches = lines_matched(job, [*string, {"offset": 1.0, "station": 100, "line_id": "S1"}])
    assert chosen(matches)["104"] == "A"
    assert chosen(lines_matched(job, [{"offset": 1.0, "station": 50, "line_id": "B"}])) == {"101": "B"}


def test_a_name_against_the_place_is_a_question(job):
    # named A by two witnesses, lying on B
    rows = [{"offset": 0.0, "station": at, "line_id": "A"} for at in (25, 50, 75)]
    matches = lines_matched(job, [*rows, {"offset": 2.0, "station": 100, "line_id": "A"}])
    assert "104" not in chosen(matches)


def test_only_lines_of_the_same_kind_are_candidates(job):
    matches = lines_matched(job, [{"offset": 1.0, "station": 50}], kind="walk-front")
    assert matches["design"].tolist() == ["W"]
    assert len(lines_matched(job, [{"offset": 1.0, "station": 50}], kind="rim")) == 0
    assert len(lines_matched(job, [{"offset": 1.0, "station": 50}], role="other")) == 0
    assert len(lines_matched(job, [{"easting": np.nan}])) == 0
    assert len(lines_matched(job, [{"offset": 40.0, "station": 50}])) == 0


def test_where_one_line_goes_on_as_another_either_will_do(job):
    lines = {"A": ("curb-top", 0.0, 0, 200), "B": ("curb-top", 0.0, 200, 400)}
    matches = lines_matched(job, [{"offset": 0.1, "station": 200.0}, {"offset": 0.1, "station": 200.02}], lines)
    assert not matches["ambiguous"].any()
    assert chosen(matches)["102"] == "B"


def test_no_shots_and_no_design_are_no_error(job):
    assert len(lines_matched(job, [])) == 0
    assert len(lines_matched(job, [{}], {})) == 0
