"""Few cells for a look at the whole job: the raster's own numbers, bounded whatever the size of the job."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.surfaces.surface_difference import SurfaceDifference
from geoqa.steps.surfaces.surface_picture import MOST_CELLS, SurfacePicture

SQUARE = [[0, 1, 2], [0, 2, 3]]


def tables(job, corners, *, layer, name):
    points = pd.DataFrame(np.array(corners, float), columns=["easting", "northing", "elevation"])
    points[["easting", "northing"]] += job.origin
    points = points.assign(surface=name, source="x", point=np.arange(4), shot_key="a", other_key="a", share=0.0)
    points = points if layer else points.drop(columns=["shot_key", "other_key", "share"])
    faces = pd.DataFrame(SQUARE, columns=["first", "second", "third"]).assign(surface=name, source="x")
    return {f"{layer}surface_points": conform(f"{layer}surface_points", points),
            f"{layer}surface_faces": conform(f"{layer}surface_faces", faces)}  # fmt: skip


def both(job, size):
    plane = [(0, 0, 100.0), (size, 0, 100.0), (size, size, 100.0), (0, size, 100.0)]
    high = [(east, north, 100.3 + 0.001 * east / size) for east, north, _ in plane]
    return job.layers(**tables(job, high, layer="asbuilt_", name="as-built"), **tables(job, plane, layer="", name="FG"))


def test_small_jobs_have_the_cells_of_the_raster(job):
    layers = both(job, 20)
    few = job.run(layers, SurfacePicture())["surface_picture"]
    whole = job.run(layers, SurfaceDifference())["surface_difference"]
    assert len(few) == 400
    pd.testing.assert_frame_equal(pd.DataFrame(few), pd.DataFrame(whole[few.columns]))


@pytest.mark.parametrize("size", [300, 5000, 40_000])
def test_a_job_of_any_size_has_no_more_cells_than_a_map_carries(job, size):
    made = job.run(both(job, size), SurfacePicture())["surface_picture"]
    assert 0 < len(made) <= MOST_CELLS
    np.testing.assert_allclose(made["difference"], 0.3 + 0.001 * (made["easting"] - job.origin[0]) / size, atol=1e-6)


def test_without_an_as_built_surface_there_is_no_picture(job):
    layers = job.layers(**tables(job, [(0, 0, 1), (9, 0, 1), (9, 9, 1), (0, 9, 1)], layer="", name="FG"))
    assert job.run(layers, SurfacePicture())["surface_picture"].empty
