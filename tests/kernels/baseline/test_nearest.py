"""Station and offset beside a centre line: closed forms, published points, and places made by another integration."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import fresnel

from geoqa.kernels.baseline.course import Course, joints, place, shift
from geoqa.kernels.baseline.nearest import Standing, station_offset

FAR = np.array([13_123_359.0, 1_480_000.0])


def course(*pieces, start=1000.0, azimuth=0.7, at=(0.0, 0.0)):
    """Pieces (length, curvature at start, at end), each from the end of the one before, by integrating direction."""
    rows, station, east, north = [], start, *at
    for length, first, last in pieces:
        rows.append((east, north, azimuth, length, first, last, station, length))
        solved = walked(azimuth, length, first, last)
        east, north, azimuth, station = east + solved[0], north + solved[1], solved[2], station + length
    names = ("easting", "northing", "azimuth", "length", "start_curvature", "end_curvature", "station", "stationed")
    return Course(**dict(zip(names, np.array(rows).T, strict=True)))


def walked(azimuth, length, first, last):
    """End of a piece by a general integrator of its curvature."""

    def ahead(s, state):
        return [np.sin(state[2]), np.cos(state[2]), first + (last - first) * s / length]

    return solve_ivp(ahead, (0.0, length), [0.0, 0.0, azimuth], method="DOP853", rtol=1e-13, atol=1e-11).y[:, -1]


COMPOUND = [(300.0, 0, 0), (200.0, 0, 1 / 500), (350.0, 1 / 500, 1 / 500), (90.0, 1 / 500, 1 / 250),
            (180.0, 1 / 250, 1 / 250), (150.0, 1 / 250, 0), (120.0, 0, -1 / 400), (260.0, -1 / 400, -1 / 400),
            (200.0, -1 / 400, 0), (77.0, 0, 0)]  # fmt: skip
"""Straight, spiral in, right curve, a spiral between two curves, spiral out into a reverse spiral, left curve."""


@pytest.mark.parametrize("at", [(0.0, 0.0), tuple(FAR)])
def test_points_made_from_station_and_offset_come_back(at):
    line = course(*COMPOUND, at=at)
    rng = np.random.default_rng(3)
    station, offset = rng.uniform(1000.5, line.end_station - 0.5, 3000), rng.uniform(-90, 90, 3000)
    found = station_offset(line, *place(line, station, offset)[:2])
    assert (found.standing == Standing.FOUND).all()
    # a coordinate of 1.3e7 carries 2e-9; beside a curve of 250 the station moves up to 1.6 times as fast
    assert np.abs(found.station - station).max() < 1e-8
    assert np.abs(found.offset - offset).max() < 1e-8


def test_spiral_is_the_published_integral():
    """Clothoid of Fresnel: x = a sqrt(pi) C(s / (a sqrt(pi))), a² = R L."""
    length, radius = 400.0, -350.0
    spiral = course((length, 0.0, 1 / radius), azimuth=0.0)
    s = np.linspace(0.0, length, 41)
    scale = np.sqrt(np.pi * abs(radius) * length)
    sine, cosine = fresnel(s / scale)
    east, north, _ = shift(spiral, np.zeros(41, dtype=int), s)
    np.testing.assert_allclose(north, scale * cosine, atol=1e-11)
    np.testing.assert_allclose(east, -scale * sine, atol=1e-11)


@pytest.mark.parametrize("turn", [0.1, 3.0, 2 * np.pi])
def test_long_spirals_agree_with_a_general_integrator(turn):
    length = 500.0
    spiral = course((length, 0.0, 2 * turn / length))
    east, north, _ = shift(spiral, np.array([0]), np.array([length]))
    np.testing.assert_allclose([east[0], north[0]], walked(0.7, length, 0.0, 2 * turn / length)[:2], atol=1e-8)


def test_published_arc():
    """PC 10+00 at (1000, 1000) heading east, right curve R 200: 11+57.0796, 10 left."""
    line = course((100 * np.pi, 1 / 200, 1 / 200), azimuth=np.pi / 2, at=(1000.0, 1000.0))
    found = station_offset(line, [1148.492424], [948.492424])
    assert found.station[0] == pytest.approx(1157.0796, abs=1e-4)
    assert found.offset[0] == pytest.approx(-10, abs=1e-6)


def test_nearest_is_no_farther_than_any_of_many_places():
    line = course(*COMPOUND)
    rng = np.random.default_rng(8)
    everywhere = np.column_stack(place(line, np.linspace(1000, line.end_station, 40_001))[:2])
    middle = everywhere.mean(axis=0)
    points = middle + rng.uniform(-900, 900, (300, 2))
    found = station_offset(line, *points.T, margin=1e-9, centre=0.0)
    for point, offset, standing in zip(points, found.offset, found.standing, strict=True):
        least = np.hypot(*(everywhere - point).T).min()
        if standing == Standing.FOUND:
            assert abs(offset) == pytest.approx(least, abs=2e-3)
    assert (found.standing == Standing.FOUND).mean() > 0.5


def test_beyond_the_ends_and_nowhere():
    line = course((100.0, 0, 0), azimuth=0.0)
    found = station_offset(line, [3, 3, 3, np.nan, 0.0], [-0.01, 100.01, 100.0, 5.0, 0.0])
    assert found.standing.tolist() == [1, 2, 0, 4, 0]
    assert found.station[[2, 4]].tolist() == [1100.0, 1000.0]
    assert np.isnan(found.station[[0, 1, 3]]).all()


def test_ambiguous_between_two_legs_and_at_a_centre():
    bend = course((200.0, 0, 0), (50 * np.pi, 1 / 50, 1 / 50), (200.0, 0, 0), azimuth=0.0)  # a hairpin
    points = np.array([[50.0, 100.0], [40.0, 100.0], [50.0, 200.0], [49.5, 200.5]])
    assert station_offset(bend, *points.T).standing.tolist() == [3, 0, 3, 3]


def test_a_joint_is_no_second_place():
    line = course(*COMPOUND)
    for joint in line.station[1:]:
        station = joint + np.array([-2.0, -1e-9, 0.0, 1e-9, 2.0])
        for offset in (-60.0, 60.0):
            found = station_offset(line, *place(line, station, offset)[:2])
            assert (found.standing == Standing.FOUND).all()
            np.testing.assert_allclose(found.station, station, atol=1e-8)


def test_angle_points_have_a_side_and_a_station():
    bend = course((100.0, 0, 0), azimuth=0.0)
    both = Course(
        easting=[0, 0], northing=[0, 100], azimuth=[0, np.pi / 6], length=[100, 100], start_curvature=[0, 0],
        end_curvature=[0, 0], station=[0, 100], stationed=[100, 100],
    )  # fmt: skip
    found = station_offset(both, [-3.0], [101.0])  # in the wedge outside the angle
    assert found.station[0] == 100.0
    assert found.offset[0] == pytest.approx(-np.hypot(3, 1))
    assert joints(both).kink.round(6).tolist() == [30.0]
    assert len(joints(bend).gap) == 0


def test_ground_stations_grow_by_their_own_length():
    ground = Course(easting=[0], northing=[0], azimuth=[0], length=[999.9], start_curvature=[0], end_curvature=[0],
                    station=[1000], stationed=[1000])  # fmt: skip
    found = station_offset(ground, [5.0], [499.95])
    assert found.station[0] == pytest.approx(1500.0)
    assert place(ground, [1500.0])[1][0] == pytest.approx(499.95)
