"""What is solved piece by piece is what is solved at once, and a large piece is cut without a wrong word."""

import numpy as np
import pytest

from geoqa.kernels.precision import repeats
from geoqa.kernels.precision.hanging_together import apart
from geoqa.kernels.precision.repeats import repeatability, visits_of


def streets(rng, count, *, close=2):
    """Marks seen in sessions that belong to their street alone; each visit a few times within minutes."""
    point, group, time, value = [], [], [], []
    for street in range(count):
        marks, errors = rng.normal(0, 5, 4), rng.normal(0, 0.05, 3)
        for session in range(3):
            for mark in range(4):
                if rng.random() < 0.2:
                    continue
                short = rng.normal(0, 0.02)
                for again in range(1 + rng.integers(0, close)):
                    point.append(4 * street + mark)
                    group.append(f"S{3 * street + session}")
                    time.append(600.0 * session + 60.0 * mark + again)
                    value.append(marks[mark] + errors[session] + short + rng.normal(0, 0.01))
    return np.array(value), np.array(point), np.array(time), np.array(group)


def test_each_row_is_in_one_piece_and_pieces_share_nothing():
    rng = np.random.default_rng(3)
    _, point, _, group = streets(rng, 6)
    mixed = rng.permutation(len(point))
    pieces = apart(point[mixed], group[mixed])
    assert len(pieces) == 6
    assert sorted(np.concatenate(pieces)) == list(range(len(point)))
    assert all((np.diff(rows) > 0).all() for rows in pieces)
    for labels in (point[mixed], group[mixed]):
        found = [set(labels[rows].tolist()) for rows in pieces]
        assert sum(map(len, found)) == len(set(labels.tolist()))
    assert apart(point[:0], group[:0]) == []


def test_a_large_piece_is_cut_between_groups():
    rng = np.random.default_rng(4)
    point, group = rng.integers(0, 20, 900), rng.integers(0, 60, 900)
    pieces = apart(point, group, most=100)
    assert sorted(np.concatenate(pieces)) == list(range(900))
    assert len(pieces) >= 8
    assert max(map(len, pieces)) < 100 + np.bincount(group).max()
    assert sum(len(np.unique(group[rows])) for rows in pieces) == len(np.unique(group))


@pytest.mark.parametrize("seed", range(4))
def test_pieces_give_what_all_at_once_gives(monkeypatch, seed):
    value, point, time, group = streets(np.random.default_rng(seed), 12)
    visits = visits_of(point, time, group, close=5.0, independent_after=30.0)
    found = repeatability(value, point, group, visits)
    monkeypatch.setattr(repeats, "apart", lambda point, group: [np.arange(len(point))])
    at_once = repeatability(value, point, group, visits)
    for name in ("random", "common", "absolute", "near", "rho"):
        one, other = getattr(found, name), getattr(at_once, name)
        assert [one.value, one.low, one.high, one.dof] == pytest.approx(
            [other.value, other.low, other.high, other.dof], rel=1e-6
        )


def test_a_season_cut_in_pieces_still_tells_its_spreads():
    """All sessions hang together by common marks; each cut frees what it shares on both sides: bands hold the truth."""
    held = []
    for seed in range(20):
        rng = np.random.default_rng(100 + seed)
        group = np.repeat(np.arange(600), 3)
        point = np.concatenate([rng.choice(12, 3, replace=False) for _ in range(600)])
        value = rng.normal(0, 5, 12)[point] + rng.normal(0, 0.03, 600)[group] + rng.normal(0, 0.02, len(group))
        visits = visits_of(point, 100.0 * np.arange(len(group)), group, close=1.0, independent_after=50.0)
        found = repeatability(value, point, group, visits)
        assert len(apart(point, group)) == 2
        held.append([found.random.low <= 0.02 <= found.random.high, found.common.low <= 0.03 <= found.common.high])
    assert (np.sum(held, axis=0) >= 16).all()  # 95 % bands: fewer than 17 of 20 have a chance of 2 in 100


def test_ten_thousand_sessions_take_no_square_of_them():
    rng = np.random.default_rng(5)
    value, point, time, group = streets(rng, 3500)
    visits = visits_of(point, time, group, close=5.0, independent_after=30.0)
    found = repeatability(value, point, group, visits)  # 14,000 marks by 10,500 sessions would be 1.2 GB a table
    assert found.groups > 10_000
    assert found.common.value == pytest.approx(0.05, rel=0.05)
    assert found.random.value == pytest.approx(np.hypot(0.02, 0.01), rel=0.05)
