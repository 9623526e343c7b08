"""Sections of two edges: feet, weights, widths, and why there is none."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.linework.sections import BEYOND, CROSSED, FOUND, GAP, TOO_FAR, sections

EAST, NORTH = 2_228_500.0, 446_000.0


def edge(*places):
    return np.asarray(places, float) + np.array([EAST, NORTH])


def turned(places, azimuth):
    """The same edge turned about its origin, by degrees clockwise."""
    angle = np.radians(azimuth)
    east, north = (np.asarray(places, float)).T
    return np.column_stack(
        [EAST + east * np.cos(angle) + north * np.sin(angle), NORTH - east * np.sin(angle) + north * np.cos(angle)]
    )


@pytest.mark.parametrize("azimuth", [0.0, 80.0, 201.0, 359.5])
def test_a_foot_is_square_and_weighs_the_shots_it_lies_between(azimuth):
    front = turned([[0, 0], [0, 25], [0, 50]], azimuth)
    back = turned([[5, 40], [5, 15], [5, -10]], azimuth)
    found = sections(front, back, reach=10, gap=30)
    assert found.why.tolist() == [FOUND, FOUND, BEYOND, FOUND, FOUND, BEYOND]
    np.testing.assert_allclose(found.width[found.found], 5.0, atol=1e-8)
    # the shot at 0 lies 15 of 25 ft behind the shot at 15, the one at 25 lies 15 of 25 ft behind the one at 40
    np.testing.assert_allclose(found.share[:2], [0.6, 0.6], atol=1e-9)
    assert (found.before[:2].tolist(), found.after[:2].tolist()) == ([1, 0], [2, 1])
    np.testing.assert_allclose(found.station, [0, 25, 50, 40, 15, np.nan], atol=1e-8)
    assert set(found.side[found.found].tolist()) == {1}


def test_an_end_is_carried_on_by_the_slack_and_no_farther():
    front, back = edge((0, 0), (0, 25)), edge((5, 0.2), (5, 24.5))
    found = sections(front, back, reach=10, gap=30, slack=0.25)
    assert found.why.tolist() == [FOUND, BEYOND, FOUND, FOUND]
    assert found.share[0] == pytest.approx(-0.2 / 24.3)
    assert found.width[0] == pytest.approx(5.0)


def test_a_gap_and_a_wide_place_have_no_section_but_beside_a_shot_there_is_one():
    front = edge((0, 0), (0, 40), (0, 80))
    back = edge((5, 0), (5, 80), (30, 100))
    found = sections(front, back, reach=10, gap=50, slack=0.1)
    assert found.why.tolist() == [FOUND, GAP, FOUND, FOUND, FOUND, BEYOND]
    assert sections(front, back, reach=4, gap=90).why[:3].tolist() == [TOO_FAR] * 3


def test_edges_that_cross_keep_the_longer_side_only():
    front = edge((0, 0), (0, 20), (0, 40), (0, 60), (0, 80))
    back = edge((5, 0), (5, 20), (5, 40), (-5, 60), (-5, 80))
    found = sections(front, back, reach=10, gap=30)
    assert found.why[:5].tolist() == [FOUND, FOUND, FOUND, CROSSED, CROSSED]
    even = sections(front[:4], edge((5, 0), (5, 20), (-5, 40), (-5, 60)), reach=10, gap=30)
    assert not even.found.any()
    assert set(even.why.tolist()) == {CROSSED}


def test_the_same_sections_whichever_way_the_lines_run():
    generator = np.random.default_rng(5)
    front = edge(*[(generator.normal(0, 0.03), at) for at in np.arange(0, 200, 21)])
    back = edge(*[(5 + generator.normal(0, 0.03), at) for at in np.arange(-3, 190, 24)])

    def weighed(found, one, two):
        rows = {}
        for place in np.flatnonzero(found.found):
            own, other = (one, two) if found.edge[place] == 0 else (two, one)
            foot = (1 - found.share[place]) * other[found.before[place]] + found.share[place] * other[
                found.after[place]
            ]
            rows[tuple(own[found.shot[place]].round(6))] = (*foot.round(6), round(found.width[place], 6))
        return rows

    there = weighed(sections(front, back, reach=10, gap=30), front, back)
    back_again = weighed(sections(front[::-1], back, reach=10, gap=30), front[::-1], back)
    swapped = weighed(sections(back, front, reach=10, gap=30), back, front)
    assert there == back_again == swapped
    assert len(there) == 17


def test_what_is_no_edge_is_refused():
    for bad in ([[0, 0]], [[0, 0], [0, np.nan]], [0, 1]):
        with pytest.raises(GeometryInputError, match="two or more finite places"):
            sections(bad, [[0, 0], [0, 1]], reach=1, gap=1)
    with pytest.raises(GeometryInputError, match="must not be negative"):
        sections([[0, 0], [0, 1]], [[0, 0], [0, 1]], reach=-1, gap=1)


def test_sections_beside_a_crossing_say_so_and_those_a_leg_away_do_not():
    at = np.arange(0.0, 121, 20)
    front = edge(*((0, each) for each in at))
    back = edge(*((5 if each < 70 else -5, each) for each in at))
    found = sections(front, back, reach=10, gap=30)
    assert found.why[:4].tolist() == [FOUND] * 4
    assert found.crossing.reshape(2, -1).tolist() == [[False, False, False, True, True, False, False]] * 2
    # halfway between, the foot lies on the leg that crosses, and the width is that of the crossing
    between = sections(edge(*((0, each) for each in (0, 20, 40, 65, 80, 100))), back, reach=10, gap=30)
    assert between.width[3] < 4
    assert between.crossing[2:4].tolist() == [False, True]
    assert not sections(front, edge(*((5, each) for each in at)), reach=10, gap=30).crossing.any()
