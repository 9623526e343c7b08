"""Cover over pipes: below a design surface, below ground shots, below design lines that the job names; and none."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.utilities.cover import Cover

LIMIT = ("water-top", "cover", 7.0, np.inf)
U = {"u_v_random": 0.02, "u_v_common": 0.03}


def table(job, tops, ground=(), *, codes=None):
    """Tops as (offset, station, elevation) and ground shots likewise."""
    rows = [{"offset": e, "station": n, "elevation": z, "code": "WTP", "line_id": "W-1"} for e, n, z in tops]
    rows += [{"offset": e, "station": n, "elevation": z, "code": "GND", "session": "B"} for e, n, z in ground]
    kinds = ["water-top"] * len(tops) + ["ground"] * len(ground)
    return job.prepared(job.shots(rows), kind=kinds, **U)


def run(job, shots, *limits, step=None, **tables):
    layers = job.layers(shots=shots, limits=job.limits(*(limits or (LIMIT,))), **tables)
    return job.run(layers, step or Cover())


GROUND = [(-20, 0, 100.0), (20, 0, 100.4), (0, 40, 100.2)]


def test_below_ground_shots(job):
    """The plane is 100.2 at its middle; u of the plane is that of three shots of one session with weights of 1/3."""
    middle = (0.0, 40 / 3)
    tops = [(*middle, level) for level in (92.9, 93.4, 93.2)]
    done = run(job, table(job, tops, GROUND))
    assert list(job.told(done, "cover").values()) == [("IN", "proven"), ("OUT", "proven"), ("UNDECIDED", "near-limit")]
    row = done["findings"].sort_values("measured").iloc[-1]
    assert row["measured"] == pytest.approx(7.3)
    assert row["u_random"] == pytest.approx(np.hypot(0.02, 0.02 / np.sqrt(3)))
    assert row["u_common"] == pytest.approx(0.03 * np.sqrt(2))
    assert row["label"] == "top at shot 101, below ground shots 104, 105, 106"
    keys = done["evidence"].query("finding == @row.finding")["key"].tolist()
    assert keys == ["day1/101", "day1/104", "day1/105", "day1/106"]


@pytest.mark.long
def test_nothing_is_extended_beyond_the_ground_shots(job):
    done = run(job, table(job, [(0, -5, 92.0), (0, 10, 92.0)], GROUND))
    assert job.told(done, "cover") == {"101": ("NO_DATA", "no-surface"), "102": ("IN", "proven")}
    far = run(job, table(job, [(0, 10, 92.0)], [(3 * e, 3 * n, z) for e, n, z in GROUND]))
    assert job.told(far, "cover") == {"101": ("NO_DATA", "no-surface")}


def surfaces(job, *names):
    east, north = job.origin
    points, faces = [], []
    for name, level in names:
        corners = [(-50, -50), (50, -50), (0, 80)]
        for number, (e, n) in enumerate(corners):
            place = {"easting": east + e, "northing": north + n, "elevation": level}
            points.append({"surface": name, "source": "tin", "point": number} | place)
        faces.append({"surface": name, "source": "tin", "first": 0, "second": 1, "third": 2})
    return {
        "surface_points": conform("surface_points", pd.DataFrame(points)),
        "surface_faces": conform("surface_faces", pd.DataFrame(faces)),
    }


def test_the_surface_of_the_design_comes_first(job):
    done = run(job, table(job, [(0, 10, 92.0)], GROUND), **surfaces(job, ("FG", 99.5)))
    row = done["findings"].iloc[0]
    assert row["measured"] == pytest.approx(7.5)
    assert row["label"].endswith("below surface FG of the design")
    assert row["u"] == pytest.approx(np.hypot(0.02, 0.03))


@pytest.mark.long
def test_of_several_surfaces_the_finished_one_is_asked_for(job):
    shots, two = table(job, [(0, 10, 92.0)], GROUND), surfaces(job, ("FG", 99.5), ("SG", 98.5))
    assert job.told(run(job, shots, **two), "cover") == {"101": ("NO_DATA", "which-surface")}
    assert run(job, shots, step=Cover(surface="FG"), **two)["findings"]["measured"].tolist() == pytest.approx([7.5])


@pytest.mark.long
def test_design_lines_only_where_the_job_names_them(job):
    lines = job.design({"L": ("lane-crown", -15.0, 0.0, 60.0, 100.0), "R": ("curb-flow", 15.0, 0.0, 60.0, 99.0)})
    shots = table(job, [(0, 30, 92.0)])
    assert job.told(run(job, shots, **lines), "cover") == {"101": ("NO_DATA", "no-surface")}
    done = run(job, shots, step=Cover(surface_kinds=("lane-crown", "curb-flow")), **lines)
    assert done["findings"]["measured"].tolist() == pytest.approx([7.5])
    assert done["findings"]["label"].iloc[0].endswith("below design lines L, R")


def test_a_locate_mark_feeds_no_verdict(job):
    codes = pd.DataFrame(
        [{"code": "WTP", "kind": "water-top", "geometry": "line", "role": "feature", "known_by": "mark"}]
    )
    done = run(job, table(job, [(0, 10, 99.9)], GROUND), codes=conform("codes", codes))
    assert job.told(done, "cover") == {"101": ("NO_DATA", "locate-mark")}


@pytest.mark.long
def test_a_kind_without_a_limit_is_not_judged(job):
    assert not len(run(job, table(job, [(0, 10, 92.0)], GROUND), ("storm-top", "cover", 7.0, np.inf))["findings"])


def test_a_line_without_a_surface_is_one_finding(job):
    """Five shots of W-1 and two of W-2 have no surface over them: a finding a line, and all shots its evidence."""
    rows = [(0.0, float(10 * n), 92.0) for n in range(7)]
    shots = table(job, rows).assign(line_id=pd.array(["W-1"] * 5 + ["W-2"] * 2, dtype="str"))
    done = run(job, shots)
    lost = done["findings"].set_index("subject")
    assert lost["label"].to_dict() == {"W-1": "5 shots", "W-2": "2 shots"}
    assert set(lost["why"]) == {"no-surface"}
    assert lost["shot"].isna().all()
    name = lost.loc["W-1", "finding"]
    keys = done["evidence"].pipe(lambda rows: rows[rows["finding"] == name])["key"].tolist()
    assert keys == [f"day1/{101 + n}" for n in range(5)]
