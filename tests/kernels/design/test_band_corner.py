"""The round corner outside a bend: places on a circle, and chords that stray from it by the sagitta at most."""

import math

import numpy as np
import pytest

from geoqa.kernels.design.band_corner import bend_step, corner


@pytest.mark.parametrize("degrees", [5, 20, 60, 90])
def test_the_step_of_a_sagitta_is_the_angle_whose_chord_strays_by_it(degrees):
    sagitta = 3.0 * (1 - math.cos(math.radians(degrees) / 2))
    assert math.degrees(bend_step(3.0, sagitta)) == pytest.approx(degrees)


def test_a_step_is_a_quarter_circle_at_most():
    assert bend_step(np.array([0.1, 1.0]), 5.0).tolist() == pytest.approx([math.pi / 2] * 2)


@pytest.mark.parametrize("turn", [math.pi / 2, -math.pi / 3, 0.1])
def test_places_lie_on_the_circle_from_the_arm_through_the_turn(turn):
    vertex, arm = np.array([100.0, 200.0]), np.array([3.0, 4.0])
    made = corner(vertex, arm, turn, 0.01)
    assert np.hypot(*(made - vertex).T).tolist() == pytest.approx([5.0] * len(made))
    assert made[0].tolist() == pytest.approx([103.0, 204.0])
    angle = math.atan2(4, 3) + turn
    assert made[-1].tolist() == pytest.approx([100 + 5 * math.cos(angle), 200 + 5 * math.sin(angle)])
    middle = (made[1:] + made[:-1]) / 2
    assert (5.0 - np.hypot(*(middle - vertex).T)).max() <= 0.01 + 1e-12
