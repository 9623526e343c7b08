"""Point features: the distance in plan is judged by radius, the elevation with its sign."""

import math

import numpy as np
import pytest

from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.design.positions import Positions

POINTS = {"MH-1": ("rim", 0.0, 0.0, 100.0), "MH-2": ("rim", 0.0, 100.0, 100.0)}
POINT_LIMITS = [("rim", "position", -math.inf, 0.20), ("rim", "elevation", -0.10, 0.10)]


def at_points(job, rows, points=POINTS, limits=POINT_LIMITS, **columns):
    shots = job.prepared(job.shots(rows), **({"kind": "rim"} | columns))
    layers = job.layers(shots=shots, limits=job.limits(*limits), **job.design(points=points))
    return job.run(layers, MatchPoints(), Positions())


def test_positions_are_judged_by_radius(job):
    rows = [{"offset": 0.03, "station": 0.04}, {"offset": 0.5}, {"offset": 0.19}, {"easting": np.nan}]
    made = at_points(job, rows)
    assert job.told(made, "position") == {
        "101": ("IN", "proven"),
        "102": ("OUT", "proven"),
        "103": ("UNDECIDED", "near-limit"),
        "104": ("NO_DATA", "no-position"),
    }
    row = made["findings"].query("check == 'position' and shot == 'day1/101'").iloc[0]
    assert [row["subject"], row["deviation"], row["upper"]] == ["MH-1", pytest.approx(0.05), 0.20]
    assert [row["lower"], row["u"]] == [-math.inf, 0.02]
    chances = made["findings"].query("check == 'position'")["p_conform"].tolist()
    for found, far in zip(chances, [0.05, 0.5, 0.19], strict=False):
        assert found == pytest.approx(job.chance_in_circle(far, 0.02, 0.20), abs=1e-6)
    assert np.isnan(chances[3])


def test_elevations_of_points_are_judged_against_the_point(job):
    rows = [{"elevation": 100.01}, {"elevation": 100.3}, {"elevation": 100.1}, {"elevation": np.nan}]
    made = at_points(job, rows)
    assert [each[0] for each in job.told(made, "elevation").values()].count("IN") == 1
    assert job.told(made, "elevation") == {
        "101": ("IN", "proven"),
        "102": ("OUT", "proven"),
        "103": ("UNDECIDED", "near-limit"),
        "104": ("NO_DATA", "no-elevation"),
    }


def test_a_point_between_two_is_not_judged(job):
    made = at_points(job, [{"station": 1.0}], {"MH-1": ("rim", 0, 0, 100.0), "MH-2": ("rim", 0, 2.0, 100.0)})
    assert job.told(made, "position") == {"101": ("NO_DATA", "ambiguous-match")}
    assert job.told(made, "elevation") == {"101": ("NO_DATA", "ambiguous-match")}


@pytest.mark.parametrize(
    ("limits", "checks"), [(POINT_LIMITS[:1], {"position"}), (POINT_LIMITS[1:], {"elevation"}), ([], set())]
)
def test_only_what_has_a_tolerance_is_judged(job, limits, checks):
    assert set(at_points(job, [{}], limits=limits)["findings"]["check"]) == checks


def test_a_rejected_shot_and_a_point_without_an_elevation_are_no_data(job):
    made = at_points(job, [{}], {"MH-1": ("rim", 0.0, 0.0, np.nan)})
    assert job.told(made, "position") == {"101": ("IN", "proven")}
    assert job.told(made, "elevation") == {"101": ("NO_DATA", "no-design-elevation")}
    assert job.told(at_points(job, [{}], use=False), "position") == {"101": ("NO_DATA", "screened")}


def test_no_shots_are_no_findings(job):
    assert len(at_points(job, [])["findings"]) == 0
