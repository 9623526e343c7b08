import numpy as np
import pytest

from geoqa.errors import FrameError
from geoqa.frames.systems.factors import (
    combined_factor,
    convergence,
    elevation_factor,
    grid_to_ground,
    ground_to_grid,
    scale_factor,
)
from geoqa.frames.systems.geographic import from_geographic
from geoqa.frames.systems.resolve import resolve


def test_a_missing_position_or_height_gives_a_missing_factor():
    frame = resolve("EPSG:6547")
    factor = combined_factor(frame, [np.nan, 2228000.0, 2228000.0], [444000.0, 444000.0, 444000.0], [0.0, np.nan, 0.0])
    assert np.isnan(factor).tolist() == [True, True, False]
    assert np.isnan(convergence(frame, [np.nan], [1.0])).all()


def test_the_grid_turns_clockwise_east_of_the_central_meridian():
    # Compared with the azimuth of a short meridian step on the grid.
    frame = resolve("EPSG:6547")
    easting, northing = from_geographic(frame, [-99.46, -99.46], [46.885, 46.8851])
    true_north_on_grid = np.degrees(np.arctan2(np.diff(easting), np.diff(northing)))[0]
    assert convergence(frame, easting[:1], northing[:1])[0] == pytest.approx(-true_north_on_grid, abs=1e-5)
    assert convergence(frame, easting[:1], northing[:1])[0] > 0


def test_height_makes_the_ground_longer_than_the_ellipsoid():
    frame = resolve("EPSG:6547")
    factors = elevation_factor(frame, [2228000.0] * 3, [444000.0] * 3, [-100.0, 0.0, 1360.0])
    assert factors[0] > 1.0 == factors[1] > factors[2]
    # 20 900 000 ft is a radius of the earth to a part in a hundred
    assert factors[2] == pytest.approx(1 - 1360 / 20_900_000, abs=1e-6)


def test_a_projection_whose_scale_depends_on_the_direction_has_no_one_factor():
    easting, northing = from_geographic("EPSG:5070", [-99.46], [46.885])
    with pytest.raises(FrameError, match="not conformal"):
        scale_factor("EPSG:5070", easting, northing)


def test_ground_and_grid_agree_at_the_origin_and_undo_each_other():
    origin = (2228000.0, 444000.0)
    frame = resolve("EPSG:6547", combined_factor=0.99987061, ground_origin=origin)
    assert ground_to_grid(frame, [origin[0]], [origin[1]]) == (np.array([origin[0]]), np.array([origin[1]]))
    east, north = ground_to_grid(frame, [origin[0] + 1968.504], [origin[1]])
    # 600 m on the ground are 0.255 ft shorter on this grid
    assert origin[0] + 1968.504 - east[0] == pytest.approx(0.2547, abs=1e-4)
    back = grid_to_ground(frame, east, north)
    assert back[0][0] == pytest.approx(origin[0] + 1968.504, abs=1e-8)


def test_ground_without_a_factor_is_refused():
    with pytest.raises(FrameError, match="need combined_factor and ground_origin"):
        ground_to_grid(resolve("EPSG:6547"), [0.0], [0.0])
