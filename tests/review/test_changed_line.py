"""A reach of a design line that is moved: straight, on an arc, at a bend, at its ends; against plane geometry."""

import numpy as np
import pandas as pd
import pytest

from geoqa.errors import JobError
from geoqa.model.tables.columns import conform
from geoqa.review.changed_line import Moved, changed_line

NAN = float("nan")


def straight(*corners, first=0.0, levels=None):
    places = np.array(corners, dtype=float)
    size = np.hypot(*np.diff(places, axis=0).T)
    levels = np.full(len(places), 10.0) if levels is None else np.array(levels, dtype=float)
    count = len(size)
    return conform(
        "design_elements",
        pd.DataFrame(
            {"line": "L", "sequence": np.arange(count), "shape": "line", "sense": 0, "length": size,
             "start_easting": places[:-1, 0], "start_northing": places[:-1, 1], "end_easting": places[1:, 0],
             "end_northing": places[1:, 1], "start_station": first + np.cumsum(size) - size,
             "start_elevation": levels[:-1], "end_elevation": levels[1:]}
        ),
    )  # fmt: skip


def quarter(radius):
    """A quarter of a circle that curves right from north to east, about (radius, 0)."""
    return conform(
        "design_elements",
        pd.DataFrame(
            {"line": ["L"], "sequence": [0], "shape": ["arc"], "start_easting": [0.0], "start_northing": [0.0],
             "end_easting": [radius], "end_northing": [radius], "centre_easting": [radius], "centre_northing": [0.0],
             "radius": [radius], "sense": [1], "start_station": [0.0], "length": [np.pi / 2 * radius],
             "start_elevation": [10.0], "end_elevation": [20.0]}
        ),
    )  # fmt: skip


def test_a_reach_of_a_straight_line_goes_right_and_up_and_back_over_the_taper():
    line = straight((0, 0), (100, 0), first=1000.0)
    found = changed_line(line, "L", [Moved(start=1040.0, end=1060.0, right=0.5, up=-0.2)], "ft")
    assert found.tolist() == pytest.approx(
        np.array([[0, 0, 10], [37, 0, 10], [40, -0.5, 9.8], [60, -0.5, 9.8], [63, 0, 10], [100, 0, 10]])
    )


def test_beyond_an_end_of_the_line_there_is_no_taper():
    found = changed_line(straight((0, 0), (100, 0)), "L", [Moved(start=-5.0, end=200.0, right=-0.5)], "m")
    assert found.tolist() == pytest.approx(np.array([[0, 0.5, 10], [100, 0.5, 10]]))


def test_a_moved_arc_keeps_its_centre_and_its_chords_lie_within_half_a_millimetre():
    found = changed_line(quarter(30.0), "L", [Moved(start=0.0, end=100.0, right=2.0)], "m")
    away = np.hypot(found[:, 0] - 30.0, found[:, 1])
    assert away == pytest.approx(28.0, abs=1e-9)
    middle = (found[1:] + found[:-1]) / 2
    assert 28.0 - np.hypot(middle[:, 0] - 30.0, middle[:, 1]).min() < 0.0005
    turned = np.arctan2(found[:, 1], 30.0 - found[:, 0])
    assert found[:, 2] == pytest.approx(10 + 10 * turned / (np.pi / 2))


def test_at_a_bend_both_legs_move_by_as_much():
    found = changed_line(straight((0, 0), (50, 0), (50, 50)), "L", [Moved(start=-1.0, end=101.0, right=1.0)], "m")
    assert found[:, :2].tolist() == pytest.approx(np.array([[0, -1], [51, -1], [51, 50]]))


def test_what_is_not_on_the_line_and_an_elevation_nobody_stated_are_refused():
    line = straight((0, 0), (100, 0), levels=(NAN, NAN))
    assert np.isnan(changed_line(line, "L", [Moved(start=1.0, end=2.0, right=1.0)], "m")[:, 2]).all()
    with pytest.raises(JobError, match=r"the line runs from 0.00 to 100.00"):
        changed_line(line, "L", [Moved(start=100.0, end=120.0, right=1.0)], "m")
    with pytest.raises(JobError, match="its start before its end"):
        changed_line(line, "L", [Moved(start=50.0, end=40.0, right=1.0)], "m")
    with pytest.raises(JobError, match="elevation that its design does not state"):
        changed_line(line, "L", [Moved(start=1.0, end=2.0, up=1.0)], "m")
