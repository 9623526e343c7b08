"""Design elevations of exactly 0 among others far from it prove nothing, and are asked about."""

import numpy as np
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.design.positions import Positions

LIMITS = [("curb-top", "elevation", -0.1, 0.1), ("rim", "elevation", -0.1, 0.1)]


def judged(job, levels, stations, kind="curb-top", points=None):
    """A line of legs of 50 ft with these elevations at its vertices, and shots at 1,460."""
    design = job.design({"A": ("curb-top", 0.0, 0, 50)}, points)
    legs = design["design_elements"].loc[[0] * (len(levels) - 1)].reset_index(drop=True)
    nth = np.arange(len(legs))
    legs = legs.assign(sequence=nth, start_station=50.0 * nth, start_northing=job.origin[1] + 50.0 * nth)
    legs = legs.assign(end_northing=legs["start_northing"] + 50, start_elevation=levels[:-1], end_elevation=levels[1:])
    shots = job.prepared(job.shots([{"station": each, "elevation": 1460.0} for each in stations]), kind=kind)
    layers = job.layers(shots=shots, limits=job.limits(*LIMITS), **(design | {"design_elements": legs}))
    return job.run(layers, MatchLines(), MatchPoints(), Elevations(), Positions())


def test_two_vertices_at_zero_are_asked_about_and_judge_nothing(job):
    made = judged(job, [1460, 1460, 0, 0, 1460, 1460], [25, 75, 125, 175, 225])
    told = job.told(made, "elevation")
    assert [told[each][0] for each in ("101", "105")] == ["IN", "IN"]
    assert {told[each] for each in ("102", "103", "104")} == {("NO_DATA", "zero-design-elevation")}
    (line,) = note_lines(made["notes"], "ft")
    assert line == (
        "Design line A has 2 vertices at elevation 0 exactly, and the others near 1460.000 ft. Does 0 mean none there? "
        "Elevations there are not judged."
    )


@pytest.mark.parametrize("levels", [[1460, 1460, 1460], [2.0, 0.0, -1.0], [np.nan, 1460, 1460], [0.0, 0.0, 0.0]])
def test_elevations_that_may_well_be_meant_are_judged(job, levels):
    made = judged(job, levels, [75])
    assert job.told(made, "elevation")["101"][1] != "zero-design-elevation"
    assert len(made["notes"]) == 0


def test_a_design_point_at_zero_is_asked_about_too(job):
    points = {"R1": ("rim", 0.0, 20.0, 0.0), "R2": ("rim", 0.0, 120.0, 1460.0), "R3": ("rim", 0.0, 220.0, 1461.0)}
    made = judged(job, [1460, 1460], [20, 120], kind="rim", points=points)
    assert job.told(made, "elevation") == {"101": ("NO_DATA", "zero-design-elevation"), "102": ("IN", "proven")}
    assert "1 design point lies at elevation 0 exactly (R1)" in note_lines(made["notes"], "ft")[0]
