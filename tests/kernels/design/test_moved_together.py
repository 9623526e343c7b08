"""One shift that lays places on design, found again where it was planted."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.moved_together import Pieces, moved_together


def plan(turn):
    """Three legs of two lines and a point, turned."""
    corners = np.array([[0, 0], [0, 200], [150, 260], [12, 0], [12, 190], [150, 245], [-20.0, 90]])
    way = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    corners = corners @ way
    pair = np.array([[0, 1], [1, 2], [3, 4], [4, 5], [6, 6]])
    return Pieces(ends=corners[pair], elevation=np.full((5, 2), 50.0), group=np.array([0, 0, 0, 0, 1]),
                  owner=np.array([0, 0, 1, 1, 2]))  # fmt: skip


@pytest.mark.parametrize("seed", range(4))
def test_a_planted_shift_is_found_with_strays_beside_it(seed):
    random = np.random.default_rng(seed)
    pieces = plan(random.uniform(0, 2 * np.pi))
    planted = random.uniform(-30, 30, 2)
    leg = random.integers(0, 4, 40)
    share = random.uniform(0, 1, (40, 1))
    on = pieces.ends[leg, 0] + share * (pieces.ends[leg, 1] - pieces.ends[leg, 0])
    at = np.concatenate([on, pieces.ends[4, :1], random.uniform(-100, 200, (5, 2))]) + planted
    at += random.normal(0, 0.02, at.shape)
    group = np.array([0] * 40 + [1] + [0] * 5)
    found = moved_together(at, np.full(46, 50.3), group, pieces, [[0.0, 0.0]], within=0.5, around=40.0)
    assert found.shift == pytest.approx(planted, abs=0.03)
    assert found.fits[:41].all()
    assert found.owner[:41].tolist() == [*pieces.owner[leg], 2]
    assert found.rise[found.fits] == pytest.approx(0.3)


def test_a_place_without_design_of_its_group_is_refused():
    with pytest.raises(GeometryInputError, match="of the group of each place"):
        moved_together([[0, 0]], [1.0], [7], plan(0.0), [[0.0, 0.0]], within=0.5)
