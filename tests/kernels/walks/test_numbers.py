"""Slopes and distances of shots: the published cross-slope table, and numerical derivatives."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.judging.verdict import judge
from geoqa.kernels.precision.combination import combined
from geoqa.kernels.walks.numbers import distances, means, slopes

FAR = np.array([2_228_500.0, 446_000.0, 1_460.0])


def test_the_cross_slope_table():
    """Reference values of a cross slope (propagation of uncertainty, worked by hand): dz 0.10, w 5.00 ft, u(z) 0.015
    with correlation rho, u(w) 0.02 ft, limit 1:48."""
    made = slopes(np.array([[0, 0, 0], [5, 0, 0.10]]) + FAR, [[0, 1]], [[-1.0, 1.0]])
    assert made.value[0] == pytest.approx(0.02)
    table = {0.0: (0.42434, 0.57785), 0.5: (0.30011, 0.60937), 0.8: (0.18991, 0.66960), 0.95: (0.09521, 0.80930)}
    for rho, (u_slope, p_conform) in table.items():
        own, shared = 0.015 * np.sqrt(1 - rho), 0.015 * np.sqrt(rho)
        up = combined(made.elevation, [[own, own]], [[shared, shared]], [[0, 0]])
        plan = combined(made.easting, [[0.02 / np.sqrt(2)] * 2], [[0.0, 0.0]], [[0, 0]])
        u = np.sqrt(up.u_random**2 + up.u_common**2 + plan.u_random**2)
        assert 100 * u[0] == pytest.approx(u_slope, abs=5e-6)
        judged = judge(made.value, lower=-np.inf, upper=1 / 48, u=u)
        assert judged.p_conform[0] == pytest.approx(p_conform, abs=2e-5)


@pytest.mark.parametrize(
    ("width", "u_z", "u_slope", "proven", "over"),
    [(5, 0.05, 1.41, None, 4.41), (5, 0.03, 0.85, 0.69, 3.48), (5, 0.02, 0.57, 1.15, 3.01), (5, 0.01, 0.28, 1.62, 2.55),
     (4, 0.02, 0.71, 0.92, 3.25), (6, 0.02, 0.47, 1.31, 2.86)],
)  # fmt: skip
def test_what_two_shots_prove_of_a_2_percent_walk(width, u_z, u_slope, proven, over):
    """Numbers of a published method note on 2 % walks, one-sided 95 %, limit 2.083 %."""
    u = combined(
        slopes([[0, 0, 0.0], [width, 0, 0.0]], [[0, 1]], [[-1.0, 1.0]]).elevation, [[u_z] * 2], [[0.0] * 2], [[0, 0]]
    ).u_random[0]
    assert 100 * u == pytest.approx(u_slope, abs=0.006)
    codes = judge([over / 100 + 1e-4, over / 100 - 1e-4], lower=-1 / 48, upper=1 / 48, u=u).verdict.tolist()
    assert codes == [3, 2]
    if proven is not None:
        one_sided = judge([proven / 100 - 1e-4, proven / 100 + 1e-4], lower=-np.inf, upper=1 / 48, u=u)
        assert one_sided.verdict.tolist() == [1, 2]


@pytest.mark.parametrize("kernel", [slopes, distances])
def test_a_gradient_is_the_derivative(kernel):
    generator = np.random.default_rng(3)
    places = FAR + generator.normal(0, 1, (5, 3)) * [10, 10, 0.3]
    members, weights = np.array([[0, 1, 2, 3, 4]]), np.array([[-0.5, -0.5, 0.2, 0.3, 0.5]])
    made = kernel(places, members, weights)
    for axis, table in enumerate((made.easting, made.northing, made.elevation)):
        for shot in range(5):
            moved = places.copy()
            moved[shot, axis] += 1e-5
            told = (kernel(moved, members, weights).value[0] - made.value[0]) / 1e-5
            assert told == pytest.approx(table[0, shot], abs=1e-5)


def test_a_mean_holds_a_shared_shot_once():
    places = np.array([[0, 0, 0.0], [5, 0, 0.1], [0, 25, 0.1], [5, 25, 0.25]]) + FAR
    # the second section hangs on the first shot of the other edge too
    two = slopes(places, [[0, 1, -1], [2, 3, 1]], [[-1.0, 1.0, 0.0], [-1.0, 0.5, 0.5]])
    mean = means(two, [0, 0], [1.0, 1.0])
    assert mean.value[0] == pytest.approx(two.value.mean())
    assert mean.members.tolist() == [[0, 1, 2, 3]]
    dense = np.zeros((2, 4))
    for row in range(2):
        for member, part in zip(two.members[row], two.elevation[row], strict=True):
            if member >= 0:
                dense[row, member] += part
    np.testing.assert_allclose(mean.elevation[0], dense.mean(axis=0), atol=1e-12)


def test_what_does_not_fit_is_refused():
    with pytest.raises(GeometryInputError, match="do not fit"):
        slopes([[0, 0]], [[0, 0]], [[1.0, -1.0]])
    assert np.isnan(slopes([[0, 0, 0], [0, 0, 1]], [[0, 1]], [[-1.0, 1.0]]).value[0])
