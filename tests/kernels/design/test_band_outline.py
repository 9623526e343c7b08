"""Edges of bands drawn in one go, against the buffer of an independent library."""

import numpy as np
import pytest
import shapely

from geoqa.kernels.design import band as band_module
from geoqa.kernels.design.band import bands
from geoqa.kernels.design.band_outline import outline
from geoqa.kernels.design.element_making import from_vertices

LENGTH = 100.0


def drawn(bend, left, right):
    """Band of two legs of 100 with a bend between them, in degrees, left positive."""
    heading = np.radians([0.0, bend])
    ahead = np.column_stack([np.cos(heading), np.sin(heading)])
    aside = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    vertex = np.array([[0.0, 0.0], [LENGTH, 0.0], [LENGTH, 0.0] + LENGTH * ahead[1]])
    middle, of = vertex[[0, 1, 1, 2]], np.array([0, 0, 1, 1])
    made = outline(
        middle, middle + left * aside[of], middle - right * aside[of], first=np.array([0, 2, 4]),
        length=np.array([LENGTH, LENGTH]), curved=np.array([False, False]), max_sagitta=1e-5, grid=1e-9,
    )  # fmt: skip
    return made, shapely.LineString(vertex)


def one_sided(line, width):
    return line.buffer(width, cap_style="flat", quad_segs=400)


@pytest.mark.parametrize("bend", [0, 15, -30, 55])
def test_a_band_of_one_width_is_the_buffer_of_its_line(bend):
    made, line = drawn(bend, 2.0, 2.0)
    assert made.is_valid
    assert made.symmetric_difference(one_sided(line, 2.0)).area < 1e-3


@pytest.mark.parametrize("bend", [0, 20, -20])
def test_a_band_of_two_widths_lies_left_and_right_of_its_line(bend):
    made, line = drawn(bend, 1.0, 3.0)
    left, right = (line.buffer(width, single_sided=True, quad_segs=400).area for width in (1.0, -3.0))
    assert made.area == pytest.approx(left + right, rel=1e-2)
    assert made.distance(shapely.Point(50.0, 1.0)) == pytest.approx(0, abs=1e-9)
    assert made.distance(shapely.Point(50.0, 1.5)) == pytest.approx(0.5)
    assert made.distance(shapely.Point(50.0, -3.5)) == pytest.approx(0.5)


def test_a_sharp_bend_and_a_leg_too_short_for_its_band_are_left_to_strips():
    assert drawn(65, 2.0, 2.0)[0] is None
    assert drawn(55, 95.0, 95.0)[0] is None


def test_a_band_without_width_has_no_area():
    assert drawn(0, 0.0, 0.0)[0] is None or drawn(0, 0.0, 0.0)[0].area == 0


@pytest.mark.parametrize("seed", range(6))
def test_many_bands_at_once_are_those_of_each_line_alone(seed):
    rng = np.random.default_rng(seed)
    vertices, line = [], []
    for number in range(40):
        count = int(rng.integers(2, 7))
        turn = np.cumsum(rng.choice([0.0, 1.0], count, p=[0.4, 0.6]) * rng.normal(0, 0.5, count))
        steps = rng.uniform(0.05, 60, count)[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
        vertices += [*(np.cumsum(steps, axis=0) + rng.uniform(-1e3, 2e6, 2))]
        line += [number] * count
    vertices, line = np.array(vertices), np.array(line)
    left, right = rng.choice([0.0, 0.1, 0.5], 40), rng.choice([0.0, 0.1, 3.0, np.nan], 40)
    together = bands(from_vertices(vertices, line), left, right)
    alone = bands_one_by_one(from_vertices(vertices, line), left, right)
    assert [shapely.to_wkt(each, 9) for each in together] == [shapely.to_wkt(each, 9) for each in alone]
    assert sum(not each.is_empty for each in together) > 10


def bands_one_by_one(elements, left, right):
    """The same, with nothing drawn at once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(band_module, "outlines", lambda *args, **kwargs: {})
        return bands(elements, left, right)
