"""Ground distances are told from grid distances where they can be, and held points are found."""

import numpy as np
import pytest

from geoqa.errors import FrameError
from geoqa.frames.readings.scaled_plan import scaled_plan
from geoqa.frames.systems.factors import combined_factor, distances
from geoqa.frames.systems.resolve import resolve

SITES = {
    "EPSG:6547": (2_228_500.0, 446_000.0),
    "EPSG:6559": (8_253_000.0, 687_000.0),
    "EPSG:6405": (553_000.0, 1_055_000.0),
}
HEIGHT = 1372.0


def site(code, seed=0, length=2000.0):
    draw = np.random.default_rng(seed)
    return np.array(SITES[code]) + np.column_stack([np.linspace(0, length, 8), draw.uniform(-40, 40, 8)])


@pytest.mark.parametrize("code", SITES)
@pytest.mark.parametrize("held", ["first", "origin", "elsewhere"])
def test_a_plan_scaled_about_any_point_is_found_with_that_point(code, held):
    frame, grid = resolve(code), site(code)
    about = {"first": grid[0], "origin": np.zeros(2), "elsewhere": grid.mean(axis=0) + np.array([300.0, -700.0])}[held]
    factor = float(combined_factor(frame, grid[:1, 0], grid[:1, 1], [HEIGHT])[0])
    plan = about + (grid - about) / factor + np.random.default_rng(1).normal(0, 0.005, grid.shape)
    found = scaled_plan(frame, grid, plan, ellipsoid_height=HEIGHT, u=0.005)
    assert found.answer == "ground"
    assert abs(found.ppm - (1 / factor - 1) * 1e6) < 4 * found.se_ppm
    far = np.hypot(*(np.array(found.held) - about))
    # the held point is only as sure as scale and rotation let it be, the farther away the less
    lever = np.hypot(*(about - grid.mean(axis=0))) * found.se_ppm / abs(found.ppm)
    assert far < 6 * np.hypot(found.held_se, lever)


def test_a_plan_on_the_grid_is_said_to_be_on_the_grid():
    grid = site("EPSG:6547")
    plan = grid + np.random.default_rng(2).normal(0, 0.005, grid.shape)
    found = scaled_plan(resolve("EPSG:6547"), grid, plan, ellipsoid_height=HEIGHT, u=0.005)
    assert (found.answer, found.held) == ("grid", None)


def test_a_short_site_cannot_prove_a_scale():
    grid = site("EPSG:6547", length=330.0)
    plan = grid[0] + (grid - grid[0]) * 1.0001294
    found = scaled_plan(resolve("EPSG:6547"), grid, plan, ellipsoid_height=HEIGHT, u=0.03)
    assert found.answer == "cannot tell"
    assert "ask the plan's notes" in found.reason


def test_a_scale_that_is_neither_is_said_to_be_neither():
    grid = site("EPSG:6547")
    found = scaled_plan(resolve("EPSG:6547"), grid, grid * 1.001, ellipsoid_height=HEIGHT, u=0.01)
    assert found.answer == "neither"


def test_two_points_tell_no_scale():
    grid = site("EPSG:6547")[:2]
    with pytest.raises(FrameError, match="at least three"):
        scaled_plan(resolve("EPSG:6547"), grid, grid, ellipsoid_height=HEIGHT)


def test_grid_distance_is_shorter_than_ground_by_the_combined_factor():
    # 600 m at -129.4 ppm is 0.255 ft: arithmetic of the combined factor 0.99987061
    frame = resolve("EPSG:6547")
    found = distances(frame, [[2_228_500.0, 446_000.0, HEIGHT]], [[2_230_468.5, 446_000.0, HEIGHT]])
    assert found.ground[0] - found.grid[0] == pytest.approx(0.255, abs=0.002)
    assert found.grid[0] / found.ground[0] == pytest.approx(found.factor[0], abs=1e-12)
    assert found.grid[0] < found.ellipsoid[0] < found.ground[0]


def test_a_missing_height_gives_no_ground_distance():
    found = distances(resolve("EPSG:6547"), [[2_228_500.0, 446_000.0, np.nan]], [[2_229_000.0, 446_000.0, HEIGHT]])
    assert found.grid[0] == 500.0
    assert np.isnan(found.ground[0])
