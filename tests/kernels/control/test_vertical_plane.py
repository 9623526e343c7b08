"""A plane through elevation differences, against values worked by hand and an independent solution."""

import numpy as np
import pytest
from scipy import stats

from geoqa.errors import GeometryInputError
from geoqa.kernels.control.vertical_plane import fit_vertical_plane

EAST, NORTH = np.array([0.0, 100.0, 0.0, 100.0]), np.array([0.0, 0.0, 100.0, 100.0])


def test_an_exact_plane_far_from_the_origin_comes_back():
    e, n = EAST + 13_000_000.0, NORTH + 300_000.0
    found = fit_vertical_plane(e, n, 0.2 + 1e-3 * EAST - 2e-3 * NORTH)
    assert [found.slope_e, found.slope_n] == pytest.approx([1e-3, -2e-3])
    assert found.shift == pytest.approx(0.2 + 0.05 - 0.1)  # at the centre
    assert found.centre.tolist() == [13_000_050.0, 300_050.0]
    assert found.at(13_000_100.0, 300_000.0)[0] == pytest.approx(0.3)


def test_standard_errors_of_a_square_are_those_of_its_sides():
    # four corners 50 from the centre: u/2 for the shift, u/(2 × 50) for each slope
    found = fit_vertical_plane(EAST, NORTH, [1.0, 1.1, 1.0, 1.1], u=0.02)
    assert found.se.tolist() == pytest.approx([0.01, 0.0002, 0.0002])
    assert found.redundancy.tolist() == pytest.approx([0.25] * 4)
    assert found.dof == 1
    value, u = found.at(50.0, 50.0)
    assert [value, u] == pytest.approx([1.05, 0.01])
    assert found.at(100.0, 100.0)[1] == pytest.approx(0.02 * np.sqrt(3) / 2)


def test_a_misfit_of_one_corner_is_shared_out_by_redundancy():
    # 0.04 at one corner: each corner keeps a quarter, with signs that no plane can follow
    found = fit_vertical_plane(EAST, NORTH, [0.04, 0.0, 0.0, 0.0])
    assert found.residuals.tolist() == pytest.approx([-0.01, 0.01, 0.01, -0.01])
    assert found.sigma0 == pytest.approx(0.02)


def test_unequal_weights_agree_with_an_independent_solution():
    draw = np.random.default_rng(4)
    e, n, dz, u = draw.uniform(0, 500, 9), draw.uniform(0, 500, 9), draw.normal(0, 0.1, 9), draw.uniform(0.01, 0.05, 9)
    found = fit_vertical_plane(e, n, dz, u=u)
    design = np.column_stack([np.ones(9), e - e.mean(), n - n.mean()])
    expected = np.linalg.lstsq(design / u[:, None], dz / u, rcond=None)[0]
    assert [found.shift, found.slope_e, found.slope_n] == pytest.approx(expected.tolist())
    cov = np.linalg.inv(design.T @ np.diag(u**-2) @ design)
    assert found.covariance == pytest.approx(cov)
    slopes = expected[1:]
    assert found.p_level == pytest.approx(stats.chi2.sf(slopes @ np.linalg.inv(cov[1:, 1:]) @ slopes, 2))


def test_a_missing_difference_is_left_out_and_three_places_off_a_line_are_needed():
    found = fit_vertical_plane([*EAST, 50.0], [*NORTH, 50.0], [1.0, 1.1, 1.0, 1.1, np.nan])
    assert found.shift == pytest.approx(1.05)
    assert np.isnan(found.residuals[4])
    with pytest.raises(GeometryInputError):
        fit_vertical_plane([0.0, 50.0, 100.0], [0.0, 0.0, 0.0], [0.0, 0.0, 0.0])
    with pytest.raises(GeometryInputError, match="differ in length"):
        fit_vertical_plane([0.0], [0.0, 1.0], [0.0])
