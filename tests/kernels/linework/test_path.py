"""Lines through shots, with planted curves."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.element_making import from_bulges
from geoqa.kernels.linework.path import path_through


def bend(radius, start, end, count, noise=0.0, seed=0):
    at = np.radians(np.linspace(start, end, count))
    away = np.random.default_rng(seed).normal(0, noise, (count, 2)) if noise else 0.0
    return radius * np.column_stack([np.cos(at), np.sin(at)]) + away


def elements(path):
    return from_bulges(path.vertices, path.bulge, np.zeros(len(path.vertices), int))


def test_straight_shots_are_the_vertices():
    places = np.array([[0, 0], [10, 0], [10, 10.0]])
    path = path_through(places, [False] * 3)
    assert path.vertices.tolist() == places.tolist()
    assert not path.bulge.any()
    assert not path.off.any()


@pytest.mark.parametrize(("start", "end", "sense"), [(0, 90, -1), (90, 0, 1), (10, 250, -1)])
def test_a_planted_curve_becomes_arcs_of_one_circle(start, end, sense):
    arc = elements(path_through(bend(25.0, start, end, 6), [True] * 6))
    assert arc.radius == pytest.approx(np.full(5, 25.0), rel=1e-9)
    assert arc.centre == pytest.approx(np.zeros((5, 2)), abs=1e-6)
    assert arc.sense.tolist() == [sense] * 5
    assert arc.length.sum() == pytest.approx(25.0 * np.radians(abs(end - start)))


def test_noise_shows_as_fit_error_and_the_ends_stay_on_their_shots():
    places = bend(60.0, 0, 120, 40, noise=0.05, seed=3)
    path = path_through(places, [True] * 40)
    assert path.vertices[[0, -1]].tolist() == places[[0, -1]].tolist()
    assert path.fits[0].error == pytest.approx(0.05, rel=0.3)
    assert path.fits[0].radius == pytest.approx(60.0, abs=0.1)
    assert 0.01 < np.sqrt((path.off**2).mean()) < 0.1
    elements(path)  # they join


def test_two_shots_make_no_curve_and_neither_do_shots_in_no_order():
    assert path_through([[0, 0], [9, 1], [20, 0]], [True, True, False]).refused == ((0, 2),)
    places = bend(25.0, 0, 90, 5)[[0, 3, 1, 2, 4]]
    path = path_through(places, [True] * 5)
    assert path.refused == ((0, 5),)
    assert not path.bulge.any()
    assert path.vertices.tolist() == places.tolist()
    assert path_through([[0, 0], [5, 0], [10, 0]], [True] * 3).refused == ((0, 3),)


def test_a_circle_that_closes_is_whole():
    path = path_through(bend(8.0, 0, 315, 8), [True] * 8, closed=True)
    arc = elements(path)
    assert arc.length.sum() == pytest.approx(2 * np.pi * 8.0)
    assert path.vertices[0].tolist() == path.vertices[-1].tolist()


def test_two_curves_with_a_shot_between_them():
    other = bend(10.0, 180, 90, 4) + np.array([20.0, 30.0])
    places = np.vstack([bend(10.0, -90, 0, 4), [[10.0, 15.0]], other])
    path = path_through(places, [True] * 4 + [False] + [True] * 4)
    assert path.curve.tolist() == [0, 0, 0, -1, -1, 1, 1, 1, -1]
    assert elements(path).sense.tolist() == [-1, -1, -1, 0, 0, 1, 1, 1]


def test_arrays_that_do_not_fit_are_refused():
    with pytest.raises(GeometryInputError):
        path_through([[0, 0], [1, np.nan]], [False, False])
    with pytest.raises(GeometryInputError):
        path_through([[0, 0], [1, 1]], [False])
