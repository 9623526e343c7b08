"""Ponds on a line of shots: against a filling by brute force, shapely, a published curve, and chance."""

import time
import tracemalloc

import numpy as np
import pytest
import shapely

from geoqa.errors import GeometryInputError
from geoqa.kernels.baseline.profile import Profile, profile_at
from geoqa.kernels.drainage.errors_along import ErrorsAlong
from geoqa.kernels.drainage.standing_water import RISK, Rims, standing_water

FALL = 100.0 - 0.005 * np.arange(0, 500, 25.0)
AT = np.arange(0, 500, 25.0)


def alone(count, u):
    return ErrorsAlong.of_shots(np.full(count, u), np.zeros(count), np.full(count, -1))


def found(elevation, *, station=AT, u=0.02, **options):
    return standing_water(station, elevation, alone(len(elevation), u), **options)


def deepest(elevation):
    """Largest lower barrier of any three shots in a row of places, by trying them all."""
    best = -np.inf
    for k in range(1, len(elevation) - 1):
        for left in range(k):
            for right in range(k + 1, len(elevation)):
                best = max(best, min(elevation[left], elevation[right]) - elevation[k])
    return best


@pytest.mark.parametrize("seed", range(8))
def test_the_deepest_water_is_that_of_the_best_three_shots(seed):
    z = np.random.default_rng(seed).normal(100, 0.1, 12)
    water = found(z, station=AT[:12])
    assert water.depth[0] == pytest.approx(deepest(z))
    assert (np.diff(water.depth) <= 0).all()
    assert water.level == pytest.approx(z[water.low] + water.depth)


@pytest.mark.parametrize("seed", range(4))
def test_the_water_lies_where_a_level_line_is_above_the_profile(seed):
    z = np.random.default_rng(seed).normal(100, 0.1, 12)
    profile = shapely.LineString(np.column_stack([AT[:12], z]))
    water = found(z, station=AT[:12])
    for nth in range(len(water)):
        level, low = water.level[nth], AT[water.low[nth]]
        cuts = shapely.get_coordinates(shapely.intersection(profile, shapely.LineString([[0, level], [275, level]])))[
            :, 0
        ]
        assert water.start[nth] == pytest.approx(cuts[cuts < low].max())
        assert water.end[nth] == pytest.approx(cuts[cuts > low].min())


def test_the_low_point_of_a_published_parabola_turned_upside_down():
    # Ghilani and Wolf, Elementary Surveying, ch. 25: +3 % to -2.4 %, V 46+70 at 853.48, L 600 ft, high point 47+03.333
    # at 849.4800; mirrored at 853.48 it is a sag whose low point is at 857.4800
    sag = Profile(station=[4300, 4670, 5000], elevation=2 * 853.48 - np.array([842.38, 853.48, 845.56]),
                  curve_in=[0, 300, 0], curve_out=[0, 300, 0])  # fmt: skip
    station = np.arange(4370, 4971, 10 / 3)
    level = profile_at(sag, station)[0]
    water = found(level, station=station)
    assert station[water.low[0]] == pytest.approx(4703.333, abs=1e-3)
    assert level[water.low[0]] == pytest.approx(857.4800, abs=5e-5)
    # EVC, the lower end, holds the water: 846.28 mirrored
    assert water.level[0] == pytest.approx(2 * 853.48 - 846.28, abs=5e-5)
    assert len(found(level, station=station, outlets=[4703.333], near=1.0)) == 1
    assert found(level, station=station, outlets=[4703.333], near=1.0).depth[0] < 0


def test_a_line_walked_the_other_way_has_the_same_ponds():
    z = FALL - np.where(np.isin(AT, [200, 225]), 0.3, 0.0)
    one, other = found(z), standing_water(-AT[::-1], z[::-1], alone(20, 0.02))
    assert one.depth.tolist() == other.depth.tolist()
    assert (19 - other.low).tolist() == one.low.tolist()
    assert (19 - other.barrier).tolist() == one.barrier.tolist()
    assert one.start.tolist() == (-other.end).tolist()
    assert one.widening.tolist() == pytest.approx(other.widening.tolist())


def test_an_even_fall_holds_no_water_and_says_how_much_is_left():
    water = found(FALL)
    assert len(water) == 1
    assert water.depth[0] == pytest.approx(-0.125)
    assert np.isnan([water.start[0], water.end[0]]).all()
    assert water.widening[0] == 1


def test_an_inlet_drains_the_low_point_and_one_shot_too_high_keeps_the_water():
    z = 100 + np.abs(AT - 250) * 0.005
    assert found(z).depth[0] == pytest.approx(1.125)
    assert found(z, outlets=[250.0], near=1.0).depth[0] < 0
    assert found(z, outlets=[262.0]).depth[0] < 0  # between two shots
    z[10] += 0.2  # the shot at the inlet itself
    high = found(z, outlets=[250.0], near=1.0)
    assert sorted(AT[high.low].tolist()) == [225.0, 275.0]
    assert high.depth == pytest.approx([0.075, 0.075])


def test_ends_hold_nothing():
    assert found([100.0, 99.0, 98.0, 97.0], station=AT[:4]).depth[0] < 0
    assert found([100.0, 99.5, 99.0, 99.2], station=AT[:4]).depth[0] == pytest.approx(0.2)


def test_too_few_shots_give_nothing():
    assert len(found([100.0, 99.0], station=AT[:2])) == 0
    assert len(found([100.0, 99.0, 100.0], station=AT[:3], outlets=[25.0], near=1.0)) == 0


def test_a_shallow_dip_on_a_level_gutter_may_be_luck_and_on_a_graded_one_hardly():
    level, graded = np.full(20, 100.0), FALL.copy()
    level[10] -= 0.1
    graded[10] = graded[11] - 0.1
    many, few = found(level), found(graded)
    assert many.depth[0] == pytest.approx(0.1)
    assert few.depth[0] == pytest.approx(0.1)
    assert many.widening[0] > 1.5 > few.widening[0] >= 1
    # the bound of what nobody can tell from luck reaches back to no water at all, and no farther
    bound = many.depth[0] - 1.6448536269514722 * many.widening[0] * 0.02 * np.sqrt(2)
    assert -1e-5 < bound < 0


def test_a_deep_pond_is_as_sure_as_two_shots():
    water = found(FALL - np.where(AT == 250, 0.5, 0.0))
    assert 1 <= water.widening[0] < 1.05


def test_few_level_gutters_show_a_pond_by_chance():
    rng = np.random.default_rng(5)
    false = 0
    for _ in range(100):
        water = found(100 + rng.normal(0, 0.02, 20))
        false += bool((water.depth - 1.6448536 * water.widening * 0.02 * np.sqrt(2) > 0).any())
    assert false <= 100 * RISK


@pytest.mark.parametrize("given", [([0, 0], [1, 2]), ([0, 1], [1, 2, 3])])
def test_lines_that_cannot_be(given):
    with pytest.raises(GeometryInputError):
        standing_water(*given, alone(2, 1.0))


def test_water_beside_a_raised_inlet_stands_up_to_its_rim_and_no_higher():
    z = FALL[:9].copy()
    z[4:6] -= 0.5
    free = found(z, station=AT[:9])
    assert (free.depth[0], free.rim[0]) == (pytest.approx(0.375), -1)
    rims = Rims(np.array([112.0]), np.array([z[5] + 0.1]), np.full((1, 9), 0.03))
    water = found(z, station=AT[:9], rims=rims)
    assert (water.depth[0], water.rim[0], water.low[0]) == (pytest.approx(0.1), 0, 5)
    # a rim above the barrier takes nothing, and a shot as high as the rim keeps its water from it
    high = found(z, station=AT[:9], rims=rims._replace(elevation=np.array([z[3] + 1.0])))
    assert (high.depth[0], high.rim[0]) == (pytest.approx(free.depth[0]), -1)
    behind = found(z, station=AT[:9], rims=rims._replace(station=np.array([40.0]), elevation=np.array([z[3] - 0.05])))
    assert (behind.depth[0], behind.rim[0]) == (pytest.approx(free.depth[0]), -1)


@pytest.mark.parametrize("grade", [0.0, 0.005])
def test_a_gutter_of_twenty_thousand_shots_needs_no_table_of_all_its_pairs(grade):
    count = 20_000
    rng, at = np.random.default_rng(4), np.arange(float(count))
    session = (at > 8000).astype(int)
    errors = ErrorsAlong.of_shots(
        np.full(count, 0.02), np.full(count, 0.02), session, minutes=at / 20, lasting=0.5
    )  # fmt: skip
    z = 100 - grade * at + rng.normal(0, 0.02, count)
    tracemalloc.start()
    begin = time.process_time()
    water = standing_water(at, z, errors)
    spent, (_, most) = time.process_time() - begin, tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert len(water) > 10
    assert spent < 2.0
    assert most < 400e6
