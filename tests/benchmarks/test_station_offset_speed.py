"""How fast stations and offsets are found, as ratios to other ways timed in the same run.

Shots lie beside parallel design lines of 10 ft chords: 90 % within a tenth of a
foot, 8 % within some feet, 2 % anywhere, 1 % exactly on a vertex. Each way
starts from the same arrays and gives line, station, signed offset and design
elevation, building its own index on the way.
"""

import re
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from geoqa.kernels.design.element_making import from_vertices
from geoqa.kernels.design.station import nearest

pytestmark = pytest.mark.benchmark

WORDS = (
    "Line, station, signed offset and design elevation of each shot, from bare arrays, index included. The tree holds "
    "every chord; the whole-line way is a spatial join with lines, then the station by the geometry library. Goals: 6 "
    "times the tree, 600 times the join."
)
REACH = 10.0
CHORD = 10.0
SIDE_BY_SIDE = 10
ORIGIN = np.array([13_000_000.0, 300_000.0])


def design(segments):
    """Vertices (k, 3) and line numbers of ten winding lines side by side."""
    per_line = segments // SIDE_BY_SIDE
    rng = np.random.default_rng(20)
    along = np.arange(per_line + 1) * CHORD
    coordinates = np.empty((SIDE_BY_SIDE, per_line + 1, 3))
    for line in range(SIDE_BY_SIDE):
        coordinates[line, :, 0] = ORIGIN[0] + along
        coordinates[line, :, 1] = ORIGIN[1] + 4.0 * line + 60 * np.sin(along / 300)
        coordinates[line, :, 2] = 700.0 + rng.normal(0, 0.1, len(along))
    return coordinates.reshape(-1, 3), np.repeat(np.arange(SIDE_BY_SIDE), per_line + 1)


def shots(coordinates, line_index, count):
    """Shots beside the lines, shuffled."""
    rng = np.random.default_rng(21)
    start = np.flatnonzero(np.append(line_index[1:] == line_index[:-1], False))
    at = rng.choice(start, count)
    step = coordinates[at + 1, :2] - coordinates[at, :2]
    place = coordinates[at, :2] + rng.random(count)[:, None] * step
    across = np.column_stack([step[:, 1], -step[:, 0]]) / np.hypot(*step.T)[:, None]
    spread = rng.choice([0.04, 3.0, 60.0], count, p=[0.90, 0.08, 0.02])
    points = place + across * (rng.normal(0, 1, count) * spread)[:, None]
    vertex = rng.random(count) < 0.01
    points[vertex] = coordinates[at[vertex], :2]
    return points


def by_grid(coordinates, line_index, points):
    found = nearest(points, from_vertices(coordinates, line_index), reach=REACH)
    return found.line, found.station, found.offset, found.elevation


def by_segment_tree(coordinates, line_index, points):
    """Every chord in a tree, the nearest asked for, the rest by closed form."""
    import shapely

    start = np.flatnonzero(np.append(line_index[1:] == line_index[:-1], False))
    begin, step = coordinates[start], coordinates[start + 1] - coordinates[start]
    length = np.hypot(step[:, 0], step[:, 1])
    total = np.append(0.0, np.cumsum(length))[:-1]
    firsts = np.flatnonzero(np.append(True, line_index[start][1:] != line_index[start][:-1]))
    station_at_start = total - np.repeat(total[firsts], np.diff(np.append(firsts, len(start))))
    legs = shapely.linestrings(np.stack([begin[:, :2], begin[:, :2] + step[:, :2]], axis=1))
    # small nodes and no bound on the search are what the tree is fastest with here
    tree = shapely.STRtree(legs, node_capacity=4)
    row, on = tree.query_nearest(shapely.points(points), all_matches=False)
    gap, ahead = points[row] - begin[on, :2], step[on, :2] / length[on, None]
    along = np.clip((gap * ahead).sum(axis=1), 0.0, length[on])
    offset = np.hypot(*(gap - along[:, None] * ahead).T)
    offset = np.copysign(offset, gap[:, 0] * ahead[:, 1] - gap[:, 1] * ahead[:, 0])
    result = np.full((4, len(points)), np.nan)
    elevation = begin[on, 2] + step[on, 2] * along / length[on]
    result[:, row] = line_index[start][on], station_at_start[on] + along, offset, elevation
    result[:, ~(np.abs(result[2]) <= REACH)] = np.nan
    return result


def by_whole_lines(coordinates, line_index, points):
    """A spatial join of points with whole lines, then the station by the geometry library."""
    import geopandas
    import shapely

    lines = shapely.linestrings(coordinates[:, :2], indices=line_index)
    design = geopandas.GeoDataFrame({"line": np.arange(len(lines))}, geometry=lines)
    measured = geopandas.GeoDataFrame(geometry=shapely.points(points))
    joined = measured.sjoin_nearest(design, max_distance=REACH, distance_col="distance")
    joined = joined[~joined.index.duplicated()]
    on = design.geometry.to_numpy()[joined["line"].to_numpy()]
    shot = joined.geometry.to_numpy()
    station = shapely.line_locate_point(on, shot)
    ahead, behind = (
        shapely.line_interpolate_point(on, station + 0.01),
        shapely.line_interpolate_point(on, station - 0.01),
    )
    run = shapely.get_coordinates(ahead) - shapely.get_coordinates(behind)
    gap = shapely.get_coordinates(shot) - shapely.get_coordinates(behind)
    offset = np.copysign(joined["distance"].to_numpy(), gap[:, 0] * run[:, 1] - gap[:, 1] * run[:, 0])
    return joined["line"].to_numpy(), station, offset, station * np.nan


def best_of(way, rounds, *arguments):
    times = []
    for _ in range(rounds):
        begin = time.perf_counter()
        result = way(*arguments)
        times.append(time.perf_counter() - begin)
    return min(times), result


@pytest.fixture
def say(capsys):
    def write(text):
        with capsys.disabled():
            sys.stdout.write(f"\n{text}\n")

    return write


@pytest.fixture(scope="module")
def hundred_thousand_chords():
    coordinates, line_index = design(100_000)
    return coordinates, line_index, shots(coordinates, line_index, 1_000_000)


def test_the_grid_beats_a_tree_of_chords_100k_chords_1m_shots(hundred_thousand_chords, say, measured):
    ours, found = best_of(by_grid, 3, *hundred_thousand_chords)
    theirs, expected = best_of(by_segment_tree, 1, *hundred_thousand_chords)
    say(f"1e5 chords, 1e6 shots: {1 / ours:.2f} M shots/s, tree {1 / theirs:.2f} M/s, ratio {theirs / ours:.1f}")
    row = {"chords": "100,000", "shots": "1,000,000"}
    measured.add("station", WORDS, way="tree of chords", **row, shots_a_second=f"{1e6 / theirs:,.0f}")
    ratio = {"to_the_tree": f"{theirs / ours:.1f}"}
    measured.add("station", WORDS, way="plain numpy", **row, shots_a_second=f"{1e6 / ours:,.0f}", **ratio)
    np.testing.assert_array_equal(np.isfinite(found[1]), np.isfinite(expected[1]))
    near = np.isfinite(found[1])
    np.testing.assert_allclose(np.abs(found[2][near]), np.abs(expected[2][near]), rtol=0, atol=1e-7)
    assert theirs / ours >= 6


def test_the_grid_beats_joins_with_whole_lines_100k_chords(hundred_thousand_chords, say, measured):
    coordinates, line_index, points = hundred_thousand_chords
    part = 2_000
    ours, _ = best_of(by_grid, 3, coordinates, line_index, points)
    theirs, _ = best_of(by_whole_lines, 1, coordinates, line_index, points[:part])
    ratio = theirs / part / (ours / len(points))
    say(f"1e5 chords: whole-line join {part / theirs:.0f} shots/s, ratio {ratio:.0f}")
    measured.add(
        "station",
        WORDS,
        way=f"join with whole lines, of which plain numpy is {ratio:,.0f} times as fast",
        chords="100,000",
        shots=f"{part:,}",
        shots_a_second=f"{part / theirs:,.0f}",
    )
    assert ratio >= 600


def as_tables(coordinates, line_index, points):
    import geopandas
    import shapely

    lines = shapely.linestrings(coordinates, indices=line_index)
    names = [f"L{row}" for row in range(len(lines))]
    return (
        geopandas.GeoDataFrame(geometry=shapely.points(points), crs="EPSG:6547"),
        geopandas.GeoDataFrame(geometry=lines, index=names, crs="EPSG:6547"),
    )


def by_bare_kernel(measured_points, lines):
    """The coordinates taken out of the tables, and the kernel; nothing is checked and nothing put back."""
    import shapely

    points = shapely.get_coordinates(measured_points.geometry.to_numpy())
    coordinates, line_index = shapely.get_coordinates(lines.geometry.to_numpy(), include_z=True, return_index=True)
    return by_grid(coordinates, line_index, points)


def test_tables_cost_little_around_the_kernel_100k_chords_1m_shots(hundred_thousand_chords, say, measured):
    import geoqa

    tables = as_tables(*hundred_thousand_chords)
    geoqa.station_offset(tables[0].iloc[:9], tables[1], max_distance="10 ft")  # what is imported once is not timed
    pairs = []
    for _ in range(5):  # by turns, so that a busy machine is busy for both
        bare, expected = best_of(by_bare_kernel, 1, *tables)
        ours, found = best_of(lambda *given: geoqa.station_offset(*given, max_distance="10 ft"), 1, *tables)
        pairs.append((bare, ours))
    bare, ours = (min(times) for times in zip(*pairs, strict=True))
    part = 2_000
    theirs, _ = best_of(by_whole_lines, 1, *hundred_thousand_chords[:2], hundred_thousand_chords[2][:part])
    say(
        f"1e5 chords, 1e6 shots in GeoDataFrames: {ours / bare:.2f} times the bare kernel with the coordinates taken "
        f"out; the join with whole lines takes {theirs / part / (ours / 1e6):.0f} times as long a shot"
    )
    measured.note(
        "station",
        way="geoqa.station_offset on GeoDataFrames",
        chords="100,000",
        shots="1,000,000",
        shots_a_second=f"{1e6 / ours:,.0f}",
        to_the_bare_kernel=f"{ours / bare:.2f}",
    )
    for column, values in zip(("station", "offset", "design_elevation"), expected[1:], strict=True):
        np.testing.assert_array_equal(found[column], values)
    assert ours / bare <= 1.3


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="peak memory is read from /proc")
@pytest.mark.parametrize(("segments", "most"), [(100_000, 350), (1_000_000, 650)])
def test_memory_stays_flat_with_a_million_shots(segments, most, say, measured):
    # a process of its own, and its own high-water mark: ru_maxrss would start from that of the parent
    code = (
        "import pathlib, runpy, sys\n"
        "bench = runpy.run_path(sys.argv[1])\n"
        "line = bench['design'](int(sys.argv[2]))\n"
        "bench['by_grid'](*line, bench['shots'](*line, 1_000_000))\n"
        "sys.stdout.write(pathlib.Path('/proc/self/status').read_text(encoding='ascii'))\n"
    )
    command = [sys.executable, "-c", code, __file__, str(segments)]
    status = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    peak = int(re.search(r"VmHWM:\s+(\d+) kB", status)[1]) / 1024
    say(f"{segments} chords, 1e6 shots: peak {peak:.0f} MB")
    measured.add(
        "station",
        WORDS,
        way="plain numpy, the whole process",
        chords=f"{segments:,}",
        shots="1,000,000",
        peak=f"{peak:.0f} MB, at most {most}",
    )
    assert peak <= most
