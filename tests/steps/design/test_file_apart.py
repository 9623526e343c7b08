"""One of several design files that lies apart is one matter; the others are judged as ever."""

import math

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.model.tables.columns import conform
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.older_design import OlderDesign
from geoqa.steps.design.positions import Positions
from geoqa.steps.evidence.beyond_design import BeyondDesign
from geoqa.steps.evidence.coverage import Coverage

pytestmark = pytest.mark.long

LIMITS = [
    *((kind, check, -0.1, 0.1) for kind in ("curb-top", "walk") for check in ("offset", "elevation")),
    *((kind, "coverage", -math.inf, 60.0) for kind in ("curb-top", "walk")),
    ("hydrant", "position", -math.inf, 0.2),
]
LINES = {"K1": ("curb-top", 0.0), "K2": ("curb-top", 36.0), "W1": ("walk", 46.0), "W2": ("walk", 51.0),
         "W3": ("walk", 140.0)}  # fmt: skip
POINTS = {"H1": 60.0, "H2": 210.0}
FOOT = 2.000004e-6
"""A US survey foot is 1200/3937 m, an international one 0.3048 m."""


def judged(job, *, east=0.0, north=0.0, unit="ft", built=("K1", "K2", "W1", "W2", "W3"), more=(), far=0.0):
    """Walks and hydrants are of the file d.dxf, which is drawn `east` and `north` away from where they were built."""
    design = job.design({name: (kind, at, 0.0, 300.0) for name, (kind, at) in LINES.items()},
                        {name: ("hydrant", -12.0, at, 100.0) for name, at in POINTS.items()})  # fmt: skip
    lines, points, legs = design["design_lines"], design["design_points"], design["design_elements"]
    lines["source"] = lines["source"].mask(lines["line"].str.startswith("W"), "d")
    points["source"] = points["source"].mask(points["point"].str.startswith("H"), "d")
    moved = legs["line"].str.startswith("W").to_numpy()
    for axis, size in (("easting", east), ("northing", north)):
        for end in ("start", "end"):
            legs[f"{end}_{axis}"] += np.where(moved, size, 0.0)
            legs[f"{end}_{axis}"] += far * (axis == "easting")
        points[axis] += size + far * (axis == "easting")
    rows, kinds = [], []
    for name in built:
        for number in range(13):
            rows.append({"offset": LINES[name][1] + 0.01 * (-1) ** number, "station": 5.0 + 24 * number})
            kinds.append(LINES[name][0])
    for at in POINTS.values():
        rows.append({"offset": -12.0, "station": at, "code": "HYD"})
        kinds.append("hydrant")
    for offset, station in more:
        rows.append({"offset": offset, "station": station})
        kinds.append("walk")
    rows = [{**row, "offset": row["offset"] + far} for row in rows]
    sources = pd.DataFrame([("d", "design", "d.dxf", unit), ("design", "design", "plan.dxf", "ft")],
                           columns=["source", "role", "path", "unit"])  # fmt: skip
    sources = conform("sources", sources.assign(sha256="0", reader="design.dxf", version="1"))
    layers = job.layers(shots=job.prepared(job.shots(rows), kind=kinds), limits=job.limits(*LIMITS), sources=sources,
                        **design)  # fmt: skip
    return job.run(layers, MatchLines(), MatchPoints(), OlderDesign(), Offsets(), Elevations(), Positions(),
                   Coverage(), BeyondDesign())  # fmt: skip


@pytest.mark.parametrize(("east", "north"), [(-16.0, 9.0), (31.0, -14.0)])
def test_nothing_is_held_against_it_and_one_note_tells_how_far_it_lies(job, east, north):
    done = judged(job, east=east, north=north)
    findings = done["findings"]
    curbs = findings["kind"] == "curb-top"
    assert set(findings.loc[curbs, "verdict"]) == {"IN"}
    assert set(findings.loc[~curbs, "verdict"]) == {"NO_DATA"}
    assert set(findings.loc[~curbs & (findings["check"] != "coverage"), "why"]) == {"design-apart"}
    coverage = findings[~curbs & (findings["check"] == "coverage")]
    assert set(coverage["subject"]) == {"W1", "W2", "W3", "H1", "H2"}
    assert set(coverage["why"]) == {"design-apart"}
    (line,) = note_lines(done["notes"], "ft")
    assert line.startswith("Design file d.dxf lies apart from the shots, and the other design does not")
    assert f"moved some {math.hypot(east, north):.0f} ft to the {'southeast' if east < 0 else 'northwest'}" in line


def test_a_file_in_the_other_foot_is_named_with_what_to_state(job):
    """Far east the two feet lie farther apart than a shot is matched."""
    away = {"east": -FOOT * 8_228_000, "north": -FOOT * 446_000, "far": 6_000_000.0}
    (line,) = note_lines(judged(job, **away)["notes"], "ft")
    assert "once it is read in ftUS, not in ft: 16.5 ft to the east at its coordinates" in line
    assert 'state unit = "ftUS" in its [[design]]' in line
    (line,) = note_lines(judged(job, **away, unit="ftUS")["notes"], "ft")
    assert "once it is moved some 16 ft to the east" in line


def test_phases_not_built_and_work_without_design_are_no_file_apart(job):
    """Walks that nobody built, and a stray walk along none of them."""
    done = judged(job, east=400.0, built=("K1", "K2"), more=[(90.0 + n, 40.0 * n) for n in range(9)])
    assert not len(done["notes"])
    findings = done["findings"]
    assert set(findings.loc[findings["subject"].isin(["W1", "W2", "W3"]), "verdict"]) == {"OUT"}
    assert set(findings.loc[(findings["check"] == "extra") & (findings["kind"] == "walk"), "why"]) == {"no-design"}


def test_a_sound_file_and_one_a_little_aside_are_judged(job):
    assert set(judged(job)["findings"]["verdict"]) == {"IN"}
    aside = judged(job, east=2.0)["findings"]
    assert set(aside.loc[(aside["kind"] == "walk") & (aside["check"] == "offset"), "verdict"]) == {"OUT"}
    assert not len(judged(job, east=2.0)["apart_shots"])
