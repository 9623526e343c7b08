"""Circles and lines through points, against published fits and planted curves."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.linework.circle import bulge_through_ends, fit_circle, fit_line

SIX = np.array([[1, 7], [2, 6], [5, 8], [7, 7], [9, 5], [3, 7]], dtype=float)


def test_the_geometric_fit_of_six_points():
    # Gander, Golub & Strebel 1994, "Least-squares fitting of circles and ellipses", BIT 34: geometric fit
    fit = fit_circle(SIX)
    assert fit.centre == pytest.approx([4.739782, 2.983533], abs=5e-7)
    assert fit.radius == pytest.approx(4.714226, abs=5e-7)
    assert np.linalg.norm(fit.residual) == pytest.approx(1.107971, abs=5e-7)
    assert fit.error == pytest.approx(1.107971 / np.sqrt(3), abs=5e-7)


def test_it_is_neither_of_the_two_fits_of_the_equation():
    # the same six points: algebraic radius 3.037041, linear (Kasa) 4.108762; three methods, three radii
    radius = fit_circle(SIX).radius
    assert abs(radius - 3.037041) > 1
    assert abs(radius - 4.108762) > 0.5


@pytest.mark.parametrize("foot", [1.0, 1200 / 3937 / 0.3048])
def test_a_planted_circle_far_from_the_origin_of_its_grid(foot):
    at = np.radians([10, 25, 40, 62, 80])
    places = np.array([2_345_678.9, 567_890.1]) * foot + 25.0 * np.column_stack([np.cos(at), np.sin(at)])
    fit = fit_circle(places)
    assert fit.radius == pytest.approx(25.0, abs=1e-6)
    assert fit.residual == pytest.approx(np.zeros(5), abs=1e-7)


def test_three_points_fit_exactly_and_have_no_error():
    fit = fit_circle([[0, 1], [1, 0], [-1, 0]])
    assert fit.radius == pytest.approx(1.0)
    assert np.isnan(fit.error)


def test_points_on_a_straight_line_have_no_radius():
    assert np.isnan(fit_circle([[0, 0], [10, 5], [20, 10], [30, 15]]).radius)
    assert np.isnan(fit_circle([[4, 4]] * 3).radius)


def test_a_line_through_four_points():
    # Ghilani, Adjustment Computations, ch. 11: slope 0.246, intercept 3.663; residuals as computed minus observed
    fit = fit_line([3, 4.25, 5.5, 8], [4.5, 4.25, 5.5, 5.5])
    assert (fit.slope, fit.level, fit.error) == pytest.approx((0.245714, 3.662857, 0.485504), abs=5e-7)
    assert -fit.residual == pytest.approx([-0.1000, 0.4571, -0.4857, 0.1286], abs=5e-5)


def test_no_line_through_one_place_or_one_number():
    for x, y in (([1, 1], [0, 2]), ([1], [2]), ([1, np.nan], [1, 2])):
        with pytest.raises(GeometryInputError):
            fit_line(x, y)


@pytest.mark.parametrize("turn", [-300, -170, -90, -3, 3, 90, 179, 250])
def test_an_arc_through_its_ends_finds_the_planted_bulge(turn):
    at = np.radians(np.linspace(30, 30 + turn, 7))
    places = 40.0 * np.column_stack([np.cos(at), np.sin(at)])
    assert bulge_through_ends(places) == pytest.approx(np.tan(np.radians(turn) / 4), rel=1e-6)


def test_an_arc_among_noisy_shots_is_the_best_of_those_through_its_ends():
    rng = np.random.default_rng(5)
    at = np.radians(np.linspace(0, 100, 9))
    places = 30.0 * np.column_stack([np.cos(at), np.sin(at)]) + rng.normal(0, 0.05, (9, 2))
    bulge = bulge_through_ends(places)

    def size(trial):
        chord = places[-1] - places[0]
        centre = places[0] + chord / 2 + np.array([-chord[1], chord[0]]) * (1 - trial**2) / (4 * trial)
        return ((np.hypot(*(places - centre).T) - np.hypot(*(places[0] - centre))) ** 2).sum()

    assert size(bulge) < min(size(bulge + 1e-4), size(bulge - 1e-4))


def test_straight_shots_and_ends_at_one_place():
    assert bulge_through_ends([[0, 0], [5, 0], [10, 0]]) == 0.0
    assert np.isnan(bulge_through_ends([[0, 0], [5, 5], [0, 0]]))
    with pytest.raises(GeometryInputError):
        bulge_through_ends([[0, 0], [1, 1]])
