"""Design and shots that lie apart as a whole are one note; a few stray strings are none."""

import pytest

from geoqa.contract.sentences import note_lines
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.evidence.beyond_design import BeyondDesign

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
