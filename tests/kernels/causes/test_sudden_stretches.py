"""Where numbers in plan and elevation step at once; truth: the steps the numbers were made with."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.causes.sudden_stretches import goes_along, level_parts, steps_out

U = 0.045


def drawn(*parts, seed=1):
    """Numbers across and up, noise added, of parts of so many shots at such levels."""
    rng = np.random.default_rng(seed)
    truth = np.concatenate([np.tile([[across], [up]], count) for count, across, up in parts], axis=1)
    return truth + rng.normal(0, U, truth.shape), np.full(truth.shape, U)


@pytest.mark.parametrize("seed", range(8))
def test_both_ends_of_a_stretch_are_found_to_the_shot_or_its_neighbour(seed):
    found = level_parts(*drawn((12, 0.0, 0.0), (25, 0.3, -0.25), (13, 0.0, 0.0), seed=seed))
    assert len(found) == 3
    assert np.abs(found - [0, 12, 37]).max() <= 1


def test_noise_does_not_step():
    assert sum(len(level_parts(*drawn((50, 0.02, -0.03), seed=seed))) > 1 for seed in range(300)) <= 1


def test_of_few_or_no_shots_there_is_one_part_or_none():
    assert level_parts(np.full((2, 3), 0.3), np.full((2, 3), U)).tolist() == [0]
    assert level_parts(np.zeros((2, 0)), np.zeros((2, 0))).tolist() == []
    with pytest.raises(GeometryInputError, match="across and up"):
        level_parts(np.zeros(4), np.zeros(4))


def test_a_box_goes_along_and_a_taper_a_mixture_and_nothing_do_not():
    rng = np.random.default_rng(3)
    noise, u = rng.normal(0, U, 40), np.full(40, U)
    for truth, answer in (
        (np.full(40, 0.3), True),
        (np.linspace(0.0, 0.6, 40), False),
        (np.repeat([0.3, 0.0], [25, 15]), False),
        (np.zeros(40), False),
    ):
        read = truth + noise
        assert goes_along(read, read - 0.3, u, share=0.8) is answer
    assert goes_along([], [], [], share=0.8) is False


def test_a_stretch_steps_out_where_most_beside_it_stay():
    stays = np.array([True, True, True, False, False, False, True, False, True])
    assert steps_out(stays, 3, 6)
    assert steps_out(stays[3:], 0, 3)  # a session begins with it
    assert not steps_out(stays, 5, 6)  # two of the three before it go along
