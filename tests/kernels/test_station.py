"""Station and offset against a slow search written another way, and against answers known beforehand."""

import math

import numpy as np
import pytest

from geoqa.kernels.elements import from_bulges
from geoqa.kernels.station import candidates, nearest

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
