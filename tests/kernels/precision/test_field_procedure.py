import math

import numpy as np
import pytest

from geoqa.errors import GeometryInputError, JobError
from geoqa.kernels.precision.field_procedure import full_test, meets_stated, screen_sets

# own data, mm from each point's true value; the second point has the opposite signs
FIRST = np.array(
    [
        [[4, -2, 1, -3, 0], [-1, 3, -2, 2, -2], [8, -6, 2, -4, 0]],
        [[2, 5, -4, -1, -2], [4, -4, 1, 0, -1], [5, 5, -10, 3, -3]],
        [[-5, 3, 0, 4, -2], [-3, 2, 2, -1, 0], [-7, 9, -2, 4, -4]],
    ],
    float,
).transpose(0, 2, 1)
ERRORS = np.stack([FIRST, -FIRST], axis=2)
PLACES = np.array([[620_000_000.0, 135_000_000.0, 446_000.0], [620_008_000.0, 135_006_000.0, 446_250.0]])  # mm
KNOWN = {"distance": 10_000.0, "height_difference": 250.0}


def test_the_precision_of_thirty_shots():
    # own data; formulas from memory (ISO 17123-8), arithmetic recomputed
    found = full_test(PLACES + ERRORS)
    assert (found.s_e, found.s_n) == pytest.approx((3.09377255, 2.29906813), abs=1e-7)
    assert found.s_xy == pytest.approx(3.85449645, abs=1e-7)
    assert found.s_h == pytest.approx(5.69460898, abs=1e-7)
    assert (found.dof_xy, found.dof_h, found.complete) == (56, 28, True)
    assert np.nansum(found.residuals**2, axis=(0, 1, 2)) == pytest.approx([268, 148, 908])
    assert found.residuals == pytest.approx(ERRORS, abs=1e-6)


@pytest.mark.parametrize(
    ("sigma_xy", "sigma_h", "meets_xy", "meets_h", "limit_xy", "limit_h"),
    [(3.0, 4.5, False, False, 3.4595, 5.4677), (3.5, 5.0, True, True, 4.0361, 6.0752)],
)
def test_an_achieved_precision_is_held_against_the_stated_one(sigma_xy, sigma_h, meets_xy, meets_h, limit_xy, limit_h):
    # 1.153166 from chi-square 74.468324 with 56 and 1.215042 from 41.337138 with 28 degrees of freedom: any table
    found = meets_stated(full_test(ERRORS), sigma_xy=sigma_xy, sigma_h=sigma_h)
    assert (found.meets_xy, found.meets_h) == (meets_xy, meets_h)
    assert (found.high_xy, found.high_h) == pytest.approx((limit_xy, limit_h), abs=5e-5)


def test_the_decisions_are_wrong_as_often_as_alpha_says():
    draw = np.random.default_rng(8)
    sigma = np.array([3.0, 4.0, 5.0])
    campaigns = [full_test(sigma * draw.normal(size=(3, 5, 2, 3))) for _ in range(600)]
    heights = [meets_stated(each, sigma_xy=5.0, sigma_h=5.0).meets_h for each in campaigns]
    assert abs(np.mean(heights) - 0.95) < 0.03


def test_a_set_with_a_blunder_fails_the_simplified_test():
    # limits of 2.5 sqrt(2) s: formula from memory (ISO 17123-8); 35.355 and 70.711 mm by arithmetic
    series = (PLACES + ERRORS)[0]
    good = screen_sets(series, s_xy=10.0, s_h=20.0, **KNOWN)
    assert good.passed is True
    assert (good.limit_distance, good.limit_height) == pytest.approx((35.355339, 70.710678))
    assert good.height == pytest.approx(-2 * ERRORS[0, :, 0, 2])
    series[3, 1, 0] += 45.0  # 36 mm along the line of 3 to 4
    bad = screen_sets(series, s_xy=10.0, s_h=20.0, **KNOWN)
    assert bad.passed is False
    assert bad.suspect.tolist() == [False, False, False, True, False]


def test_a_missing_shot_costs_its_degree_of_freedom_and_the_name_of_the_test():
    gappy = ERRORS.copy()
    gappy[1, 2, 0, 2] = math.nan
    found = full_test(gappy)
    assert (found.dof_xy, found.dof_h, found.complete) == (56, 27, False)
    assert math.isnan(found.residuals[1, 2, 0, 2])
    assert screen_sets(PLACES + gappy, s_xy=10.0, s_h=20.0, **KNOWN).passed is None


def test_single_shots_tell_no_precision():
    found = full_test(ERRORS[:1, :1])
    assert math.isnan(found.s_xy)
    assert meets_stated(found, sigma_xy=1.0, sigma_h=1.0).meets_xy is None


def test_shots_in_another_layout_are_refused():
    with pytest.raises(GeometryInputError, match=r"sets, 2 points, 3 coordinates"):
        full_test(np.zeros((3, 5, 3, 2)))
    with pytest.raises(GeometryInputError, match="series, sets, 2 points"):
        full_test(np.zeros((5, 2, 3)))
    with pytest.raises(JobError, match="above 0"):
        screen_sets(ERRORS, s_xy=0.0, s_h=1.0, **KNOWN)
