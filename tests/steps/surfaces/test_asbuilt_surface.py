"""The surface of shots: what is part of it, its breaklines and its honest edges."""

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.surface_sentences import asbuilt_surface
from geoqa.kernels.design.tin_elevation import tin_elevation
from geoqa.model.tables.columns import conform
from geoqa.model.tables.fact import facts_of
from geoqa.steps.surfaces.asbuilt_surface import AsbuiltSurface


def walk(east, line, *, rise=0.02):
    """Both edges of a walk 5 ft wide, a shot every 25 ft."""
    return [
        {"offset": east + side, "station": at, "elevation": 100 + rise * side + 0.01 * at, "line_id": f"{line}{side}"}
        for side in (0.0, 5.0)
        for at in np.arange(0, 101, 25.0)
    ]


def surface(job, rows, step=None, **columns):
    prepared = job.prepared(job.shots(rows), **({"kind": "walk"} | columns))
    layers = job.layers(shots=prepared, limits=job.limits(("walk", "surface", -0.1, 0.1)))
    return job.run(layers, step or AsbuiltSurface())


def arrays(done):
    points = done["asbuilt_surface_points"][["easting", "northing", "elevation"]].to_numpy(float)
    return points, done["asbuilt_surface_faces"][["first", "second", "third"]].to_numpy()


def area(points, faces):
    a, b, c = (points[faces[:, corner], :2] for corner in range(3))
    return float(np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]).sum() / 2)


def test_two_walks_and_no_face_across_the_street(job):
    done = surface(job, [*walk(0, "L"), *walk(47, "R")])
    points, faces = arrays(done)
    assert area(points, faces) == pytest.approx(2 * 5 * 100)
    found, _, _ = tin_elevation(points, faces, [job.origin[0] + 2.5], [job.origin[1] + 60])
    assert found[0] == pytest.approx(100 + 0.05 + 0.6)
    keys = done["asbuilt_surface_points"]["shot_key"]
    assert set(keys) == set(done["shots"]["shot_key"])
    assert asbuilt_surface(facts_of(done["notes"], "note")[0], "ft") == (
        "As-built surface: 16 faces from 20 shots and 16 breaklines; faces with an edge over 30.0 ft are left out."
    )


def test_what_is_not_in_use_or_under_a_blunder_is_no_part_and_is_counted(job):
    rows = walk(0, "L")
    twin = {**rows[0], "shot": "999", "offset": rows[0]["offset"] + 0.02}
    use = [True] * len(rows) + [True]
    use[3] = False
    row = {"cause": "rod-height", "subject": "A", "holds": True, "sure": True, "shot_key": "day1/108"}
    row |= {"shift_easting": 0.0, "shift_northing": 0.0, "shift_elevation": 0.6, "u_easting": 0.0, "u_northing": 0.0}
    causes = conform("cause_shots", pd.DataFrame([row | {"u_elevation": 0.01}]))
    prepared = job.prepared(job.shots([*rows, twin]), kind="walk", use=use)
    layers = job.layers(shots=prepared, limits=job.limits(("walk", "surface", -0.1, 0.1)), cause_shots=causes)
    done = job.run(layers, AsbuiltSurface())
    assert not {"day1/104", "day1/108", "day1/999"} & set(done["asbuilt_surface_points"]["shot_key"])
    told = asbuilt_surface(facts_of(done["notes"], "note")[0], "ft")
    assert "from 8 of 11 shots" in told
    assert told.endswith(
        "Not taken: 1 shot lies at the place of another one; 2 shots are not in use or wait for a blunder."
    )


def test_a_breakline_is_an_edge_whatever_lies_beside_it(job):
    # a ridge of long legs, with shots close to its middle on either side
    ridge = [{"offset": 0.0, "station": at, "elevation": 101.0, "line_id": "R"} for at in (0.0, 28.0, 56.0)]
    side = [{"offset": east, "station": at, "elevation": 100.0} for east in (-3.0, 3.0) for at in (0, 14, 28, 42, 56.0)]
    done = surface(job, [*ridge, *side])
    points, faces = arrays(done)
    at = np.linspace(1, 55, 40)
    found, _, _ = tin_elevation(points, faces, np.full(40, job.origin[0]), job.origin[1] + at)
    np.testing.assert_allclose(found, 101.0, atol=1e-9)
    made = done["asbuilt_surface_points"]
    put_in = made[made["share"] > 0]
    assert len(put_in)
    assert set(put_in["shot_key"]) | set(put_in["other_key"]) == {"day1/101", "day1/102", "day1/103"}


def test_kinds_are_those_of_the_step_or_those_with_a_tolerance_and_without_any_there_is_none(job):
    rows = walk(0, "L")
    assert len(surface(job, rows, kind="curb-top")["asbuilt_surface_faces"]) == 0
    named = AsbuiltSurface(kinds=("curb-top",))
    assert len(surface(job, rows, named, kind="curb-top")["asbuilt_surface_faces"]) == 8
    assert named.only_with == ()
    assert AsbuiltSurface().only_with == ("surface_points",)


def test_two_shots_make_none(job):
    done = surface(job, walk(0, "L")[:2])
    assert len(done["asbuilt_surface_points"]) == 0
    assert facts_of(done["notes"], "note")[0].number == 0
