"""Numbers made of several shots: their two parts of uncertainty."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.precision.combination import combined


@pytest.mark.parametrize(
    ("rho", "u_slope"),
    [(0.0, 0.42434), (0.5, 0.30011), (0.8, 0.18991), (0.95, 0.09521)],
)
def test_cross_slope_of_five_feet(rho, u_slope):
    """Own computation of the table of cross slopes: dz 0.10 ft, w 5.00 ft, u_z 0.015 ft, u_w 0.02 ft, in per cent.

    JCGM 100:2008 5.2.2; a correlation of rho between two shots is a common part of rho of their variance.
    """
    u_z, u_w, w, dz = 0.015, 0.02, 5.0, 0.10
    weights = np.array([[1 / w, -1 / w, -dz / w**2]])
    random = np.array([[u_z * np.sqrt(1 - rho), u_z * np.sqrt(1 - rho), u_w]])
    common = np.array([[u_z * np.sqrt(rho), u_z * np.sqrt(rho), 0.0]])
    found = combined(weights, random, common, [[0, 0, -1]])
    assert 100 * np.hypot(found.u_random, found.u_common)[0] == pytest.approx(u_slope, abs=6e-6)


def test_fall_of_a_sewer_at_its_least_slope():
    """8 in, 300 ft: inverts of u 0.02 ft each give a slope of u 0.0094 % (own computation)."""
    found = combined([[1 / 300, -1 / 300]], [[0.02, 0.02]], [[0.03, 0.03]], [[4, 4]])
    assert 100 * found.u_random[0] == pytest.approx(0.0094, abs=5e-5)
    assert found.u_common[0] == pytest.approx(0, abs=1e-15)


def test_against_the_full_covariance_matrix():
    """The same as w' C w with the covariance matrix written out (GUM 5.2.2)."""
    rng = np.random.default_rng(4)
    m, k = 40, 5
    weights, random, common = rng.normal(size=(m, k)), rng.uniform(0.01, 0.05, (m, k)), rng.uniform(0, 0.05, (m, k))
    group = rng.integers(-1, 3, (m, k))
    weights[rng.random((m, k)) < 0.3] = 0.0
    found = combined(weights, random, common, group)
    for row in range(m):
        same = (group[row][:, None] == group[row]) & (group[row] >= 0) | np.eye(k, dtype=bool)
        matrix = np.where(same, np.outer(common[row], common[row]), 0.0)
        assert found.u_common[row] ** 2 == pytest.approx(weights[row] @ matrix @ weights[row], abs=1e-15)
        assert found.u_random[row] ** 2 == pytest.approx(np.sum((weights[row] * random[row]) ** 2))


def test_what_is_not_known_counts_only_where_it_weighs():
    found = combined([[1.0, 0.0], [1.0, -1.0]], [[0.02, np.nan]] * 2, [[0.0, np.nan]] * 2, [[0, 0]] * 2)
    assert found.u_random[0] == 0.02
    assert np.isnan(found.u_random[1])
    assert np.isnan(found.u_common[1])


def test_shapes_must_fit():
    with pytest.raises(GeometryInputError, match="differ"):
        combined([[1.0]], [[1.0, 2.0]], [[1.0]], [[0]])
