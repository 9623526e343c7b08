"""The difference of two surfaces on a grid: planes, cells without a number, cells of two rounds on each other."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.surfaces.surface_difference import MOST_CELLS, SurfaceDifference, cell_side


def tables(job, corners, faces, *, layer, name):
    points = pd.DataFrame(np.array(corners, float), columns=["easting", "northing", "elevation"])
    points[["easting", "northing"]] += job.origin
    points = points.assign(
        surface=name, source="x", point=np.arange(len(points)), shot_key="a", other_key="a", share=0.0
    )
    table = pd.DataFrame(faces, columns=["first", "second", "third"]).assign(surface=name, source="x")
    points = points if layer else points.drop(columns=["shot_key", "other_key", "share"])
    return {
        f"{layer}surface_points": conform(f"{layer}surface_points", points),
        f"{layer}surface_faces": conform(f"{layer}surface_faces", table),
    }


def difference(job, built, design, **options):
    square = [[0, 1, 2], [0, 2, 3]]
    both = tables(job, built, square, layer="asbuilt_", name="as-built") | tables(
        job, design, options.pop("faces", square), layer="", name="FG"
    )
    return job.run(job.layers(**both), SurfaceDifference(**options))["surface_difference"]


BUILT = [(0, 0, 100.1), (20, 0, 100.3), (20, 10, 100.3), (0, 10, 100.1)]
DESIGN = [(5, -5, 100.0), (50, -5, 100.0), (50, 50, 100.0), (5, 50, 100.0)]


def test_planes_and_cells_that_only_one_surface_has(job):
    made = difference(job, BUILT, DESIGN)
    assert len(made) == 15 * 10  # from E = 5 on
    np.testing.assert_allclose(made["difference"], 0.1 + 0.01 * (made["easting"] - job.origin[0]), atol=1e-9)
    np.testing.assert_allclose(made["asbuilt"] - made["design"], made["difference"])
    first = made.sort_values(["row", "column"]).iloc[0]
    assert (first["row"], first["column"]) == (0, 5)
    assert first["northing"] == pytest.approx(job.origin[1] + 9.5)


def test_cells_of_two_rounds_lie_on_each_other(job):
    moved = [(east + 0.3, north + 0.6, high) for east, north, high in BUILT]
    one, other = difference(job, BUILT, DESIGN), difference(job, moved, DESIGN)
    assert len(set(one["easting"] % 1) | set(other["easting"] % 1)) == 1


def test_where_the_design_gives_two_answers_a_cell_has_none(job):
    design = [*DESIGN, (5, -5, 101), (12, -5, 101), (12, 50, 101)]
    made = difference(job, BUILT, design, faces=[[0, 1, 2], [0, 2, 3], [4, 5, 6]])
    assert 0 < len(made) < 150
    assert difference(job, BUILT, [(e + 100, n, h) for e, n, h in DESIGN]).empty


def test_cells_grow_where_there_would_be_too_many():
    side = cell_side(np.array([[0.0, 0.0], [40_000.0, 40_000.0]]), 1.0)
    assert side == 64
    assert (40_000 / side + 1) ** 2 <= MOST_CELLS
