"""Where a job may be cut, drawn on paper: files as squares of a plane, and lines across them."""

import time

import numpy as np
import pandas as pd
import pytest

from geoqa.batch.cut.apart import Seen, around, cells_of, cut
from geoqa.batch.cut.lines import designs_of

SIDE = 60.0
NO_LINES = (np.zeros(0, np.int64), np.zeros(0, np.int64))


def file(name, east, *, shots=100, names=()):
    return Seen(source=name, shots=shots, cells=cells_of(np.array([[east, 5.0]]), SIDE), names=frozenset(names))


def lines(*places):
    """Lines by the eastings they pass."""
    number = np.repeat(np.arange(len(places)), [len(each) for each in places])
    east = np.concatenate([np.asarray(each, float) for each in places])
    return number, np.array([cells_of(np.array([[each, 5.0]]), SIDE)[0] for each in east])


def test_files_that_lie_apart_are_parts_and_small_ones_go_together():
    files = [file("a", 0.0), file("b", 500.0), file("c", 1000.0), file("d", 1500.0)]
    assert cut(files, NO_LINES, most=1)[0] == [0, 1, 2, 3]
    assert cut(files, NO_LINES, most=200)[0] == [0, 0, 1, 1]
    assert cut(files, NO_LINES, most=10**6)[0] == [0, 0, 0, 0]


@pytest.mark.parametrize(
    "second",
    [
        file("b", 70.0),  # in the next square
        file("b", 500.0, names=["session 1"]),
    ],
)
def test_what_is_near_or_shares_a_session_stays_together(second):
    assert cut([file("a", 0.0, names=["session 1"]), second], NO_LINES, most=1)[0] == [0, 0]


def test_what_lies_between_two_files_that_are_held_together_stays_with_them():
    files = [file("a", 0.0, names=["string CTB 1"]), file("b", 500.0), file("c", 1000.0, names=["string CTB 1"])]
    assert cut([*files, file("d", 1500.0)], NO_LINES, most=1)[0] == [0, 0, 0, 1]


def test_a_line_beside_two_files_holds_them_together_and_each_line_is_of_one_part():
    files = [file("a", 0.0), file("b", 500.0), file("c", 1000.0)]
    part, of_line = cut(files, lines([5.0], [10.0, 505.0], [1010.0], [9000.0]), most=1)
    assert part == [0, 0, 1]
    assert of_line.tolist() == [0, 0, 1, 0]


def test_shots_in_squares_that_do_not_touch_are_farther_apart_than_a_side():
    draw = np.random.default_rng(4)
    one, two = draw.uniform(0, 400, (200, 2)), draw.uniform(0, 400, (200, 2))
    for a, b in zip(one, two, strict=True):
        if not np.isin(cells_of(b[None], SIDE), around(cells_of(a[None], SIDE)))[0]:
            assert np.hypot(*(a - b)) > SIDE
    assert len(cells_of(np.full((3, 2), np.nan), SIDE)) == 0


def test_lines_beside_files_are_looked_for_once_however_many_files_there_are():
    """Three hundred files and half a million squares of lines: asked of each file anew it took half a minute."""
    rng, files = np.random.default_rng(2), []
    for number in range(300):
        squares = (rng.integers(0, 40, 300) << 32) + number // 3 * 90 + rng.integers(0, 26, 300)
        files.append(
            Seen(source=f"{number}", names=frozenset({f"S{number // 3}"}), cells=np.unique(squares), shots=900)
        )
    line = np.repeat(np.arange(3000), 160)
    square = (rng.integers(0, 40, len(line)) << 32) + line // 30 * 90 + rng.integers(0, 26, len(line))
    begun = time.process_time()
    part, of_line = cut(files, (line, square), most=3000)
    assert time.process_time() - begun < 5.0
    assert part == [number // 3 for number in range(300)]
    assert (of_line == np.arange(3000) // 30).all()


def test_each_part_has_the_design_that_is_of_it_in_the_order_of_the_whole():
    rng = np.random.default_rng(7)
    names = [f"L{number}" for number in rng.permutation(40)]
    tables = {
        "design_lines": pd.DataFrame({"line": names}),
        "design_elements": pd.DataFrame({"line": rng.choice(names, 300), "nth": np.arange(300)}),
        "design_points": pd.DataFrame({"point": [f"P{number}" for number in range(9)]}),
    }
    part_of = rng.integers(0, 5, 45)  # the last four points are near no shot
    for part, made in enumerate(designs_of(tables, part_of, 5)):
        of = np.append(part_of, np.zeros(4, np.int64))
        lines = [name for name, at in zip(names, of[:40], strict=True) if at == part]
        assert made["design_lines"]["line"].tolist() == lines
        elements = tables["design_elements"]
        expected = elements[elements["line"].isin(lines)].reset_index(drop=True)
        pd.testing.assert_frame_equal(made["design_elements"], expected)
        assert made["design_points"]["point"].tolist() == [f"P{n}" for n in range(9) if of[40 + n] == part]
