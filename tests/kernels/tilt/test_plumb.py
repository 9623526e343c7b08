import numpy as np
import pytest

from geoqa.kernels.precision.components import Contrasts, two_spreads
from geoqa.kernels.tilt.plumb import careful_base, of_nails, of_points, plumb_spreads


@pytest.mark.parametrize("seed", range(4))
def test_shots_of_a_point_scatter_about_their_mean_as_numpy_says(seed):
    draw = np.random.default_rng(seed)
    number, places = np.repeat([0, 1, 2], [3, 1, 4]), draw.normal(0, 0.02, (8, 3)) + 2_228_000.0
    means, count, squares, dof = of_points(places, number, np.ones(8, dtype=bool))
    groups = [places[number == each] for each in range(3)]
    np.testing.assert_allclose(means, [each.mean(axis=0) for each in groups])
    whole = sum((len(each) - 1) * each.var(axis=0, ddof=1) for each in groups if len(each) > 1)
    np.testing.assert_allclose(squares, [whole[0] + whole[1], whole[2]], rtol=1e-5)
    assert (count.tolist(), dof) == ([3, 1, 4], 5)


def test_nails_of_shifted_days_scatter_by_what_no_shift_explains():
    draw = np.random.default_rng(2)
    nail, day = np.tile(np.arange(400), 2), np.repeat([0, 1], 400)
    places = 12.0 * nail[:, None] + draw.normal(0, [0.02, 0.02, 0.05], (800, 3)) + 0.3 * day[:, None]
    squares, dof = of_nails(places, nail, day)
    assert dof == 399
    plan, up = plumb_spreads(squares, dof, None, 0.95)
    assert plan.value == pytest.approx(0.02, rel=0.1)
    assert up.value == pytest.approx(0.05, rel=0.1)


def test_nails_of_one_day_tell_nothing():
    assert of_nails(np.random.default_rng(1).normal(size=(5, 3)), np.arange(5), np.zeros(5))[1] == 0


def test_a_stated_scatter_stands_where_it_is_the_larger():
    known = two_spreads(Contrasts(value=np.array([0.1, -0.1]), multiplier=np.array([1.0, 1.0])), base=2.0)
    assert careful_base(known).value == 2.0
