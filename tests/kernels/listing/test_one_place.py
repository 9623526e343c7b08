"""Findings of one place under one number: held against a plain search of all pairs."""

import numpy as np
import pytest

from geoqa.kernels.listing.one_place import one_place, unbroken


def by_all_pairs(subject, start, end, place, finding, shot, near):
    """The same by comparing every finding with every other until nothing changes."""
    group = np.arange(len(subject))
    stationed = np.isfinite(start)
    for _ in range(len(subject)):
        for one in range(len(subject)):
            for other in range(len(subject)):
                same = subject[one] == subject[other]
                gap = max(start[one], start[other]) - min(end[one], end[other])
                along = same and stationed[one] and stationed[other] and gap <= near
                beside = (
                    same
                    and not (stationed[one] and stationed[other])
                    and np.hypot(*(place[one] - place[other])) <= near
                )
                shared = set(shot[finding == one]) & set(shot[finding == other])
                if along or beside or shared:
                    group[[one, other]] = min(group[one], group[other])
    return group


@pytest.mark.parametrize("seed", range(12))
def test_groups_are_those_of_a_search_of_all_pairs(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 25))
    subject = rng.integers(0, 3, count)
    start = rng.uniform(0, 600, count)
    end = start + rng.choice([0.0, 80.0], count)
    start[rng.uniform(size=count) < 0.3] = np.nan
    place = rng.uniform(0, 200, (count, 2))
    # stations and places of one subject agree in the kernel's world: those with a station are not near by place alone
    place[np.isfinite(start)] += 1e6 * np.arange(1, count + 1)[np.isfinite(start), None]
    finding, shot = rng.integers(0, count, 6), rng.integers(0, 8, 6)
    mine = one_place(subject, start, end, place, finding, shot, near=30.0)
    theirs = by_all_pairs(subject, start, end, place, finding, shot, 30.0)
    assert np.array_equal(mine[:, None] == mine, theirs[:, None] == theirs)


def test_a_long_stretch_holds_what_begins_behind_a_short_one():
    start = np.array([0.0, 10.0, 90.0])
    end = np.array([100.0, 12.0, 95.0])
    none = np.zeros(0, dtype=np.int64)
    assert one_place(
        np.zeros(3, dtype=np.int64), start, end, np.full((3, 2), np.nan), none, none, near=5.0
    ).tolist() == [
        0,
        0,
        0,
    ]


def test_groups_are_numbered_by_their_first_finding_and_subjects_stay_apart():
    station = np.array([50.0, 10.0, 52.0])
    none = np.zeros(0, dtype=np.int64)
    place = np.full((3, 2), np.nan)
    assert one_place(np.array([1, 0, 1]), station, station, place, none, none, near=30.0).tolist() == [0, 1, 0]
    assert (
        one_place(np.zeros(0, dtype=np.int64), *[np.zeros(0)] * 2, np.zeros((0, 2)), none, none, near=1.0).tolist()
        == []
    )


@pytest.mark.parametrize("seed", range(8))
def test_neighbours_alike_are_those_with_nothing_else_between_them(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 40))
    line, alike = rng.integers(0, 3, count), rng.integers(0, 3, count)
    station = rng.permutation(2000)[:count].astype(float)
    station[rng.uniform(size=count) < 0.1] = np.nan
    found = {frozenset(pair) for pair in unbroken(line, station, station, alike, reach=150.0).tolist()}
    wanted = set()
    for one in range(count):
        for other in range(count):
            far = station[other] - station[one]
            between = (line == line[one]) & (station > station[one]) & (station < station[other])
            same = line[one] == line[other] and alike[one] == alike[other] != 0
            if same and 0 < far <= 150.0 and not between.any():
                wanted.add(frozenset((one, other)))
    assert found == wanted
