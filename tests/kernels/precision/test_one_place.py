"""One value of several shots: weights, both parts of its uncertainty, and shots that differ."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.precision.one_place import MEMORY, one_value, places_along


def test_a_chain_of_close_shots_is_cut_at_the_reach():
    assert places_along([0] * 5, [0.0, 0.2, 0.4, 0.6, 0.8], reach=0.3).tolist() == [0, 0, 1, 1, 2]
    assert places_along([], [], reach=0.3).tolist() == []
    with pytest.raises(GeometryInputError):
        places_along([0], [0.0, 1.0], reach=0.3)


def test_the_uncertainty_is_that_of_the_law_of_propagation():
    minutes = np.array([0.0, 40.0, 3000.0])
    found = one_value([1.0, 2.0, 3.0], [1.0, 2.0, 3.0], [2.0, 2.0, 1.0], group=[0, 0, 1], minutes=minutes, shared=0.5)
    share = np.where(np.eye(3, dtype=bool), 1.0, 0.5 * np.exp(-np.abs(minutes[:, None] - minutes) / MEMORY))
    u = np.array([1.0, 2.0, 3.0])
    assert found.u_random == pytest.approx(np.sqrt(found.weight @ (share * np.outer(u, u)) @ found.weight))
    first, second, third = found.weight
    assert found.u_common == pytest.approx(np.hypot(2 * (first + second), third))
    assert found.value[0] == pytest.approx(found.weight @ [1.0, 2.0, 3.0])
    assert (found.weight > 0).all()


def test_without_times_shots_of_a_session_are_one_and_of_two_are_two():
    for group, independent in (([0, 0], 1.0), ([0, 1], 2.0)):
        found = one_value([0.0, 0.0], [1.0, 1.0], [0.0, 0.0], group=group, minutes=[np.nan] * 2)
        assert found.independent == pytest.approx(independent)


def test_shots_that_differ_enlarge_and_those_that_agree_do_not():
    wide = one_value([0.0, 1.0], [0.1, 0.1], [0.1, 0.1], group=[0, 1], minutes=[0, 3000])
    assert wide.enlarged == pytest.approx(1 / np.sqrt(2) / np.hypot(0.1, 0.1))
    assert np.hypot(wide.u_random, wide.u_common) == pytest.approx(0.5, rel=1e-6)
    shared = one_value([0.0, 0.2], [0.1, 0.1], [9.0, 9.0], group=[0, 0], minutes=[0, 3000])
    assert shared.enlarged == 1.0  # what a session shares explains no difference within it, and need not here
    assert one_value([0.0, 9.0], [0.1, 0.1], [9.0, 9.0], group=[0, 0], minutes=[0, 3000]).enlarged > 10
    assert one_value([0.0, 9.0], [0.0, 0.0], [0.0, 0.0], group=[0, 1], minutes=[0, 1]).enlarged == 1.0


def test_one_exact_shot_gives_equal_weights_and_arrays_must_fit():
    assert one_value([1.0, 3.0], [0.0, 1.0], [0.0, 0.0], group=[0, 1], minutes=[0, 9]).value[0] == 2.0
    with pytest.raises(GeometryInputError):
        one_value([1.0, 3.0], [1.0], [0.0, 0.0], group=[0, 1], minutes=[0, 9])
    with pytest.raises(GeometryInputError):
        one_value([1.0], [1.0], [0.0], group=[0], minutes=[0], shared=1.5)
