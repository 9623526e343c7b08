import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoqa.errors import GeometryInputError
from geoqa.kernels.control.similarity import fit_similarity, similar
from geoqa.kernels.control.vertical_plane import fit_vertical_plane

# control of a site along a street, state plane feet
CONTROL = np.array(
    [
        [2228515.752, 445968.253],
        [2228839.126, 446092.291],
        [2229283.729, 446104.683],
        [2229619.554, 446161.130],
        [2230042.166, 446057.904],
        [2230446.134, 446085.802],
    ]
)


def test_the_conformal_fit_of_three_points():
    # Ghilani, Adjustment Computations, ch. 18, ex. 18.1: inputs from third parties' copies; printed outputs
    # from memory, arithmetic recomputed
    source = [[121.622, -128.066], [141.228, 187.718], [175.802, 135.728]]
    target = [[1049422.40, 51089.20], [1049413.95, 49659.30], [1049244.95, 49884.95]]
    found = fit_similarity(source, target)
    assert (found.a, found.b) == pytest.approx((-4.512494, -0.253714), abs=1e-5)
    assert found.shift == pytest.approx([1050003.7145, 50542.1311], abs=0.001)
    assert found.scale == pytest.approx(4.5196205, abs=1e-6)
    assert found.rotation % 360 == pytest.approx(183.2180612, abs=1e-6)
    assert found.residuals == pytest.approx(
        np.array([[0.0038, -0.0291], [0.1009, -0.0767], [-0.1047, 0.1059]]), abs=6e-5
    )
    assert found.dof == 2
    assert found.sigma0 == pytest.approx(0.139820, abs=1e-6)
    assert np.sqrt(np.diag(found.covariance))[:2] == pytest.approx([0.000576, 0.000576], abs=1e-6)
    assert found.shift_se == pytest.approx([0.12259, 0.12259], abs=1e-5)
    assert found.redundancy.sum() == pytest.approx(2)
    e, n = found.apply([174.148, 513.520, 754.444, 972.788], [-120.262, -192.130, -67.706, 120.994])
    assert e == pytest.approx([1049187.3606, 1047637.7127, 1046582.1128, 1045644.7128], abs=0.001)
    assert n == pytest.approx([51040.6288, 51278.8291, 50656.2406, 49749.3361], abs=0.001)


def test_known_parameters_from_feet_to_metres_with_a_rotation():
    # OSGeo/PROJ test/gie/more_builtins.gie, from SEWRPC Technical Report 34, point 203; published to 1 mm.
    # Its rotation is written clockwise.
    given_ = {"scale": 0.304794780637, "shift": (-9597.3572, 0.6112)}
    e, n = similar(2546506.957, 542256.609, rotation=1.244048 / 3600, **given_)
    assert (e, n) == pytest.approx((766563.675, 165282.277), abs=0.001)
    # the other sense of rotation is metres off: own arithmetic
    e, n = similar(2546506.957, 542256.609, rotation=-1.244048 / 3600, **given_)
    assert (e, n) == pytest.approx((766565.669, 165272.914), abs=0.001)


def test_the_similarity_between_two_european_grids():
    # OSGeo/PROJ test_cs2cs_various.yaml, example of EPSG Guidance Note 7-2: EPSG:23031 to EPSG:25831;
    # the parameters are from memory, their rotation rounded, good to 2 mm
    e, n = similar(300000.0, 4500000.0, scale=1.00000155, rotation=-1.56504 / 3600, shift=(-129.549, -208.185))
    assert (e, n) == pytest.approx((299905.060, 4499796.515), abs=0.002)


@given(
    st.floats(0.5, 2.0),
    st.floats(-179.0, 179.0),
    st.tuples(st.floats(-1e7, 1e7), st.floats(-1e7, 1e7)),
)
def test_a_fit_finds_the_parameters_that_moved_the_points(scale, rotation, shift):
    moved = np.column_stack(similar(*CONTROL.T, scale=scale, rotation=rotation, shift=shift))
    found = fit_similarity(CONTROL, moved)
    assert found.scale == pytest.approx(scale, abs=1e-10)
    assert found.rotation == pytest.approx(rotation, abs=1e-8)
    assert np.abs(found.residuals).max() < 1e-7
    assert np.column_stack(found.apply(*CONTROL.T)) == pytest.approx(moved, abs=1e-7)


def test_state_plane_coordinates_of_13_million_feet_keep_their_last_digits():
    far = CONTROL + np.array([1.1e7, 1.2e7])
    wrong = far.copy()
    wrong[2, 0] += 0.001
    found = fit_similarity(far, wrong)
    near = fit_similarity(CONTROL - CONTROL[0], CONTROL - CONTROL[0] + (wrong - far))
    assert found.residuals == pytest.approx(near.residuals, abs=1e-8)
    assert found.redundancy == pytest.approx(near.redundancy, abs=1e-9)


def test_six_control_marks_over_two_thousand_feet_resolve_scale_and_rotation_no_better_than_this():
    # own arithmetic: 0.03 ft per axis over the root of the sum of squared distances from the centre
    found = fit_similarity(CONTROL, CONTROL, u=0.03)
    reach = math.sqrt(np.sum((CONTROL - CONTROL.mean(axis=0)) ** 2))
    assert found.scale_se == pytest.approx(0.03 / reach, rel=1e-9)
    assert found.rotation_se == pytest.approx(math.degrees(0.03 / reach), rel=1e-9)
    assert found.scale_se == pytest.approx(18e-6, abs=1e-6)  # ground distances at 129 ppm would be seen
    assert math.sqrt(found.covariance[2, 2]) == pytest.approx(0.03 / math.sqrt(6))


def test_a_disturbed_mark_shows_its_redundancy_share_in_its_own_residual():
    wrong = CONTROL.copy()
    wrong[2, 0] += 0.15
    found = fit_similarity(wrong, CONTROL, u=0.03)
    assert found.residuals[2, 0] == pytest.approx(0.15 * found.redundancy[2, 0], abs=1e-6)
    assert found.residuals[2, 0] > 0  # measured minus published


def test_better_points_pull_harder():
    wrong = CONTROL.copy()
    wrong[0, 0] += 1.0
    u = np.full(6, 0.02)
    u[0] = 2.0
    found = fit_similarity(wrong, CONTROL, u=u)
    assert found.residuals[0, 0] == pytest.approx(1.0, abs=0.01)
    assert np.abs(found.residuals[1:]).max() < 0.01
    per_axis = fit_similarity(wrong, CONTROL, u=np.column_stack([u, u]))
    assert per_axis.residuals == pytest.approx(found.residuals)


def test_a_point_without_coordinates_is_left_out():
    gappy = np.vstack([CONTROL, [[math.nan, 1.0]]])
    found = fit_similarity(gappy, np.vstack([CONTROL, [[1.0, 2.0]]]))
    assert np.isnan(found.residuals[6, 0])
    assert found.scale == pytest.approx(1.0)
    assert fit_similarity(CONTROL[:2], CONTROL[:2]).dof == 0


def test_one_point_cannot_be_fitted():
    with pytest.raises(GeometryInputError, match="leave a parameter open"):
        fit_similarity(np.repeat(CONTROL[:1], 3, axis=0), CONTROL[:3])
    with pytest.raises(GeometryInputError, match="cannot settle 4"):
        fit_similarity(CONTROL[:1], CONTROL[:1])
    with pytest.raises(GeometryInputError, match="No point has all"):
        fit_similarity([[math.nan, 1.0]], [[1.0, 1.0]])
    with pytest.raises(GeometryInputError, match="do not fit"):
        fit_similarity(CONTROL, CONTROL[:3])


def test_a_plane_through_elevation_differences():
    # own, exact: 0.40 at the centre, -0.3 ft per 1,000 ft east, 0.1 ft per 1,000 ft north
    e, n = CONTROL.T
    dz = 0.40 - 0.0003 * (e - e.mean()) + 0.0001 * (n - n.mean())
    found = fit_vertical_plane(e, n, dz)
    assert (found.shift, found.slope_e, found.slope_n) == pytest.approx((0.40, -0.0003, 0.0001), abs=1e-10)
    assert np.abs(found.residuals).max() < 1e-9
    value, _ = found.at(e, n)
    assert value == pytest.approx(dz, abs=1e-9)
    with_u = fit_vertical_plane(e, n, dz, u=0.05)
    assert with_u.se[0] == pytest.approx(0.05 / math.sqrt(6))
    value, u = with_u.at(with_u.centre[0], with_u.centre[1])
    assert (float(value), float(u)) == pytest.approx((0.40, 0.05 / math.sqrt(6)))
    assert with_u.at(e, n)[1].max() > float(u)
    assert with_u.redundancy.sum() == pytest.approx(3)


def test_a_constant_shift_is_not_called_a_lean():
    e, n = CONTROL.T
    draw = np.random.default_rng(11)
    constant = np.array([fit_vertical_plane(e, n, -88 + draw.normal(0, 0.05, 6), u=0.05).p_level for _ in range(400)])
    assert abs(np.mean(constant < 0.05) - 0.05) < 0.03
    leaning = fit_vertical_plane(e, n, -88 + 0.0005 * e + draw.normal(0, 0.05, 6))
    assert leaning.p_level < 0.05
    assert math.isnan(fit_vertical_plane(e[:3], n[:3], [0.0, 0.1, 0.5]).p_level)


def test_differences_along_one_line_leave_the_plane_open():
    with pytest.raises(GeometryInputError, match="leave a parameter open"):
        fit_vertical_plane([0, 1, 2, 3], [0, 1, 2, 3], [0, 0, 0, 0.1])
    with pytest.raises(GeometryInputError, match="differ in length"):
        fit_vertical_plane([0, 1, 2], [0, 1, 2], [0, 0])
