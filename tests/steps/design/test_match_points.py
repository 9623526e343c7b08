"""Which design point a shot is of: the one it names, else the one that fits all shots together best."""

import numpy as np
import pytest

from geoqa.steps.design.match_points import MatchPoints


def chosen(matches):
    picked = matches[matches["chosen"]]
    return {key.rpartition("/")[2]: name for key, name in zip(picked["shot_key"], picked["design"], strict=True)}


def points_matched(job, rows, points, **columns):
    given = {"kind": "hydrant"} | columns
    layers = job.layers(shots=job.prepared(job.shots(rows), **given), **job.design(points=points))
    return job.run(layers, MatchPoints())["point_matches"]


PAIR = {"H-1": ("hydrant", 0.0, 0.0, 100.0), "H-2": ("hydrant", 2.0, 0.0, 100.0), "V-1": ("valve", 0.0, 0.0, 99.0)}


def test_points_are_matched_one_to_one(job):
    matches = points_matched(job, [{"offset": 0.3}, {"offset": 1.2}], PAIR)
    assert chosen(matches) == {"101": "H-1", "102": "H-2"}
    assert matches[matches["chosen"]]["distance"].tolist() == pytest.approx([0.3, 0.8])
    assert matches[matches["chosen"]]["azimuth"].tolist() == pytest.approx([90, 270])


def test_one_shot_midway_between_two_points_is_ambiguous(job):
    matches = points_matched(job, [{"offset": 1.0}], PAIR)
    assert matches["ambiguous"].all()
    assert chosen(matches) == {}


def test_a_name_decides_however_far_away(job):
    rows = [{"offset": 0.1, "line_id": "H-2"}, {"offset": 500.0, "note": "H-1"}, {"offset": 0.0, "shot": "V-1"}]
    matches = points_matched(job, rows, PAIR)
    # V-1 is of another kind, so its name is no name of a hydrant; it lies at H-1
    assert chosen(matches) == {"101": "H-2", "102": "H-1", "V-1": "H-1"}


def test_repeats_belong_to_the_point_they_lie_at(job):
    matches = points_matched(job, [{"offset": 0.1}, {"offset": 0.2}, {"offset": -0.1}], {"H-1": PAIR["H-1"]})
    assert chosen(matches) == {"101": "H-1", "102": "H-1", "103": "H-1"}


def test_points_out_of_reach_have_no_candidates(job):
    assert len(points_matched(job, [{"offset": 30.0}, {"northing": np.nan}], PAIR)) == 0
    assert len(points_matched(job, [], PAIR)) == 0
    assert len(points_matched(job, [{}], {})) == 0
