"""Station and offset against a slow search written another way, and against answers known beforehand."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.along_elements import point_at
from geoqa.kernels.design.cells import index_elements
from geoqa.kernels.design.element_making import from_bulges, from_vertices
from geoqa.kernels.design.elements import Elements
from geoqa.kernels.design.station import candidates, nearest

TIE = 1e-8
FAR = np.array([13_000_000.0, 300_000.0])
NUMBERS = ("station", "offset", "along", "distance", "elevation", "azimuth")


# The slow way: every element of every point, with bearings and plain trigonometry.


def foot_on_leg(p, a, b):
    length = math.dist(a, b)
    if length == 0:
        return math.dist(p, a), 0.0
    share = ((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])) / length**2
    share = min(max(share, 0.0), 1.0)
    foot = (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
    return math.dist(p, foot), share * length


def bearing(a, b):
    return math.atan2(b[0] - a[0], b[1] - a[1])


def foot_on_arc(p, a, b, centre, radius, sense, length):
    turned = (bearing(centre, p) - bearing(centre, a)) * sense % (2 * math.pi)
    if turned * radius <= length:
        return abs(math.dist(p, centre) - radius), turned * radius
    to_start, to_end = math.dist(p, a), math.dist(p, b)
    return (to_start, 0.0) if to_start <= to_end else (to_end, length)


def slow_foot(e, row, p):
    a, b = e.start[row], e.end[row]
    if e.shape[row] == 1:
        return foot_on_arc(p, a, b, e.centre[row], e.radius[row], int(e.sense[row]), e.length[row])
    return foot_on_leg(p, a, b)


def slow_direction(e, row, along):
    """Azimuth of the tangent, in radians."""
    if e.shape[row] == 0:
        return bearing(e.start[row], e.end[row])
    spoke = bearing(e.centre[row], e.start[row]) + e.sense[row] * along / e.radius[row]
    return spoke + e.sense[row] * math.pi / 2


def slow_vertex(e, row, at_end):
    """Direction that tells the side at an end of an element, and whether the line ends there."""
    rows = [r for r in range(len(e)) if e.line[r] == e.line[row] and e.length[r] > 0]
    own = slow_direction(e, row, e.length[row] if at_end else 0.0)
    total = sum(e.length[r] for r in rows)
    closed = math.dist(e.start[rows[0]], e.end[rows[-1]]) <= e.tolerance and total > 2 * e.tolerance
    place = rows.index(row) + (1 if at_end else -1)
    if not 0 <= place < len(rows):
        if not closed:
            return own, True
        place %= len(rows)
    other = slow_direction(e, rows[place], 0.0 if at_end else e.length[rows[place]])
    incoming, outgoing = (own, other) if at_end else (other, own)
    east, north = math.sin(incoming) + math.sin(outgoing), math.cos(incoming) + math.cos(outgoing)
    return (incoming if math.hypot(east, north) < 1e-9 else math.atan2(east, north)), False


def slow_answer(e, row, p):
    """(line, station, offset, along, distance, elevation, azimuth, end) of one point beside one element."""
    distance, along = slow_foot(e, row, p)
    low, high, length = e.start_elevation[row], e.end_elevation[row], e.length[row]
    along = 0.0 if along <= TIE else length if along >= length - TIE else along
    if length == 0:
        nothing = math.nan
        return e.line[row], e.start_station[row], nothing, nothing, distance, low, nothing, 0
    elevation = low if along == 0 else high if along == length else low + (high - low) * along / length
    azimuth, past, end = slow_direction(e, row, along), 0.0, 0
    foot_is_vertex = along in (0.0, length)
    vertex = e.end[row] if along == length else e.start[row]
    if not foot_is_vertex:
        if e.shape[row] == 1:
            outside = math.dist(p, e.centre[row]) - e.radius[row]
            offset = -outside if e.sense[row] > 0 else outside
        else:
            side = math.sin(bearing(e.start[row], p) - azimuth)
            offset = math.copysign(distance, side) if side else 0.0
    else:
        azimuth, is_open = slow_vertex(e, row, along == length)
        turned = bearing(vertex, p) - azimuth
        offset = math.copysign(distance, math.sin(turned)) if distance else 0.0
        if is_open:
            offset, past = distance * math.sin(turned), distance * math.cos(turned)
            end = 0 if abs(past) <= TIE else (1 if along == length else -1)
            past = past if end else 0.0
    return (
        e.line[row],
        e.start_station[row] + along,
        offset,
        past,
        distance,
        elevation,
        math.degrees(azimuth) % 360,
        end,
    )


def slow_rows(e, p, reach, *, rows=None):
    """The nearest element of every line in reach, as {line: row}."""
    found = {}
    for line in np.unique(e.line):
        own = [r for r in (range(len(e)) if rows is None else rows) if e.line[r] == line]
        long = [r for r in own if e.length[r] > 0] or own[:1]
        if not long:
            continue
        distances = [slow_foot(e, r, p)[0] for r in long]
        if min(distances) <= reach:
            found[line] = next(r for r, d in zip(long, distances, strict=True) if d <= min(distances) + TIE)
    return found


def slow_nearest(e, p, reach, **options):
    rows = slow_rows(e, p, reach, **options)
    if not rows:
        return -1
    distances = {row: slow_foot(e, row, p)[0] for row in rows.values()}
    return min(row for row, d in distances.items() if d <= min(distances.values()) + TIE)


def assert_same_as_slow(points, e, reach, found):
    for i, p in enumerate(np.asarray(points, dtype=float)):
        row = slow_nearest(e, p, reach) if np.isfinite(p).all() else -1
        assert found.element[i] == row, (i, p)
        assert_row(found, i, slow_answer(e, row, p) if row >= 0 else None)


def assert_row(found, i, expected):
    if expected is None:
        assert found.line[i] == -1
        assert found.end[i] == 0
        assert all(np.isnan(getattr(found, name)[i]) for name in NUMBERS)
        return
    line, *numbers, end = expected
    assert (found.line[i], found.end[i]) == (line, end)
    got = [getattr(found, name)[i] for name in NUMBERS]
    np.testing.assert_allclose(got[:5], numbers[:5], rtol=0, atol=3e-8)
    turn = (got[5] - numbers[5] + 180) % 360 - 180
    assert np.isnan(numbers[5]) == np.isnan(got[5])
    assert np.isnan(turn) or abs(turn) < 1e-4


def wandering(rng, lines, vertices, *, step=10.0, arcs=True, origin=FAR):
    """Random lines that bend, double back, cross and close; with elevations, some missing."""
    coordinates, bulges, index = [], [], []
    for line in range(lines):
        count = int(rng.integers(1, vertices + 1))
        azimuth = np.cumsum(rng.normal(0, 1.0, count)) + rng.uniform(0, 6)
        length = rng.exponential(step, count) * (rng.random(count) > 0.1)
        steps = np.column_stack([np.sin(azimuth), np.cos(azimuth)]) * length[:, None]
        path = origin + rng.uniform(-30, 30, 2) + np.cumsum(steps, axis=0)
        if rng.random() < 0.3:
            path[-1] = path[0]
        coordinates.append(path)
        bulges.append(np.where(rng.random(count) < 0.5 * arcs, rng.normal(0, 0.7, count), 0.0))
        index += [line] * count
    coordinates = np.concatenate(coordinates)
    elevation = np.where(rng.random(len(coordinates)) < 0.1, np.nan, rng.normal(700, 1, len(coordinates)))
    return from_bulges(np.column_stack([coordinates, elevation]), np.concatenate(bulges), index, start_station=100.0)


def scattered(rng, e, count):
    anywhere = FAR + rng.uniform(-90, 90, (count, 2))
    on_vertex = e.start[rng.integers(0, len(e), count // 4)]
    close = e.end[rng.integers(0, len(e), count // 4)] + rng.normal(0, 0.3, (count // 4, 2))
    missing = np.array([[np.nan, 300_000.0], [13_000_000.0, np.inf], [np.nan, np.nan]])
    return np.concatenate([anywhere, on_vertex, close, missing])


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("reach", [0.4, 12.0, 400.0])
def test_every_answer_is_that_of_trying_all_elements(seed, reach):
    rng = np.random.default_rng(seed)
    e = wandering(rng, lines=7, vertices=9, step=float(rng.choice([1.0, 10.0, 60.0])), arcs=seed % 2 == 0)
    points = scattered(rng, e, 60)
    assert_same_as_slow(points, e, reach, nearest(points, e, reach=reach))


@pytest.mark.parametrize("seed", range(8))
def test_candidates_are_every_line_in_reach(seed):
    rng = np.random.default_rng(100 + seed)
    e = wandering(rng, lines=8, vertices=8)
    points = scattered(rng, e, 40)
    found = candidates(points, e, reach=25.0)
    expected = [
        (i, row) for i, p in enumerate(points) if np.isfinite(p).all() for row in slow_rows(e, p, 25.0).values()
    ]
    assert list(zip(found.point.tolist(), found.element.tolist(), strict=True)) == expected
    for i, (point, row) in enumerate(expected):
        assert_row(found, i, slow_answer(e, row, points[point]))


def test_groups_are_kept_apart():
    rng = np.random.default_rng(5)
    e = wandering(rng, lines=9, vertices=8)
    points = scattered(rng, e, 80)
    element_group, point_group = e.line % 3 * 10, rng.integers(0, 4, len(points)) * 10
    found = nearest(points, e, reach=30.0, point_group=point_group, element_group=element_group)
    many = candidates(points, e, reach=30.0, point_group=point_group, element_group=element_group)
    for i, p in enumerate(points):
        rows = np.flatnonzero(element_group == point_group[i])
        known = np.isfinite(p).all()
        assert found.element[i] == (slow_nearest(e, p, 30.0, rows=rows) if known else -1)
        assert many.element[many.point == i].tolist() == (
            list(slow_rows(e, p, 30.0, rows=rows).values()) if known else []
        )


# Answers known beforehand. The first two are own examples, exact.


def test_a_point_right_and_a_point_left_of_a_tangent():
    tangent = from_vertices([[1000, 1000], [1300, 1400]], [0, 0])
    found = nearest([[1200, 1200], [1136, 1248]], tangent, reach=50.0)
    np.testing.assert_allclose(found.station, [280.0, 280.0], rtol=0, atol=1e-10)
    np.testing.assert_allclose(found.offset, [40.0, -40.0], rtol=0, atol=1e-10)


def test_a_point_outside_a_right_curve_lies_left_of_it():
    bulge = -math.tan(math.pi / 8)  # 90 degrees to the right
    curve = from_bulges([[1000, 1000], [1200, 800]], [bulge, 0], [0, 0], start_station=1000.0)
    found = nearest([[1148.492424049175, 948.492424049175]], curve, reach=50.0)
    assert found.station[0] == pytest.approx(1000 + 50 * math.pi, abs=1e-9)
    assert found.offset[0] == pytest.approx(-10.0, abs=1e-9)
    assert found.azimuth[0] == pytest.approx(135.0, abs=1e-9)


@pytest.mark.parametrize("turn", [160.0, -160.0, 179.0, -179.0, 90.0, -30.0])
def test_every_point_in_the_wedge_outside_a_bend_lies_on_the_outside(turn):
    out = np.array([math.sin(math.radians(turn)), math.cos(math.radians(turn))])
    bend = from_vertices(np.array([[0, -50], [0, 0], 50 * out]) + FAR, [0, 0, 0])
    side = -math.copysign(1.0, turn)  # a bend to the right has its wedge on the left
    first, last = math.radians(side * 90), math.radians(turn + side * 90)
    share = np.linspace(0.0005, 0.9995, 400)
    toward = first + share * (last - first)
    points = FAR + 5.0 * np.column_stack([np.sin(toward), np.cos(toward)])
    found = nearest(points, bend, reach=10.0)
    np.testing.assert_allclose(found.offset, side * 5.0, rtol=0, atol=1e-8)
    np.testing.assert_allclose(found.station, 50.0, rtol=0, atol=1e-8)
    assert not found.end.any()


def test_at_a_turn_straight_back_the_side_is_that_of_the_way_in():
    there_and_back = from_vertices([[0, 0], [0, 50], [0, 10]], [0, 0, 0])
    found = nearest([[1, 53], [-1, 53], [0, 53]], there_and_back, reach=10.0)
    np.testing.assert_allclose(found.offset, [math.sqrt(10), -math.sqrt(10), 3.0], rtol=0, atol=1e-12)
    assert found.station.tolist() == [50.0] * 3
    assert found.azimuth.tolist() == [0.0] * 3


def test_past_the_ends_offset_is_square_to_the_line_and_along_says_how_far():
    line = from_vertices([[0, 0], [0, 100]], [0, 0], start_station=500.0)
    found = nearest([[3, 104], [-3, -4], [2, 100], [2, 0]], line, reach=10.0)
    assert found.end.tolist() == [1, -1, 0, 0]
    assert found.station.tolist() == [600.0, 500.0, 600.0, 500.0]
    assert found.offset.tolist() == [3.0, -3.0, 2.0, 2.0]
    assert found.along.tolist() == [4.0, -4.0, 0.0, 0.0]
    assert found.distance.tolist() == [5.0, 5.0, 2.0, 2.0]


def test_a_closed_line_has_no_ends_and_its_joint_is_the_smallest_station():
    ring = from_vertices([[0, 0], [0, 30], [30, 30], [30, 0], [0, 0]], [0] * 5)
    found = nearest([[-3, -4], [0, 0], [1, 1]], ring, reach=10.0)
    assert found.end.tolist() == [0, 0, 0]
    assert found.station.tolist() == [0.0, 0.0, 1.0]
    assert found.offset.tolist() == [-5.0, 0.0, 1.0]
    assert found.azimuth[:2].tolist() == [315.0, 315.0]


def test_a_full_circle_is_measured_all_round():
    half = math.tan(math.pi / 4)
    circle = from_bulges(np.array([[0, 10], [0, -10], [0, 10]]) + FAR, [-half, -half, 0], [0, 0, 0])
    top = [FAR + np.array([0, 10])]
    whole = Elements(
        line=[0],
        shape=[1],
        start=top,
        end=top,
        centre=[FAR],
        radius=[10.0],
        sense=[1],
        start_station=[0.0],
        length=[20 * math.pi],
        start_elevation=[1.0],
        end_elevation=[1.0],
    )
    toward = np.linspace(0.01, 2 * math.pi - 0.01, 50)
    points = FAR + 12 * np.column_stack([np.sin(toward), np.cos(toward)])
    for ring in (circle, whole):
        found = nearest(points, ring, reach=5.0)
        np.testing.assert_allclose(found.station, 10 * toward, rtol=0, atol=1e-8)
        np.testing.assert_allclose(found.offset, -2.0, rtol=0, atol=1e-8)
        assert not found.end.any()
    assert nearest([FAR], whole, reach=11.0).station.tolist() == [0.0]


def test_of_equal_distances_the_first_line_then_the_smallest_station_is_taken():
    twins = from_vertices([[0, 0], [0, 9], [4, 0], [4, 9], [0, 0], [0, 9]], [0, 0, 1, 1, 2, 2])
    found = nearest([[2, 5], [0, 5], [3, 5]], twins, reach=10.0)
    assert found.line.tolist() == [0, 0, 1]
    fork = from_vertices([[0, 0], [10, 0], [10, 4], [0, 4]], [0] * 4)
    assert nearest([[5, 2]], fork, reach=10.0).station.tolist() == [5.0]


def test_elements_without_length_change_nothing():
    plain = from_vertices([[0, 0], [0, 9], [9, 9]], [0, 0, 0])
    padded = from_vertices([[0, 0], [0, 0], [0, 9], [0, 9], [0, 9], [9, 9], [9, 9]], [0] * 7)
    points = np.random.default_rng(0).uniform(-5, 15, (500, 2))
    one, other = nearest(points, plain, reach=30.0), nearest(points, padded, reach=30.0)
    for name in (*NUMBERS, "end", "line"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


def test_a_line_without_length_has_a_distance_but_no_side():
    dot = from_vertices([[5, 5, 7.5]], [3])
    found = nearest([[8, 9]], dot, reach=10.0)
    assert (found.line[0], found.station[0], found.distance[0], found.elevation[0]) == (3, 0.0, 5.0, 7.5)
    assert np.isnan([found.offset[0], found.along[0], found.azimuth[0]]).all()
    assert found.end[0] == 0


def test_a_missing_coordinate_stays_missing_in_its_own_row():
    line = from_vertices([[0, 0, 1], [0, 9, 1]], [0, 0])
    found = nearest([[1, 5], [np.nan, 5], [1, np.nan], [np.inf, 0]], line, reach=10.0)
    assert found.element.tolist() == [0, -1, -1, -1]
    assert found.line.tolist() == [0, -1, -1, -1]
    assert np.isnan(found.offset).tolist() == [False, True, True, True]
    assert np.isnan(found.distance).tolist() == [False, True, True, True]


def test_an_unknown_design_elevation_is_missing_but_the_offset_is_not():
    line = from_vertices([[0, 0, 1.0], [0, 10, np.nan], [0, 20, 3.0], [0, 30, 4.0]], [0] * 4)
    found = nearest([[1, 0], [1, 5], [1, 25]], line, reach=10.0)
    assert found.offset.tolist() == [1.0, 1.0, 1.0]
    assert found.elevation[[0, 2]].tolist() == [1.0, 3.5]
    assert np.isnan(found.elevation[1])


def test_no_points_or_no_elements_give_empty_answers():
    line, nothing = from_vertices([[0, 0], [0, 9]], [0, 0]), from_vertices([], [])
    assert nearest([], line, reach=1.0).offset.shape == (0,)
    assert candidates([], line, reach=1.0).point.shape == (0,)
    assert nearest([[1, 1]], nothing, reach=1.0).line.tolist() == [-1]
    assert candidates([[1, 1]], nothing, reach=1.0).point.shape == (0,)
    grouped = nearest([[1, 1]], nothing, reach=1.0, point_group=[0], element_group=[])
    assert grouped.element.tolist() == [-1]


def test_a_point_exactly_at_the_reach_is_found_and_one_beyond_is_not():
    line = from_vertices([[0, 0], [0, 9]], [0, 0])
    found = nearest([[10, 5], [10.001, 5], [6, 17], [6, 17.001]], line, reach=10.0)
    assert found.line.tolist() == [0, -1, 0, -1]


# Properties.

lateral = st.floats(-19.0, 19.0)


@pytest.mark.long
@settings(max_examples=200, deadline=None)
@given(station=st.floats(0.0, 1.0), offset=lateral, bulge=st.floats(-0.9, 0.9), azimuth=st.floats(0, 6.3))
def test_a_point_built_from_station_and_offset_comes_back(station, offset, bulge, azimuth):
    chord = 100 * np.array([math.sin(azimuth), math.cos(azimuth)])
    e = from_bulges(np.array([[0, 0], chord]) + FAR, [bulge, 0], [0, 0], start_station=500.0)
    if e.shape[0] and offset * e.sense[0] > 0.95 * e.radius[0]:
        offset = 0.95 * e.radius[0] * e.sense[0]  # nearer to the arc than its centre
    station = 500.0 + station * e.length[0]
    place = point_at(e, 0, [station])
    across = math.radians(place.azimuth[0] + 90)
    point = [place.easting[0] + offset * math.sin(across), place.northing[0] + offset * math.cos(across)]
    found = nearest([point], e, reach=200.0)
    # near the centre of an arc the station is as uncertain as the point is seen from there
    lever = 1.0 if not e.shape[0] else e.radius[0] / (e.radius[0] - e.sense[0] * offset)
    assert found.station[0] == pytest.approx(station, abs=1e-7 * max(lever, 1.0))
    assert found.offset[0] == pytest.approx(offset, abs=1e-7)
    assert abs(found.along[0]) < 1e-7


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000), move=st.tuples(st.floats(-1e7, 1e7), st.floats(-1e7, 1e7)))
def test_moving_everything_moves_no_answer(seed, move):
    rng = np.random.default_rng(seed)
    path = np.round(rng.uniform(-60, 60, (24, 2)) * 1024) / 1024
    points = np.round(rng.uniform(-70, 70, (40, 2)) * 1024) / 1024
    move = np.round(np.array(move))  # on a grid of 1/1024 these sums are exact
    bulges = np.where(rng.random(24) < 0.4, rng.normal(0, 0.5, 24), 0)
    index = np.repeat(np.arange(4), 6)
    one = nearest(points, from_bulges(path, bulges, index), reach=40.0)
    other = nearest(points + move, from_bulges(path + move, bulges, index), reach=40.0)
    np.testing.assert_array_equal(one.line, other.line)
    for name in ("station", "offset", "along", "distance"):
        np.testing.assert_allclose(getattr(one, name), getattr(other, name), rtol=0, atol=1e-7)


def every_column(found):
    return {name: getattr(found, name) for name in ("element", "line", *NUMBERS, "end")}


def test_the_answer_of_a_point_depends_on_no_other_point():
    rng = np.random.default_rng(7)
    e = wandering(rng, lines=20, vertices=30)
    points = np.concatenate([scattered(rng, e, 30_000), e.end + rng.normal(0, 3, e.end.shape)])
    index = index_elements(e, reach=25.0)
    whole = every_column(nearest(points, e, reach=25.0))
    order = rng.permutation(len(points))
    shuffled = every_column(nearest(points[order], e, reach=25.0, index=index))
    part = every_column(nearest(points[:501], e, reach=25.0, index=index))
    alone = every_column(nearest(points[[17]], e, reach=25.0, index=index))
    for name, values in whole.items():
        np.testing.assert_array_equal(shuffled[name], values[order])
        np.testing.assert_array_equal(part[name], values[:501])
        np.testing.assert_array_equal(alone[name], values[[17]])


@pytest.mark.long
def test_an_index_made_for_another_reach_gives_the_same_answers():
    rng = np.random.default_rng(8)
    e = wandering(rng, lines=20, vertices=30)
    points = scattered(rng, e, 2000)
    expected = every_column(nearest(points, e, reach=25.0))
    expected_pairs = candidates(points, e, reach=25.0)
    for reach in (0.2, 3.0, 900.0):
        index = index_elements(e, reach=reach)
        for name, values in every_column(nearest(points, e, reach=25.0, index=index)).items():
            np.testing.assert_array_equal(values, expected[name])
        pairs = candidates(points, e, reach=25.0, index=index)
        np.testing.assert_array_equal(pairs.point, expected_pairs.point)
        np.testing.assert_array_equal(pairs.element, expected_pairs.element)


def test_the_nearest_line_is_the_best_of_the_candidates():
    rng = np.random.default_rng(9)
    e = wandering(rng, lines=20, vertices=30)
    points = scattered(rng, e, 3000)
    found, many = nearest(points, e, reach=25.0), candidates(points, e, reach=25.0)
    order = np.lexsort((many.line, many.distance, many.point))
    first = order[np.append(True, np.diff(many.point[order]) > 0)]
    hit = np.flatnonzero(found.element >= 0)
    np.testing.assert_array_equal(many.point[first], hit)
    np.testing.assert_allclose(many.distance[first], found.distance[hit], rtol=0, atol=1e-8)


def test_long_elements_through_many_cells_are_found_everywhere():
    e = from_vertices(np.array([[0, 0], [40_000, 31_000], [0, 100], [40_000, 31_100]]) + FAR, [0, 0, 1, 1])
    share = np.random.default_rng(2).uniform(0, 1, 3000)
    points = e.start[0] + share[:, None] * (e.end[0] - e.start[0]) + [0.3, -0.4]
    index = index_elements(e, reach=2.0)
    assert index.cell < 1000
    found = nearest(points, e, reach=2.0, index=index)
    assert (found.line == 0).all()
    leg = np.array([40_000, 31_000]) / math.hypot(40_000, 31_000)
    np.testing.assert_allclose(found.offset, 0.3 * leg[1] + 0.4 * leg[0], rtol=0, atol=1e-7)


def test_agrees_with_the_geometry_library_on_straight_lines():
    rng = np.random.default_rng(11)
    e = wandering(rng, lines=1, vertices=400, arcs=False)
    path = shapely.LineString(np.concatenate([e.start, e.end[-1:]]))
    points = FAR + rng.uniform(-300, 300, (2000, 2))
    found = nearest(points, e, reach=2000.0)
    np.testing.assert_allclose(found.distance, shapely.distance(path, shapely.points(points)), rtol=0, atol=1e-7)
    foot = shapely.get_coordinates(shapely.line_interpolate_point(path, found.station - 100.0))
    np.testing.assert_allclose(np.hypot(*(points - foot).T), found.distance, rtol=0, atol=1e-6)


def test_far_from_the_origin_offsets_keep_seven_decimals():
    away = np.array([13_000_000.123456, 300_000.654321])
    leg = np.array([math.sin(1.0), math.cos(1.0)])
    e = from_vertices([away, away + 10 * leg], [0, 0])
    station, offset = np.meshgrid(np.linspace(0.1, 9.9, 30), np.linspace(-9, 9, 31))
    right = np.array([leg[1], -leg[0]])
    points = away + station.reshape(-1, 1) * leg + offset.reshape(-1, 1) * right
    found = nearest(points, e, reach=10.0)
    assert np.abs(found.offset - offset.ravel()).max() < 1e-8
    assert np.abs(found.station - station.ravel()).max() < 1e-8


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"reach": 0.0}, r"reach of a search is 0\.0; give a positive length"),
        ({"reach": np.inf}, "reach of a search is inf"),
        ({"points": [[1.0, 2.0, 3.0]]}, r"shape \(1, 3\); give \(n, 2\)"),
        ({"point_group": [1]}, "give both, or neither"),
        ({"element_group": [1]}, "give both, or neither"),
        ({"point_group": [1, 2], "element_group": [1]}, r"Point groups have shape \(2,\)"),
        ({"point_group": [1], "element_group": [1, 2]}, r"Element groups have shape \(2,\)"),
    ],
)
@pytest.mark.parametrize("search", [nearest, candidates])
def test_searches_that_make_no_sense_are_refused(search, changes, message):
    options = {"points": [[1.0, 2.0]], "reach": 5.0} | changes
    with pytest.raises(GeometryInputError, match=message):
        search(options.pop("points"), from_vertices([[0, 0], [0, 9]], [0, 0]), **options)


def test_an_index_of_other_elements_or_groups_is_refused():
    one, other = (from_vertices([[0, 0], [0, 9]], [0, 0]) for _ in range(2))
    index = index_elements(one, reach=5.0, element_group=[4])
    assert nearest([[1, 1]], one, reach=5.0, index=index, point_group=[4]).line.tolist() == [0]
    with pytest.raises(GeometryInputError, match="made from other elements"):
        nearest([[1, 1]], other, reach=5.0, index=index, point_group=[4])
    with pytest.raises(GeometryInputError, match="made with other element groups"):
        nearest([[1, 1]], one, reach=5.0, index=index, point_group=[4], element_group=[5])
    with pytest.raises(GeometryInputError, match=r"reach of a search is nan"):
        index_elements(one, reach=np.nan)
