"""Pieces of two edges that run beside each other."""

import time

import numpy as np
import pytest

from geoqa.steps.surfaces.pieces import Piece, paired


def piece(name, start, end):
    at = np.array([start, end], dtype=float)
    return Piece(name=name, kind="walk-back", code="WKB", rows=np.arange(2), at=at, passed_over=0, again=0)


def scattered(rng, name, count, size):
    starts = rng.uniform(0, size, (count, 2))
    return [piece(f"{name}{k}", start, start + rng.normal(0, 30, 2)) for k, start in enumerate(starts)]


def slowly(one, other, widest):
    """Each with each, as a person would do it."""
    ways = []
    for a, mine in enumerate(one):
        for b, beside in enumerate(other):
            for turned in (False, True):
                apart = np.hypot(*(mine.at - (beside.at[::-1] if turned else beside.at)).T).max()
                if apart <= widest:
                    ways.append((float(apart), a, b, turned))
    found, taken = {}, set()
    for _, a, b, turned in sorted(ways):
        if a not in found and b not in taken:
            found[a] = (b, turned)
            taken.add(b)
    alone = [(f"{each.name}", None, False) for b, each in enumerate(other) if b not in taken]
    named = [(each.name, other[found[a][0]].name if a in found else None, found.get(a, (0, False))[1])
             for a, each in enumerate(one)]  # fmt: skip
    return named + alone


@pytest.mark.parametrize("seed", range(6))
def test_the_closest_pair_is_taken_first_as_by_trying_each_with_each(seed):
    rng = np.random.default_rng(seed)
    one, other = scattered(rng, "A", 40, 150.0), scattered(rng, "B", 35, 150.0)
    other += [piece(f"C{k}", each.at[1] + 1.0, each.at[0] + 1.0) for k, each in enumerate(one[:10])]
    made = [(first.name, second and second.name, turned) for first, second, turned in paired(one, other, 20.0)]
    assert made == slowly(one, other, 20.0)
    assert sum(second is not None for _, second, _ in made) >= 10


def test_an_edge_without_another_stands_alone():
    (alone,) = paired([piece("A", (0, 0), (50, 0))], [], 20.0)
    assert (alone[0].name, alone[1:]) == ("A", (None, False))
    assert [each[0].name for each in paired([], [piece("B", (0, 0), (50, 0))], 20.0)] == ["B"]


def test_ten_thousand_edges_are_not_tried_each_with_each():
    rng = np.random.default_rng(1)
    one = scattered(rng, "A", 10_000, 100_000.0)
    other = [piece(f"B{k}", each.at[0] + 5.0, each.at[1] + 5.0) for k, each in enumerate(one)]
    begun = time.process_time()
    made = paired(one, other, 20.0)
    assert time.process_time() - begun < 10.0  # a hundred million pairs took half an hour
    assert sum(second is not None for _, second, _ in made) >= 9_990
