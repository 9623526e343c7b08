"""Design beyond the limits of work is listed once and asked for no evidence; shots there are told."""

import math

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.errors import StepError
from geoqa.kernels.design.element_making import from_vertices
from geoqa.model.tables.columns import conform
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.evidence.coverage import Coverage
from geoqa.steps.evidence.limits_of_work import LimitsOfWork

LINES = {"A": ("curb-top", 0.0, 0, 400), "B": ("curb-top", 40.0, 0, 400), "FAR": ("curb-top", 900.0, 0, 400)}
POINTS = {"R1": ("rim", 5.0, 50.0, 100.0), "R2": ("rim", 5.0, 350.0, 100.0)}
LIMITS = [("curb-top", "coverage", -math.inf, 30.0), ("rim", "position", -math.inf, 0.2)]
AREA = [[-50, -10], [100, -10], [100, 205], [-50, 205], [-50, -10]]


def ring(job, vertices, name="LIMIT"):
    found = from_vertices(np.array(vertices) + job.origin, np.zeros(len(vertices)))
    return {"line": name, "sequence": np.arange(len(found)), "shape": "line", "sense": 0, "length": found.length,
            "start_easting": found.start[:, 0], "start_northing": found.start[:, 1],
            "end_easting": found.end[:, 0], "end_northing": found.end[:, 1],
            "start_station": found.start_station}  # fmt: skip


def run(job, stations, step=None, rings=(), lines=LINES, points=POINTS):
    design = job.design(lines, points)
    for nth, vertices in enumerate(rings):
        name = f"LIMIT-{nth}"
        one = pd.DataFrame({"line": [name], "kind": "limits-of-work", "source": "limits"})
        design["design_lines"] = conform("design_lines", pd.concat([design["design_lines"], one], ignore_index=True))
        legs = pd.DataFrame(ring(job, vertices, name))
        whole = pd.concat([design["design_elements"], legs], ignore_index=True)
        design["design_elements"] = conform("design_elements", whole)
    shots = job.prepared(job.shots([each if isinstance(each, dict) else {"station": each} for each in stations]))
    layers = job.layers(shots=shots, limits=job.limits(*LIMITS), **design)
    return job.run(layers, MatchLines(), MatchPoints(), step or LimitsOfWork(), Coverage())


def told(made):
    found = made["findings"]
    return sorted(zip(found["subject"], found["verdict"], found["label"], strict=True))


def test_without_limits_all_of_the_design_is_asked_for(job):
    made = run(job, range(0, 201, 25))
    assert {subject for subject, _, _ in told(made)} == {"A", "B", "FAR", "R1", "R2"}
    assert len(made["beyond_limits"]) == len(made["notes"]) == 0


def test_design_beyond_an_area_is_listed_once_and_not_missed(job):
    made = run(job, [*range(0, 201, 25), 300.0], rings=[AREA])
    assert told(made) == [
        ("A", "IN", "0+00 to 0+25"),
        ("B", "OUT", "0+00 to 2+05"),
        ("R1", "OUT", "no usable shot"),
    ]
    table = made["beyond_limits"].set_index("design")
    assert table.loc["A", ["start_station", "end_station"]].tolist() == pytest.approx([205, 400])
    assert table.loc["FAR", "length"] == pytest.approx(400)
    assert table.loc["R2", "shape"] == "point"
    (line,) = note_lines(made["notes"], "ft")
    assert line == (
        "Beyond the limits of work lie 3 design lines (790.0 ft of them) and 1 design point: no evidence of them is "
        "asked for. 1 shot lies there too, judged as ever: 110."
    )


def test_a_ring_within_a_ring_is_a_hole(job):
    hole = [[-5, 80], [60, 80], [60, 120], [-5, 120], [-5, 80]]
    made = run(job, [0, 25, 50, 75, 125, 150, 175, 200], rings=[AREA, hole], lines={"A": LINES["A"]}, points={})
    assert [each for each in told(made) if each[1] != "IN"] == []
    assert made["beyond_limits"]["start_station"].tolist() == pytest.approx([80, 205])


def test_stretches_of_named_lines_are_limits_too(job):
    step = LimitsOfWork(stations={"A": (("0 ft", "50 ft"), ("150 ft", "200 ft")), "FAR": ()})
    made = run(job, [0, 25, 50], step, points={})
    assert told(made) == [
        ("A", "IN", "0+00 to 0+25"), ("A", "OUT", "1+50 to 2+00"), ("B", "OUT", "0+00 to 4+00"),
    ]  # fmt: skip
    assert made["beyond_limits"].query("design == 'A'")["start_station"].tolist() == [50, 200]
    assert made["beyond_limits"].query("design == 'FAR'")["length"].tolist() == [400]


def test_one_shot_between_two_long_reaches_makes_two_findings(job):
    made = run(job, [200], lines={"A": LINES["A"]}, points={})
    assert [verdict for _, verdict, _ in told(made)] == ["OUT", "OUT"]
    assert made["findings"]["finding"].is_unique


@pytest.mark.parametrize(
    ("options", "rings", "says"),
    [
        ({"stations": {"X": (("0 ft", "5 ft"),)}}, (), "no design line 'X'"),
        ({"stations": {"A": (("9 ft", "5 ft"),)}}, (), "must end after its start"),
        ({}, [AREA[:3]], "is not closed"),
    ],
)
def test_limits_that_bound_nothing_are_refused(job, options, rings, says):
    with pytest.raises(StepError, match=says):
        run(job, [0], LimitsOfWork(**options), rings=rings)
