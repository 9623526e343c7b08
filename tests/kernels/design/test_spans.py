"""Stretches of lines outside of an area, and what is left without them."""

import numpy as np
import pytest
import shapely

from geoqa.kernels.design.element_making import from_bulges, from_vertices
from geoqa.kernels.design.spans import left_of, outside_of, spans_of


def test_a_line_that_leaves_and_returns_has_its_stretches_outside():
    line = from_vertices([[0, 0], [100, 0], [100, 100]], [0, 0, 0], start_station=1000.0)
    area = shapely.box(20, -10, 60, 10).union(shapely.box(90, 50, 110, 120))
    found = outside_of(line, area, least=0.01)
    assert found.start.tolist() == pytest.approx([1000, 1060])
    assert found.end.tolist() == pytest.approx([1020, 1150])


def test_stations_on_an_arc_are_those_of_the_arc():
    half = from_bulges([[0, 0], [0, 200]], [-1.0, 0], [0, 0])
    found = outside_of(half, shapely.box(-150, -10, 150, 100), least=0.01)
    assert found.start.tolist() == pytest.approx([50 * np.pi], abs=0.01)
    assert found.end.tolist() == pytest.approx([100 * np.pi], abs=0.01)


def test_lines_inside_outside_and_none_at_all():
    lines = from_vertices([[0, 0], [9, 0], [500, 0], [600, 0]], [0, 0, 3, 3])
    found = outside_of(lines, shapely.box(-5, -5, 50, 5), least=0.01)
    assert [found.line.tolist(), found.start.tolist(), found.end.tolist()] == [[3], [0.0], [100.0]]
    assert len(outside_of(from_vertices(np.zeros((0, 2)), []), shapely.box(0, 0, 1, 1), least=0.01).line) == 0


def test_what_is_left_of_a_line_and_of_one_without_ends():
    left = left_of(np.array([0, 1, 2]), np.array([0.0, np.nan, 0.0]), np.array([10.0, np.nan, 5.0]),
                   spans_of([(0, -5.0, 2.0), (0, 8.0, 20.0), (2, 0.0, 5.0)]))  # fmt: skip
    assert left.line.tolist() == [0, 1]
    assert left.start[0], left.end[0] == (2.0, 8.0)
