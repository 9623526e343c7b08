"""A shift shared by a block of shots, beside real defects of some of them."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.causes.block_shifts import shared_shifts, well_seen

UP = [0.0, 0.0, 1.0]


def shared_shift(direction, residual, u, shot, *, spread):
    """The shift of the only block there is."""
    one = np.zeros(np.shape(residual), dtype=int)
    return shared_shifts(direction, residual, u, shot, one, count=1, spread=spread).of(0)


def block(shots, shift, rng, azimuths=(80.0,), sigma=0.04):
    """Residuals across lines of the given azimuths and in elevation."""
    right = np.radians(np.resize(azimuths, shots) + 90.0)
    across = np.column_stack([np.sin(right), np.cos(right), np.zeros(shots)])
    direction = np.concatenate([across, np.tile(UP, (shots, 1))])
    residual = direction @ np.asarray(shift) + rng.normal(0, sigma, 2 * shots)
    return direction, residual, np.full(2 * shots, sigma), np.tile(np.arange(shots), 2)


def test_a_shared_shift_is_recovered_within_its_own_uncertainty():
    rng = np.random.default_rng(2)
    for _ in range(20):
        found = shared_shift(*block(20, (0.55, -0.30, 0.62), rng, azimuths=(80.0, 20.0)), spread=1.0)
        assert (np.abs(found.shift - [0.55, -0.30, 0.62]) < 4.5 * found.u).all()
        assert found.share == 1.0
        assert found.gain > 50


def test_along_parallel_lines_the_shift_stays_as_open_as_the_prior():
    found = shared_shift(*block(20, (0.55, -0.30, 0.62), np.random.default_rng(2)), spread=1.0)
    along = np.array([np.sin(np.radians(80.0)), np.cos(np.radians(80.0)), 0.0])
    assert found.u @ np.abs(along) > 0.9
    across = np.array([np.cos(np.radians(80.0)), -np.sin(np.radians(80.0)), 0.0])
    assert found.shift @ across == pytest.approx(np.dot([0.55, -0.30, 0.62], across), abs=0.05)


def test_defects_of_a_few_shots_are_no_shift_of_the_block():
    direction, residual, u, shot = block(30, (0.0, 0.0, 0.0), np.random.default_rng(6))
    residual[30:34] -= 0.3
    found = shared_shift(direction, residual, u, shot, spread=1.0)
    assert np.abs(found.shift[2]) < 0.05
    assert found.gain < 12


def test_defects_within_a_shifted_block_do_not_pull_its_shift():
    direction, residual, u, shot = block(30, (0.0, 0.0, 0.62), np.random.default_rng(6))
    residual[30:34] -= 0.3
    found = shared_shift(direction, residual, u, shot, spread=1.0)
    assert found.shift[2] == pytest.approx(0.62, abs=0.04)


def test_nothing_observed_is_nothing_known():
    found = shared_shift(np.zeros((2, 3)), [np.nan, np.nan], [0.1, 0.1], [0, 1], spread=1.0)
    assert np.isnan(found.shift).all()
    assert (found.gain, found.share, found.shots) == (0.0, 0.0, 0)


def test_arrays_that_do_not_fit_are_refused():
    with pytest.raises(GeometryInputError, match=r"needs a direction, an uncertainty and the shot"):
        shared_shift(np.zeros((2, 3)), [0.1], [0.1], [0], spread=1.0)


@pytest.mark.parametrize(("azimuths", "kept"), [((80.0, 84.0), False), ((80.0, 260.0), False), ((80.0, 110.0), True)])
def test_directions_keep_what_lines_show_and_lose_what_they_hardly_do(azimuths, kept):
    direction = block(12, (0.0, 0.0, 0.0), np.random.default_rng(0), azimuths=azimuths)[0]
    found = well_seen(direction)
    np.testing.assert_array_equal(found[12:], direction[12:])
    assert np.linalg.matrix_rank(found[:12], tol=1e-9) == (2 if kept else 1)
    assert np.abs(found[:12] - direction[:12]).max() < (1e-12 if kept else 0.05)
