"""Curves drawn as chords: found on any circle, and nothing else taken for one."""

import numpy as np
import pytest

from geoqa.kernels.design.chorded_curves import as_arcs, chorded_curves
from geoqa.kernels.design.element_making import from_bulges, from_vertices
from geoqa.kernels.design.station import candidates


def drawn(radius, chord, angle, *, lead=60.0, decimals=3, right=True, turned=0.3, far=(2_228_000.0, 446_000.0)):
    """A tangent, a curve of equal chords with a shorter one at its end, and a tangent."""
    step = 2 * np.arcsin(chord / 2 / radius)
    at = np.append(np.arange(0, angle - 1e-9, step), angle)
    arc = np.column_stack([radius * np.sin(at), radius * (1 - np.cos(at))])
    out = np.array([np.cos(angle), np.sin(angle)])
    places = np.vstack([[[-lead, 0]], arc, [arc[-1] + lead * out]]) if lead else arc
    if right:
        places = places * [1, -1]
    turn = np.array([[np.cos(turned), -np.sin(turned)], [np.sin(turned), np.cos(turned)]])
    return (places @ turn.T + far).round(decimals)


def found(vertices, least=0.01, rounding=0.02):
    return chorded_curves(from_vertices(vertices, np.zeros(len(vertices))), least=least, rounding=rounding)


@pytest.mark.parametrize("right", [True, False])
@pytest.mark.parametrize(
    ("radius", "chord", "angle"),
    [(50, 25, np.pi / 2), (50, 25, np.pi), (25, 10, np.pi / 2), (500, 25, 0.6), (1000, 50, 0.4), (35, 5, 1.6)],
)
def test_a_chorded_curve_is_found_with_its_radius_and_middle_ordinate(radius, chord, angle, right):
    for seed in range(20):
        curves = found(drawn(radius, chord, angle, right=right, turned=seed * 0.31, decimals=2))
        assert len(curves) == 1
        assert curves.radius[0] == pytest.approx(radius, rel=0.01)
        assert curves.ordinate[0] == pytest.approx(radius - np.sqrt(radius**2 - chord**2 / 4), rel=0.02)
        assert curves.sense[0] == (1 if right else -1)
        assert curves.start_station[0] == pytest.approx(60.0, abs=0.02)


def test_two_chords_between_tangents_are_a_curve_and_two_legs_of_a_bend_are_none():
    assert len(found(drawn(50, 38.268, np.pi / 4 * 2 * 0.99999))) == 1
    assert len(found([[0, 0], [30, 0], [55, 10], [80, 20], [120, 40]])) == 0


RECTANGLE = [[0, 0], [40, 0], [40, 20], [0, 20], [0, 0]]
SQUARE = [[0, 0], [30, 0], [30, 30], [0, 30], [0, 0]]
OCTAGON = [[20 * np.cos(each), 20 * np.sin(each)] for each in np.radians(np.arange(0, 361, 45))]
BAY = [[0, 0], [20, 0], [26, 3.5], [33, 3.5], [39, 0], [60, 0]]
CHAMFER = [[0, 0], [40, 0], [45, 5], [45, 50]]
ZIGZAG = [[25.0 * each, 3.0 * (each % 2)] for each in range(8)]


@pytest.mark.parametrize("vertices", [RECTANGLE, SQUARE, OCTAGON, BAY, CHAMFER, ZIGZAG, [[0, 0], [50, 0]]])
def test_corners_buildings_and_bends_are_no_curves(vertices):
    assert len(found(vertices)) == 0


def test_a_bay_of_three_equal_sides_does_not_leave_as_a_tangent():
    side, angles = 8.0, np.cumsum([0, 30, 30, 30, 30])
    at = np.array([[0.0, 0.0], [30.0, 0.0]])
    for angle in np.radians(angles[1:4]):
        at = np.vstack([at, at[-1] + side * np.array([np.cos(angle), np.sin(angle)])])
    out = np.radians(angles[4])
    assert len(found(np.vstack([at, at[-1] + 30 * np.array([np.cos(out), np.sin(out)])]))) == 0


def test_a_dense_curve_and_a_spiral_of_dense_chords_are_left_alone():
    assert len(found(drawn(50, 1.5, np.pi / 2))) == 0  # 0.006
    t = np.linspace(0, 1.2, 120)
    clothoid = np.cumsum(np.column_stack([np.cos(t**2), np.sin(t**2)]), axis=0)
    assert len(found(clothoid)) == 0


@pytest.mark.parametrize("seed", range(5))
def test_a_wandering_path_is_no_curve(seed):
    rng = np.random.default_rng(seed)
    path = np.cumsum(np.column_stack([rng.uniform(15, 35, 40), rng.normal(0, 6, 40)]), axis=0)
    assert len(found(path)) == 0


def test_true_arcs_are_left_alone_and_lines_do_not_run_into_each_other():
    arcs = from_bulges([[0, 0], [0, 20], [0, 40]], [-0.2, -0.2, 0], [0, 0, 0])
    assert len(chorded_curves(arcs, least=0.01, rounding=0.02)) == 0
    two = np.vstack([drawn(50, 25, np.pi / 2), drawn(30, 12, np.pi / 2, right=False)])
    line = np.repeat([0, 1], [len(two) - len(drawn(30, 12, np.pi / 2)), len(drawn(30, 12, np.pi / 2))])
    curves = chorded_curves(from_vertices(two, line), least=0.01, rounding=0.02)
    assert curves.line.tolist() == [0, 1]
    assert curves.radius == pytest.approx([50, 30], rel=0.01)


def test_shots_on_the_true_arc_lie_on_the_arc_that_is_made_of_the_chords():
    vertices = drawn(50, 25, np.pi / 2, turned=0.0, far=(0, 0), right=False)
    chords = from_vertices(vertices, np.zeros(len(vertices)))
    arcs = as_arcs(chords, chorded_curves(chords, least=0.01, rounding=0.02))
    at = np.linspace(0.02, np.pi / 2 - 0.02, 40)
    shots = np.column_stack([50 * np.sin(at), 50 * (1 - np.cos(at))])
    assert np.abs(candidates(shots, arcs, reach=5.0).offset).max() < 0.005
    assert np.abs(candidates(shots, chords, reach=5.0).offset).max() > 1.5
    assert arcs.start_station[-1] == pytest.approx(60 + 25 * np.pi, abs=0.01)
