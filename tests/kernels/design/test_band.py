"""Bands against buffers and against the offsets they stand for."""

import numpy as np
import pytest
import shapely

from geoqa.errors import GeometryInputError
from geoqa.kernels.design import band as drawing
from geoqa.kernels.design.along_elements import chords
from geoqa.kernels.design.band import bands
from geoqa.kernels.design.element_making import from_bulges, from_vertices
from geoqa.kernels.design.station import nearest

ZIGZAG = np.array([[0, 0], [40, 0], [60, 30], [60, 30], [55, 80], [90, 85], [91, 20]], dtype=float)
FAR = np.array([13_000_000.0, 300_000.0])


def test_an_even_band_is_a_flat_buffer():
    (band,) = bands(from_vertices(ZIGZAG, [0] * 7), 4.0, 4.0, max_sagitta=0.001)
    buffer = shapely.LineString(ZIGZAG).buffer(4.0, cap_style="flat", quad_segs=64)
    assert band.is_valid
    assert band.symmetric_difference(buffer).area < 0.05


def test_a_shot_is_inside_its_band_exactly_if_its_offset_is_within_the_widths():
    path = np.array([[0, 0], [50, 10], [90, 60], [150, 60], [180, 20]]) + FAR
    e = from_bulges(path, [0.3, 0.0, -0.4, 0.1, 0.0], [0] * 5)
    (band,) = bands(e, 1.0, 3.0, max_sagitta=1e-4)
    points = FAR + np.random.default_rng(1).uniform([-20, -20], [200, 100], (20_000, 2))
    found = nearest(points, e, reach=20.0)
    within = (found.offset >= -1.0) & (found.offset <= 3.0) & (found.end == 0)
    clear = np.minimum(np.abs(found.offset + 1), np.abs(found.offset - 3)) > 2e-3
    clear |= np.isnan(found.offset)
    assert within.sum() > 500
    np.testing.assert_array_equal(shapely.contains_xy(band, points)[clear], within[clear])


def test_the_band_of_a_half_circle_has_the_area_of_a_half_ring():
    (band,) = bands(from_bulges([[0, 0], [0, 20]], [-1.0, 0.0], [0, 0]), 2.0, 1.0, max_sagitta=1e-5)
    assert band.area == pytest.approx(np.pi / 2 * (12.0**2 - 9.0**2), rel=1e-4)


def test_a_band_wider_than_the_radius_ends_at_the_centre():
    (band,) = bands(from_bulges([[0, 0], [0, 20]], [-1.0, 0.0], [0, 0]), 2.0, 15.0, max_sagitta=1e-5)
    assert band.area == pytest.approx(np.pi / 2 * 12.0**2, rel=1e-4)


def test_a_closed_line_has_a_band_with_a_hole_and_no_ends():
    square = from_vertices([[0, 0], [0, 30], [30, 30], [30, 0], [0, 0]], [0] * 5)
    (band,) = bands(square, 1.0, 2.0, max_sagitta=1e-5)
    assert len(band.interiors) == 1
    assert band.area == pytest.approx(30 * 4 * 1 + np.pi + (30**2 - 26**2), rel=1e-4)


def test_a_line_that_turns_straight_back_keeps_both_widths_at_the_turn():
    (band,) = bands(from_vertices([[0, 0], [0, 50], [0, 10]], [0, 0, 0]), 1.0, 2.0)
    east, north = 1.4, 1.2  # on a circle of 1.84 about the turn: inside on the right, outside on the left
    assert band.contains(shapely.Point(east, 50 + north))
    assert not band.contains(shapely.Point(-east, 50 + north))
    assert band.contains(shapely.Point(-0.5, 50.5))


def test_lines_without_a_limit_or_without_length_have_an_empty_band():
    e = from_vertices([[0, 0], [0, 50], [5, 0], [5, 50], [9, 9], [9, 9], [1, 1], [2, 2]], [0, 0, 1, 1, 2, 2, 3, 3])
    drawn = bands(e, [np.nan, 0.0, 1.0, 0.0], [1.0, 0.5, 1.0, 0.0])
    assert [band.is_empty for band in drawn] == [True, False, True, True]
    assert bands(from_vertices([], []), 1.0, 1.0) == []


def test_bands_far_from_the_origin_are_as_good_as_near_it():
    (near,), (far,) = (bands(from_vertices(ZIGZAG + move, [0] * 7), 0.2, 0.3) for move in (0.0, FAR))
    assert far.area == pytest.approx(near.area, abs=1e-5)


@pytest.mark.parametrize(
    ("left", "right", "sagitta", "message"),
    [
        (-1.0, 1.0, 0.01, "'left' is negative"),
        ([1.0, 2.0], 1.0, 0.01, r"'left' have shape \(2,\); give one, or one for each of 1 lines"),
        (1.0, np.inf, 0.01, "'right' is negative or endless"),
        (1.0, 1.0, 0.0, "sagitta of 0.0; give a positive length"),
    ],
)
def test_a_width_that_means_nothing_is_refused(left, right, sagitta, message):
    with pytest.raises(GeometryInputError, match=message):
        bands(from_vertices(ZIGZAG, [0] * 7), left, right, max_sagitta=sagitta)


def test_chords_of_the_line_run_through_the_middle_of_an_even_band():
    e = from_bulges([[0, 0], [60, 0], [60, 40]], [0.5, -0.2, 0.0], [0, 0, 0])
    (band,) = bands(e, 0.5, 0.5, max_sagitta=1e-3)
    middle = shapely.LineString(chords(e, max_sagitta=1e-3).coordinates)
    assert band.buffer(1e-2).contains(middle)
    assert band.exterior.distance(middle.interpolate(0.5, normalized=True)) == pytest.approx(0.5, abs=3e-3)


def test_tangled_lines_give_valid_bands():
    rng = np.random.default_rng(3)
    path = FAR + rng.normal(0, 30, (300, 2))
    bulges = np.where(rng.random(300) < 0.5, rng.normal(0, 0.7, 300), 0.0)
    e = from_bulges(path, bulges, np.repeat(np.arange(50), 6))
    assert all(band.is_valid and not band.is_empty for band in bands(e, 1.0, 30.0))


def _wanderers(seed, lines=120):
    """Lines that bend a little or much, in legs and arcs, some too short for the inside of their band."""
    draw = np.random.default_rng(seed)
    places, bulges, line = [], [], []
    for number in range(lines):
        count = int(draw.integers(2, 30))
        turn = draw.normal(0, draw.choice([1e-4, 0.05, 0.4, 1.0]), count)
        leg = draw.uniform(*draw.choice([(8.0, 12.0), (1.0, 12.0)]), count)
        heading = np.cumsum(turn)
        places.append(np.cumsum(np.column_stack([np.sin(heading), np.cos(heading)]) * leg[:, None], axis=0))
        curved = draw.random(count) < draw.choice([0.0, 0.2])
        bulges.append(np.where(curved, draw.uniform(-0.4, 0.4, count), 0.0))
        line.append(np.full(count, number))
    return from_bulges(np.concatenate(places) + FAR, np.concatenate(bulges), np.concatenate(line)), lines


@pytest.mark.long
@pytest.mark.parametrize("seed", range(4))
def test_a_band_drawn_round_its_edge_is_the_union_of_its_strips(seed, monkeypatch):
    e, lines = _wanderers(seed)
    draw = np.random.default_rng(100 + seed)
    left, right = draw.choice([0.0, 0.15, 0.5, 3.0], lines), draw.choice([0.1, 0.5, 3.0], lines)
    in_one_go, taken = drawing.outline, []
    monkeypatch.setattr(drawing, "outline", lambda *a, **k: taken.append(in_one_go(*a, **k)) or taken[-1])
    all_in_one_go, many = drawing.outlines, []
    monkeypatch.setattr(drawing, "outlines", lambda *a, **k: many.append(all_in_one_go(*a, **k)) or many[-1])
    quick = bands(e, left, right)
    monkeypatch.setattr(drawing, "outline", lambda *a, **k: None)
    monkeypatch.setattr(drawing, "outlines", lambda *a, **k: {})
    slow = bands(e, left, right)
    assert 0.3 * lines < sum(one is not None for one in taken) + len(many[0]) < lines
    assert all(one.is_valid for one in quick)
    differ = [one.symmetric_difference(other).area for one, other in zip(quick, slow, strict=True)]
    edge = np.array([one.length for one in slow])
    assert (np.array(differ) <= 3e-6 * edge + 1e-9).all()
