"""How fast a surface of given faces is asked for its elevation, as a ratio to a tree of boxes timed in the same run.

The faces are those of a rough grid of points, two to a square, numbered in any order; the places lie anywhere on it.
The rival puts the box of every face into a tree, asks it for the places, and tests each pair by its corners.
"""

import re
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from geoqa.kernels.design.tin_elevation import tin_elevation

pytestmark = pytest.mark.benchmark

WORDS = (
    "Elevation and face at each place, from bare arrays, the sorting of places and faces included. The tree holds the "
    "box of every face; its pairs are then tested by their corners. Goals: 2 times the tree, at most 450 MB for "
    "the whole process."
)
ORIGIN = np.array([13_000_000.0, 300_000.0])
SIDE = 708  # points: 999,698 faces
MOST = 450.0


def surface(side):
    """Points (side², 3) and faces (2 (side - 1)², 3) in any order."""
    rng = np.random.default_rng(31)
    column, row = np.meshgrid(np.arange(side), np.arange(side))
    plan = np.column_stack([column.ravel(), row.ravel()]) * 10.0 + rng.uniform(-3, 3, (side * side, 2)) + ORIGIN
    corner = (np.arange(side - 1)[:, None] * side + np.arange(side - 1)).ravel()
    lower = np.column_stack([corner, corner + 1, corner + side])
    upper = np.column_stack([corner + 1, corner + side + 1, corner + side])
    faces = rng.permutation(np.concatenate([lower, upper]))
    return np.column_stack([plan, 700.0 + rng.normal(0, 0.5, len(plan))]), faces


def places(side, count):
    return np.random.default_rng(32).uniform(5, 10.0 * (side - 1) - 5, (count, 2)) + ORIGIN


def by_strips(points, faces, place):
    return tin_elevation(points, faces, place[:, 0], place[:, 1])


def by_tree_of_boxes(points, faces, place):
    """Boxes in a tree, the pairs tested by their corners; the lowest face counts."""
    import shapely

    local, there = points - points[0], place - points[0, :2]
    corners = local[faces]
    low, high = corners[:, :, :2].min(axis=1), corners[:, :, :2].max(axis=1)
    tree = shapely.STRtree(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))
    on, which = tree.query(shapely.points(there))
    a, b, c = (corners[which, corner] for corner in range(3))
    gap, ahead, aside = there[on] - a[:, :2], b - a, c - a
    whole = ahead[:, 0] * aside[:, 1] - ahead[:, 1] * aside[:, 0]
    second = (gap[:, 0] * aside[:, 1] - gap[:, 1] * aside[:, 0]) / whole
    third = (ahead[:, 0] * gap[:, 1] - ahead[:, 1] * gap[:, 0]) / whole
    inside = (second >= -1e-9) & (third >= -1e-9) & (second + third <= 1 + 1e-9)
    elevation = (a[:, 2] + second * ahead[:, 2] + third * aside[:, 2] + points[0, 2])[inside]
    on, which = on[inside], which[inside]
    order = np.lexsort((which, on))
    first = order[np.append(True, np.diff(on[order]) > 0)]
    face, found = np.full(len(place), -1), np.full(len(place), np.nan)
    face[on[first]], found[on[first]] = which[first], elevation[first]
    return found, face


def spent(way, *arguments):
    begin = time.perf_counter()
    result = way(*arguments)
    return time.perf_counter() - begin, result


def test_strips_beat_a_tree_of_boxes_a_million_places_on_a_million_faces(measured, capsys):
    given = (*surface(SIDE), places(SIDE, 1_000_000))
    by_strips(*given[:2], given[2][:9])  # what is imported once is not timed
    ours, found = min((spent(by_strips, *given) for _ in range(3)), key=lambda each: each[0])
    theirs, expected = spent(by_tree_of_boxes, *given)
    ratio = theirs / ours
    with capsys.disabled():
        print(f"\n1e6 places, 1e6 faces: {ours:.2f} s, tree of boxes {theirs:.2f} s, ratio {ratio:.1f}")
    row = {"faces": f"{len(given[1]):,}", "places": "1,000,000"}
    measured.add("surface", WORDS, way="tree of boxes", **row, places_a_second=f"{1e6 / theirs:,.0f}")
    told = {"places_a_second": f"{1e6 / ours:,.0f}", "to_the_tree": f"{ratio:.1f}"}
    measured.add("surface", WORDS, way="plain numpy", **row, **told)
    np.testing.assert_array_equal(found[1], expected[1])
    np.testing.assert_allclose(found[0], expected[0], rtol=0, atol=1e-8)
    assert (found[1] >= 0).mean() > 0.99
    assert ratio >= 2


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="peak memory is read from /proc")
def test_memory_stays_small_with_a_million_faces(measured, capsys):
    # a process of its own, and its own high-water mark: ru_maxrss would start from that of the parent
    code = (
        "import pathlib, runpy, sys\n"
        "bench = runpy.run_path(sys.argv[1])\n"
        "side = int(sys.argv[2])\n"
        "bench['by_strips'](*bench['surface'](side), bench['places'](side, 1_000_000))\n"
        "sys.stdout.write(pathlib.Path('/proc/self/status').read_text(encoding='ascii'))\n"
    )
    command = [sys.executable, "-c", code, __file__, str(SIDE)]
    status = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    peak = int(re.search(r"VmHWM:\s+(\d+) kB", status)[1]) / 1024
    with capsys.disabled():
        print(f"\n1e6 places, 1e6 faces: peak {peak:.0f} MB")
    row = {"faces": f"{2 * (SIDE - 1) ** 2:,}", "places": "1,000,000"}
    way = "plain numpy, the whole process"
    measured.add("surface", WORDS, way=way, **row, peak=f"{peak:.0f} MB, at most {MOST:.0f}")
    assert peak <= MOST
