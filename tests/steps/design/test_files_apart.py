"""Two design files of one kind that lie apart by different shifts are named, and no work is blamed."""

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
LINES = {"K1": ("curb-top", 0.0, "plan"), "K2": ("curb-top", 36.0, "plan"),
         "D1": ("walk", 46.0, "d"), "D2": ("walk", 51.0, "d"), "D3": ("walk", 140.0, "d"),
         "E1": ("walk", -46.0, "e"), "E2": ("walk", -54.0, "e"), "E3": ("walk", -190.0, "e")}  # fmt: skip
"""Kind, where it was built across the road, and file."""
POINTS = {"D4": (20.0, 60.0, "d"), "D5": (20.0, 210.0, "d"), "E4": (-20.0, 90.0, "e"), "E5": (-20.0, 170.0, "e")}
"""Hydrants: across and along the road, and file; they tell how far along the road a file was moved."""


def judged(job, shifts, *, seed=1, built=tuple(LINES), lines=LINES, points=POINTS, stray=()):
    """What was built, with 0.02 ft of scatter, against files that are drawn away from it by `shifts`."""
    rng = np.random.default_rng(seed)
    design = job.design({name: (kind, at, 0.0, 300.0) for name, (kind, at, _) in lines.items()},
                        {name: ("hydrant", east, at, 100.0) for name, (east, at, _) in points.items()})  # fmt: skip
    spots = design["design_points"]
    spots["source"] = [points[name][2] for name in spots["point"]]
    table, legs = design["design_lines"], design["design_elements"]
    table["source"] = [lines[name][2] for name in table["line"]]
    for axis, of in (("easting", 0), ("northing", 1)):
        size = np.array([shifts.get(lines[name][2], (0.0, 0.0))[of] for name in legs["line"]])
        for end in ("start", "end"):
            legs[f"{end}_{axis}"] += size
        spots[axis] += [shifts.get(points[name][2], (0.0, 0.0))[of] for name in spots["point"]]
    rows = [{"offset": lines[name][1] + rng.normal(0, 0.02), "station": 5.0 + 24 * nth}
            for name in built for nth in range(13)]  # fmt: skip
    rows += [{"offset": at + rng.normal(0, 0.02), "station": 5.0 + 24 * nth} for at in stray for nth in range(13)]
    kinds = [*(lines[name][0] for name in built for _ in range(13)), *["walk"] * (13 * len(stray))]
    standing = [name for name in points if any(lines[each][2] == points[name][2] for each in built)]
    rows += [{"offset": points[name][0], "station": points[name][1], "code": "HYD"} for name in standing]
    kinds += ["hydrant"] * len(standing)
    sources = pd.DataFrame([(each, "design", f"{each}.dxf", "ft") for each in ("plan", "d", "e")],
                           columns=["source", "role", "path", "unit"])  # fmt: skip
    sources = conform("sources", sources.assign(sha256="0", reader="design.dxf", version="1"))
    layers = job.layers(shots=job.prepared(job.shots(rows), kind=kinds), limits=job.limits(*LIMITS), sources=sources,
                        **design)  # fmt: skip
    return job.run(layers, MatchLines(), MatchPoints(), OlderDesign(), Offsets(), Elevations(), Positions(), Coverage(),
                   BeyondDesign())  # fmt: skip


def said(done):
    return [str(each) for each in note_lines(done["notes"], "ft")]


@pytest.mark.parametrize("seed", range(5))
def test_each_is_named_with_its_own_shift_and_nothing_is_held_against_either(job, seed):
    rng = np.random.default_rng(seed + 40)
    shifts = {"d": (-rng.uniform(14, 30), rng.uniform(-12, 12)), "e": (rng.uniform(14, 30), rng.uniform(-12, 12))}
    done = judged(job, shifts, seed=seed)
    findings = done["findings"]
    curbs = findings["kind"] == "curb-top"
    assert "OUT" not in set(findings["verdict"])
    assert "IN" in set(findings.loc[curbs, "verdict"])
    assert set(findings.loc[~curbs, "verdict"]) == {"NO_DATA"}
    assert set(findings.loc[~curbs, "why"]) <= {"design-apart", "past-end"}
    told = said(done)
    assert len(told) == 2
    for file, other in (("d", "e"), ("e", "d")):
        (line,) = (each for each in told if each.startswith(f"Design file {file}.dxf"))
        assert f"and so does {other}.dxf, each by a shift of its own" in line
        assert "41 of 82 shots" in line
        assert f"once it is moved some {math.hypot(*shifts[file]):.0f} ft to the " in line
        assert "Nothing is held against either until that is settled." in line


def test_where_either_file_fits_the_shots_of_the_other_no_amount_is_told(job):
    """Both have two edges as far apart: which shots are of which file cannot be seen."""
    lines = {name: LINES[name] for name in ("K1", "K2", "D1", "D2", "E1")} | {"E2": ("walk", -51.0, "e")}
    near = {name: (kind, {"E1": 76.0, "E2": 81.0}.get(name, at), file) for name, (kind, at, file) in lines.items()}
    done = judged(job, {"d": (-16.0, 0.0), "e": (15.0, 0.0)}, built=tuple(near), lines=near, points={})
    assert "OUT" not in set(done["findings"]["verdict"])
    told = said(done)
    assert len(told) == 2
    assert all("moved some" not in each and "by how much is open" in each for each in told)


@pytest.mark.parametrize("seed", range(3))
def test_one_file_apart_beside_a_sound_one_of_its_kind_is_told_as_ever(job, seed):
    told = said(judged(job, {"d": (-20.0, 0.0)}, seed=seed))
    (line,) = told
    assert line.startswith("Design file d.dxf lies apart from the shots, and the other design does not")


@pytest.mark.parametrize("seed", range(3))
def test_phases_that_nobody_built_are_none(job, seed):
    """Of both files nothing was built; and of one of them, beside the other that lies apart."""
    done = judged(job, {"d": (-20.0, 0.0), "e": (300.0, 0.0)}, built=("K1", "K2"), seed=seed)
    assert not said(done)
    assert "OUT" in set(done["findings"].query("kind == 'walk'")["verdict"])
    sound = judged(job, {}, seed=seed)
    assert not said(sound)
    assert set(sound["findings"]["verdict"]) == {"IN"}


@pytest.mark.parametrize("seed", range(6))
def test_work_that_no_file_shows_is_on_none(job, seed):
    """Six edges anywhere beside two files of which nothing was built."""
    stray = np.random.default_rng(seed + 70).uniform(55, 130, 6) * np.array([1, 1, 1, -1, -1, -1])
    assert not said(judged(job, {}, built=("K1", "K2"), stray=tuple(stray), seed=seed))
