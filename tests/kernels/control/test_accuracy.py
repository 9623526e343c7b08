import math

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.control.accuracy import asprs, nssda, radius_95
from geoqa.kernels.control.check_points import checkpoints, point_spread

# own data, ft: ten rows, each used twice
E = np.tile([0.02, -0.01, 0.03, -0.02, 0.01, -0.03, 0.02, 0.00, -0.01, 0.01], 2)
N = np.tile([0.01, 0.02, -0.02, 0.01, -0.01, 0.03, -0.03, 0.02, -0.02, -0.01], 2)
Z = np.tile([0.03, -0.02, 0.01, 0.04, -0.03, 0.00, 0.02, -0.04, -0.02, 0.01], 2)
# five ground control residuals, m
FIVE = np.array(
    [
        [-0.140, -0.070, -0.071],
        [-0.100, -0.100, 0.010],
        [0.017, -0.070, 0.102],
        [-0.070, 0.150, -0.100],
        [0.130, 0.120, 0.087],
    ]
).T


def with_rmse(easting, northing, count=20):
    sign = np.tile([1.0, -1.0], count // 2)
    return nssda(easting * sign, northing * sign, 0.05 * sign)


def test_twenty_points_are_stated_by_the_standard_s_own_factors():
    # own data; formulas of FGDC-STD-007.3-1998, seen in a third party's copy
    found = nssda(E, N, Z)
    assert found.allowed
    assert (found.points_h, found.points_v) == (20, 20)
    assert (found.rmse_e, found.rmse_n, found.rmse_z) == pytest.approx(
        (0.018439089, 0.019493589, 0.025298221), abs=1e-9
    )
    assert found.ratio == pytest.approx(0.945905, abs=1e-6)
    assert found.rmse_r == pytest.approx(0.026832816, abs=1e-9)
    assert found.accuracy_h_equal == pytest.approx(0.046442237, abs=1e-9)
    assert found.accuracy_h == pytest.approx(0.046423907, abs=1e-9)
    assert found.accuracy_v == pytest.approx(0.049584514, abs=1e-9)
    assert (found.mean_e, found.mean_n, found.mean_z) == pytest.approx((0.002, 0.0, 0.0), abs=1e-12)


def test_nineteen_points_are_refused_but_described():
    found = nssda(E[:19], N[:19], Z[:19])
    assert not found.allowed
    assert math.isnan(found.accuracy_h)
    assert math.isnan(found.accuracy_v)
    assert found.reasons == ("19 horizontal check points; 20 are needed", "19 vertical check points; 20 are needed")
    assert found.rmse_r > 0
    assert found.exact_h > 0


def test_a_missing_elevation_is_left_out_of_the_heights_alone():
    gappy = Z.copy()
    gappy[4] = math.nan
    found = nssda(E, N, gappy)
    assert (found.allowed_h, found.allowed_v, found.allowed) == (True, False, False)
    assert (found.points_h, found.points_v) == (20, 19)
    assert found.accuracy_h == nssda(E, N, Z).accuracy_h


@pytest.mark.parametrize(
    ("easting", "northing", "stated", "exact"),
    [(0.10, 0.10, 0.244772, 0.244775), (0.10, 0.08, 0.220293, 0.223029), (0.10, 0.06, 0.195816, 0.208130)],
)
def test_unequal_axes_are_averaged_and_the_exact_radius_stands_beside(easting, northing, stated, exact):
    # own arithmetic; formula of FGDC-STD-007.3-1998 3-A.1, seen in a third party's copy. The standard prints
    # 1.7308 RMSEr for equal axes (0.244772) and 2.4477 times their mean otherwise.
    found = with_rmse(easting, northing)
    assert found.accuracy_h == pytest.approx(stated, abs=1e-6)
    assert found.exact_h == pytest.approx(exact, abs=1e-6)


def test_axes_that_differ_by_more_than_the_standard_covers_are_refused():
    found = with_rmse(0.10, 0.059)
    assert not found.allowed_h
    assert found.allowed_v
    assert math.isnan(found.accuracy_h)
    assert "ratio 0.59" in found.reasons[0]
    assert with_rmse(0.059, 0.10).ratio == found.ratio


def test_the_exact_radius_holds_95_percent():
    # exact factors: sqrt(-2 ln 0.05) for equal axes, the normal quantile for one axis alone
    assert radius_95(1, 1) == pytest.approx(math.sqrt(-2 * math.log(0.05)), abs=1e-12)
    assert radius_95(0, 2) == pytest.approx(2 * 1.9599639845, abs=1e-9)
    errors = np.random.default_rng(2).normal(size=(2, 400_000))
    for ratio in (0.01, 0.03, 0.3, 0.7):
        inside = np.hypot(errors[0], ratio * errors[1]) <= radius_95(1, ratio)
        assert inside.mean() == pytest.approx(0.95, abs=0.0015)
    assert radius_95(1, 0.0199999) == pytest.approx(radius_95(1, 0.02), abs=1e-7)
    assert radius_95(0, 0) == 0
    assert math.isnan(radius_95(math.nan, 1))


def test_no_points_give_no_numbers():
    found = nssda([], [], [])
    assert not found.allowed
    assert math.isnan(found.rmse_e)
    assert math.isnan(found.exact_h)


def test_the_statistics_of_five_ground_control_points():
    # value from memory (ASPRS Positional Accuracy Standards 2014, Annex D), arithmetic recomputed;
    # own: check points known to 0.020 m
    found = nssda(*FIVE)
    assert (found.mean_e, found.mean_n, found.mean_z) == pytest.approx((-0.0326, 0.0060, 0.0056), abs=1e-9)
    assert (found.rmse_e, found.rmse_n, found.rmse_z) == pytest.approx((0.101675, 0.106489, 0.081381), abs=1e-6)
    assert found.rmse_r * 1.7308 == pytest.approx(0.254832, abs=2e-6)
    product = asprs(*FIVE, checkpoint_h=0.020, checkpoint_v=0.020)
    assert product.fit_h == pytest.approx(0.147234, abs=1e-6)
    assert (product.rmse_h, product.rmse_v, product.rmse_3d) == pytest.approx((0.148586, 0.083802, 0.170589), abs=1e-6)
    assert not product.allowed
    assert "30 are needed" in product.reasons[0]


def test_thirty_points_with_known_accuracy_are_allowed_and_unknown_accuracy_is_not():
    many = [np.tile(axis, 6) for axis in FIVE]
    assert asprs(*many, checkpoint_h=0.02, checkpoint_v=0.02).allowed
    unknown = asprs(*many, checkpoint_h=math.nan, checkpoint_v=0.02)
    assert not unknown.allowed
    assert math.isnan(unknown.rmse_h)
    assert unknown.reasons == ("the horizontal accuracy of the check points is not known",)
    counted = np.arange(30) < 29
    assert not asprs(*many, checkpoint_h=0.02, checkpoint_v=0.02, counted=counted).allowed


def test_held_marks_site_fit_marks_and_repeats_do_not_count():
    point = ["A", "A", "B", "C", "D", "E", "F"]
    found = checkpoints(
        point,
        better=[True, True, True, True, False, True, True],
        independent=[True, True, True, True, True, False, True],
        held=[False, False, True, False, False, False, False],
        site_fit=[False, False, True, True, False, False, False],
        repeat=[False, False, False, False, False, False, True],
    )
    assert found.counted.tolist() == [True] + [False] * 6
    assert found.left_out == {
        "not better known": 1,
        "not independent": 1,
        "held": 1,
        "part of the site fit": 1,
        "repeated shot": 1,
        "same point again": 1,
    }


def test_twenty_shots_of_two_marks_are_two_check_points():
    counted = checkpoints(np.repeat([1, 2], 10), better=True).counted
    assert counted.sum() == 2
    assert not nssda(E, N, Z, counted=counted).allowed


def test_points_along_a_corridor_are_stated_with_a_caution():
    spread = point_spread(np.linspace(0, 2000, 20), np.tile([-30.0, 30.0], 10))
    assert not spread.spacing_met
    found = nssda(E, N, Z, spread=spread)
    assert found.allowed
    assert "10% of the diagonal" in found.cautions[0]


def test_an_empty_quadrant_is_seen():
    e, n = np.array([1, 9, 9, 8, math.nan]), np.array([1.0, 1, 9, 8, 3])
    found = point_spread(e, n, extent=(0, 0, 10, 10))
    assert found.share.tolist() == [0.5, 0.0, 0.25, 0.25]
    assert not found.quadrants_met
    assert found.closest == pytest.approx(math.sqrt(2))
    assert "quadrant" in nssda(E, N, Z, spread=found).cautions[0]
    assert nssda(E, N, Z, spread=point_spread([1, 9, 9, 1], [1, 1, 9, 9])).cautions == ()
    assert not point_spread([], []).quadrants_met
    assert math.isnan(point_spread([1.0], [1.0]).closest)


def test_columns_that_do_not_fit_are_refused():
    with pytest.raises(GeometryInputError, match="differ in length"):
        nssda([0.1], [0.1, 0.2], [0.1])
