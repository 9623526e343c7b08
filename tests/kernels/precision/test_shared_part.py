"""What sessions share, learned from how far they were found off."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.precision.shared_part import MOST, shared_part


@pytest.mark.parametrize(("true", "stated"), [(0.02, 0.01), (0.03, 0.0), (0.02, 0.02)])
def test_what_a_session_is_off_by_lies_within_twice_its_part(true, stated):
    rng, held = np.random.default_rng(5), []
    for _ in range(400):
        off = rng.normal(0, true, (3, 2))
        found = shared_part(off + rng.normal(0, 0.008, off.shape), np.full(off.shape, 0.008), least=np.full(3, stated))
        held.append(np.abs(off) <= 1.96 * np.maximum(found.held, stated)[:, None])
    assert np.mean(held) > 0.93


def test_sessions_no_farther_off_than_stated_are_no_surprise_and_others_are():
    u = np.full((3, 1), 0.01)
    honest = shared_part([[0.02], [-0.01], [0.015]], u, least=np.full(3, 0.02))
    assert honest.p > 0.1
    assert shared_part([[0.02], [-0.01], [0.09]], u, least=np.full(3, 0.02)).p < 0.001


def test_a_declared_0_takes_the_shift_almost_whole():
    found = shared_part([[0.05, 0.0], [0.0, -0.06]], np.full((2, 2), 0.005), least=[0.0, 0.0])
    assert found.held == pytest.approx([0.05, 0.06], rel=0.05)


def test_a_session_without_a_check_takes_what_the_others_are_off_by():
    found = shared_part([[0.05], [-0.05], [0.05], [np.nan]], [[0.01]] * 3 + [[np.nan]], least=np.zeros(4))
    assert np.isnan(found.held[3])
    assert found.elsewhere == pytest.approx(np.sqrt(0.05**2 - 0.01**2) * 3.1824463 / 1.959964)
    alone = shared_part([[0.05], [np.nan]], [[0.01], [np.nan]], least=[0.0, 0.0])
    assert alone.elsewhere == pytest.approx(MOST * np.sqrt(0.05**2 - 0.01**2))


def test_without_any_check_nothing_is_known():
    found = shared_part([[np.nan]], [[np.nan]], least=[0.02])
    assert np.isnan(found.held).all()
    assert (found.elsewhere, np.isnan(found.p)) == (0.0, True)
    with pytest.raises(GeometryInputError, match="do not fit"):
        shared_part([0.1], [0.1], least=[0.0])
