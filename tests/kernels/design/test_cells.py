"""A sparse grid never loses an element that comes near: against every distance measured one by one."""

import numpy as np
import pytest
import shapely

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.cells import index_elements, own_cells, same_cell, window
from geoqa.kernels.design.element_making import from_vertices

DRAW = np.random.default_rng(9)
START = DRAW.uniform(0, 300, (60, 2))
ENDS = np.stack([START, START + DRAW.normal(0, 25, (60, 2))], axis=1)
ELEMENTS = from_vertices(ENDS.reshape(-1, 2), np.repeat(np.arange(60), 2))
POINTS = DRAW.uniform(-20, 320, (200, 2))
LEGS = shapely.linestrings(ENDS)
TRUTH = shapely.distance(LEGS[None, :], shapely.points(POINTS)[:, None])


def listed(index, ranges):
    """Elements listed for each point."""
    found, at = [], 0
    for count in ranges.per_point:
        spans = zip(ranges.start[at : at + count], ranges.size[at : at + count], strict=True)
        found.append({each for start, size in spans for each in index.entry[start : start + size].tolist()})
        at += count
    return found


@pytest.mark.parametrize("reach", [1.0, 10.0, 80.0])
def test_a_window_lists_every_element_within_its_radius(reach):
    index = index_elements(ELEMENTS, reach=reach)
    for radius in (0.5, 10.0, 60.0):
        found = listed(index, window(index, *POINTS.T, None, np.full(len(POINTS), radius)))
        wanted = [set(np.flatnonzero(row <= radius).tolist()) for row in TRUTH]
        assert all(near <= there for near, there in zip(wanted, found, strict=True))
        assert any(near for near in wanted)


def test_a_small_window_leaves_most_elements_out():
    index = index_elements(ELEMENTS, reach=5.0)
    found = listed(index, window(index, *POINTS.T, None, np.full(len(POINTS), 1.0)))
    assert np.mean([len(each) for each in found]) < 10


def test_the_cell_of_a_point_lists_all_within_the_margin():
    index = index_elements(ELEMENTS, reach=80.0)
    found = listed(index, same_cell(index, *POINTS.T, None))
    wanted = [set(np.flatnonzero(row <= index.margin).tolist()) for row in TRUTH]
    assert sum(len(each) for each in wanted) > 10
    assert all(near <= there for near, there in zip(wanted, found, strict=True))


def test_groups_are_kept_apart():
    group = np.arange(60) % 2
    index = index_elements(ELEMENTS, reach=10.0, element_group=group)
    code = np.zeros(len(POINTS), dtype=int)
    found = listed(index, window(index, *POINTS.T, code, np.full(len(POINTS), 30.0)))
    assert {group[each] for there in found for each in there} == {0}
    wanted = [set(np.flatnonzero((row <= 30.0) & (group == 0)).tolist()) for row in TRUTH]
    assert all(near <= there for near, there in zip(wanted, found, strict=True))


def test_points_of_one_cell_have_its_number_and_points_outside_that_of_the_nearest():
    index = index_elements(from_vertices([[0, 0], [100, 0]], [0, 0]), reach=10.0)
    inside = own_cells(index, np.array([50.0, 50.0 + 1e-9, -1e6]), np.array([0.0, 0.0, -1e6]), None)
    assert inside[0] == inside[1] != inside[2]
    assert inside[2] == 0


@pytest.mark.parametrize("reach", [0.0, -1.0, np.nan, np.inf])
def test_a_reach_that_is_no_length_is_refused(reach):
    with pytest.raises(GeometryInputError, match="positive length"):
        index_elements(ELEMENTS, reach=reach)


def test_groups_that_do_not_fit_are_refused():
    with pytest.raises(GeometryInputError, match="one for each of 60"):
        index_elements(ELEMENTS, reach=1.0, element_group=[0, 1])
