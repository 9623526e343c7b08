"""Design and shots that lie apart as a whole are one note; a few stray strings are none."""

import math

import pytest

from geoqa.contract.sentences import note_lines
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.positions import Positions
from geoqa.steps.evidence.beyond_design import BeyondDesign
from geoqa.steps.evidence.coverage import Coverage

LINES = {f"L{each}": ("curb-top", 30.0 * each, 0, 400) for each in range(3)}


def made_of(job, rows, lines=LINES, **columns):
    layers = job.layers(shots=job.prepared(job.shots(rows), **columns),
                        limits=job.limits(("curb-top", "offset", -0.1, 0.1)), **job.design(lines))  # fmt: skip
    return job.run(layers, MatchLines(), MatchPoints(), BeyondDesign())


def grid(east, north):
    return [{"offset": 30.0 * line + east, "station": 20.0 * n + north} for line in range(3) for n in range(21)]


@pytest.mark.parametrize("away", [300.0, 2_000.0, 10_000.0])
def test_one_note_says_that_they_lie_apart(job, away):
    (line,) = note_lines(made_of(job, grid(away, 0.0))["notes"], "ft")
    assert "Design and shots lie apart as a whole" in line
    assert "63 of 63 shots" in line
    assert f"the middle of the shots {away:.0f} ft east of the middle of the design" in line


def test_a_survey_along_the_line_is_apart_too(job):
    (line,) = note_lines(made_of(job, grid(0.0, -2_000.0))["notes"], "ft")
    assert "south of the middle of the design" in line


def test_work_in_place_with_a_stray_string_is_not(job):
    assert len(made_of(job, grid(0.0, 0.0) + grid(300.0, 0.0)[:21])["notes"]) == 0


def test_a_kind_without_any_design_and_a_handful_of_shots_are_not(job):
    assert len(made_of(job, grid(300.0, 0.0), {"R": ("rail", 0.0, 0, 400)})["notes"]) == 0
    assert len(made_of(job, grid(300.0, 0.0)[:5])["notes"]) == 0


POINTS = {f"H-{n}": ("hydrant", 40.0 * n, 0.0, 100.0) for n in range(12)}
LIMITS = [
    ("curb-top", "offset", -0.1, 0.1),
    ("curb-top", "elevation", -0.1, 0.1),
    ("curb-top", "coverage", -math.inf, 60.0),
    ("hydrant", "position", -math.inf, 0.2),
]


def judged(job, rows, points=()):
    kinds = ["curb-top"] * len(rows) + ["hydrant"] * len(points)
    shots = job.prepared(job.shots([*rows, *points])).assign(kind=kinds)
    layers = job.layers(shots=shots, limits=job.limits(*LIMITS), **job.design(LINES, POINTS))
    steps = (MatchLines(), MatchPoints(), Offsets(), Elevations(), Positions(), Coverage(), BeyondDesign())
    return job.run(layers, *steps)["findings"]


def hydrants(east, north):
    return [{"station": north, "offset": 40.0 * n + east, "line_id": f"H-{n}"} for n in range(12)]


def test_where_they_lie_apart_nothing_is_held_against_the_design(job):
    found = judged(job, grid(300.0, -200.0), hydrants(300.0, -200.0))
    assert set(found["check"]) >= {"position", "extra", "coverage"}
    assert set(found["verdict"]) == {"NO_DATA"}
    assert set(found["why"]) == {"design-apart"}
    assert not found["remedy"].str.contains("shoot it").any()
    assert found["remedy"].notna().all()


def test_points_that_lie_at_their_own_are_judged_all_the_same(job):
    found = judged(job, grid(300.0, -2_000.0), hydrants(0.3, 0.0)).set_index("check")
    assert set(found.loc["position", "verdict"]) == {"OUT"}
    assert set(found.loc["extra", "why"]) == {"design-apart"}


def test_a_design_of_a_part_of_the_work_is_in_its_place(job):
    more = [{"offset": 300.0 + 9.0 * n, "station": 20.0 * m} for n in range(9) for m in range(21)]
    found = judged(job, [*grid(0.02, 0.0)[:21], {"offset": 0.5, "station": 210.0}, *more])
    assert set(found.loc[found["check"] == "offset", "verdict"]) == {"IN", "OUT"}
    assert "design-apart" not in set(found["why"])
