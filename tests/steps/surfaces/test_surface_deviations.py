"""Shots against a design surface whose elevations are known by hand: z = 100 + 0.01 E + 0.02 N on the plain."""

import numpy as np
import pandas as pd
import pytest

from geoqa.errors import StepError
from geoqa.model.tables.columns import conform
from geoqa.steps.surfaces.surface_deviations import SurfaceDeviations

WIDE = [(-200.0, -200.0), (200.0, -200.0), (200.0, 200.0), (-200.0, 200.0)]


def plain(east, north):
    return 100 + 0.01 * east + 0.02 * north


def surface(job, corners, faces, *, name="FG", source="design"):
    points = np.array(
        [[east, north, plain(east, north) if len(rest) == 0 else rest[0]] for east, north, *rest in corners]
    )
    points[:, :2] += job.origin
    table = pd.DataFrame(points, columns=["easting", "northing", "elevation"])
    table = table.assign(surface=name, source=source, point=np.arange(len(points)))
    corner = pd.DataFrame(faces, columns=["first", "second", "third"]).assign(surface=name, source=source)
    return {"surface_points": conform("surface_points", table), "surface_faces": conform("surface_faces", corner)}


def two(job):
    return surface(job, WIDE, [[0, 1, 2], [0, 2, 3]])


def judged(job, rows, tables, *, limit=(-0.10, 0.10), step=None, **columns):
    prepared = job.prepared(job.shots(rows), kind="ground", **columns)
    layers = job.layers(shots=prepared, limits=job.limits(("ground", "surface", *limit)), **tables)
    return job.run(layers, step or SurfaceDeviations())


def at(east, north, off):
    return {"offset": east, "station": north, "elevation": plain(east, north) + off}


def test_in_out_undecided_and_no_data(job):
    rows = [at(10, 20, 0.03), at(50, 25, 0.25), at(-30, 7, 0.10), at(10, 20, 0.0) | {"elevation": np.nan}]
    done = judged(job, rows, two(job))
    told = job.told(done, "surface")
    assert [told[name][0] for name in ("101", "102", "103", "104")] == ["IN", "OUT", "UNDECIDED", "NO_DATA"]
    assert told["104"][1] == "no-elevation"
    found = done["findings"].set_index("label")
    assert found.loc["shot 102", "deviation"] == pytest.approx(0.25)
    assert found.loc["shot 102", "design"] == pytest.approx(101.0)
    assert found.loc["shot 102", "subject"] == "FG"
    assert found.loc["shot 102", "p_conform"] == pytest.approx(job.chance(0.25, found.loc["shot 102", "u"], -0.1, 0.1))


def test_the_uncertainty_holds_the_grade_times_that_of_the_plan(job):
    done = judged(job, [at(10, 20, 0.0)], two(job), u_h_random=3.0, u_h_common=4.0)
    row = done["findings"].iloc[0]
    grade = np.hypot(0.01, 0.02)
    assert row["u_random"] == pytest.approx(np.hypot(0.02, grade * 3.0), rel=1e-6)
    assert row["u_common"] == pytest.approx(np.hypot(0.02, grade * 4.0), rel=1e-6)


def test_a_step_within_reach_of_the_plan_uncertainty_widens_the_number(job):
    corners = [(-200, -200, 100.0), (0, -200, 100.0), (0, 200, 100.0), (-200, 200, 100.0)]
    corners += [(0.01, -200, 100.5), (200, -200, 100.5), (200, 200, 100.5), (0.01, 200, 100.5)]
    faces = [[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7], [1, 4, 7], [1, 7, 2]]
    rows = [{"offset": -0.02, "elevation": 100.5}, {"offset": -1.0, "elevation": 100.5}]
    done = judged(job, rows, surface(job, corners, faces))
    assert job.told(done, "surface") == {"101": ("UNDECIDED", "u-too-large"), "102": ("OUT", "proven")}
    assert done["findings"]["u"].iloc[0] == pytest.approx(0.25, abs=0.01)


def test_off_the_surface_in_a_hole_and_no_surface_each_say_so(job):
    corners = [*WIDE, (-50.0, -50.0), (50.0, -50.0), (50.0, 50.0), (-50.0, 50.0)]
    ring = [face for a in range(4) for face in ([a, (a + 1) % 4, 4 + a], [4 + a, (a + 1) % 4, 4 + (a + 1) % 4])]
    rows = [at(0, 0, 0.0), at(500, 0, 0.0), at(100, 0, 0.0)]
    done = judged(job, rows, surface(job, corners, ring))
    assert job.told(done, "surface") == {
        "101": ("NO_DATA", "surface-hole"), "102": ("NO_DATA", "off-surface"), "103": ("IN", "proven"),
    }  # fmt: skip
    assert done["findings"]["remedy"].notna().iloc[:2].all()
    assert set(job.told(judged(job, rows, {}), "surface").values()) == {("NO_DATA", "no-surface")}


def test_faces_over_each_other_are_judged_only_by_what_both_say(job):
    corners = [*WIDE, *((east, north, plain(east, north) + 0.4) for east, north in WIDE[:3])]
    tables = surface(job, corners, [[0, 1, 2], [0, 2, 3], [4, 5, 6]])
    rows = [at(100, -100, 0.0), at(100, -100, 0.9), at(-100, 100, 0.0)]
    done = judged(job, rows, tables)
    assert job.told(done, "surface") == {
        "101": ("UNDECIDED", "overlapping-faces"), "102": ("OUT", "proven"), "103": ("IN", "proven"),
    }  # fmt: skip
    causes = done["findings"]["cause"]
    assert causes.iloc[0] == "the first of the faces here is taken, at 99.000 ft; another lies at 99.400 ft"
    assert causes.iloc[1] == causes.iloc[0]
    assert pd.isna(causes.iloc[2])


def test_of_several_surfaces_the_job_names_the_design(job):
    one, other = two(job), surface(job, [(e, n, 90.0) for e, n in WIDE], [[0, 1, 2], [0, 2, 3]], name="EG")
    both = {name: pd.concat([one[name], other[name]], ignore_index=True) for name in one}
    assert job.told(judged(job, [at(1, 2, 0.0)], both), "surface") == {"101": ("NO_DATA", "several-surfaces")}
    done = judged(job, [at(1, 2, 0.0)], both, step=SurfaceDeviations(surface="FG"))
    assert job.told(done, "surface") == {"101": ("IN", "proven")}
    with pytest.raises(StepError, match="no surface 'XX' was read; read were: EG and FG"):
        judged(job, [at(1, 2, 0.0)], both, step=SurfaceDeviations(surface="XX"))


def test_walls_are_ignored(job):
    corners = [*WIDE, (-200.0, -200.0, 300.0)]
    done = judged(job, [at(-200, -200, 0.0)], surface(job, corners, [[4, 0, 1], [0, 1, 2], [0, 2, 3], [0, 4, 2]]))
    assert done["findings"]["deviation"].iloc[0] == pytest.approx(0.0, abs=1e-6)


def caused(shift_easting, shift_elevation):
    row = {"cause": "rod-height", "subject": "A", "holds": True, "sure": True, "shot_key": "day1/101"}
    row |= {"shift_easting": shift_easting, "shift_northing": 0.0, "shift_elevation": shift_elevation}
    return conform("cause_shots", pd.DataFrame([row | {"u_easting": 0.0, "u_northing": 0.0, "u_elevation": 0.01}]))


def test_a_number_under_a_blunder_waits_unless_it_is_out_both_ways(job):
    waits = judged(job, [at(10, 20, 0.656)], two(job) | {"cause_shots": caused(0.0, 0.656)})
    assert job.told(waits, "surface") == {"101": ("NO_DATA", "open-blunder")}
    out = judged(job, [at(10, 20, 1.656)], two(job) | {"cause_shots": caused(0.0, 0.656)})
    assert job.told(out, "surface") == {"101": ("OUT", "out-both-ways")}
    beside = judged(job, [at(210, 20, 0.0)], two(job) | {"cause_shots": caused(50.0, 0.0)})
    assert job.told(beside, "surface") == {"101": ("NO_DATA", "open-blunder")}


def test_a_kind_without_the_tolerance_is_not_asked(job):
    prepared = job.prepared(job.shots([at(1, 2, 0.0)]))
    layers = job.layers(shots=prepared, limits=job.limits(("ground", "surface", -0.1, 0.1)), **two(job))
    assert len(job.run(layers, SurfaceDeviations())["findings"]) == 0
