"""Elevations of design lines at the ends of pipes, by hand."""

import numpy as np
import pandas as pd
import pytest

from geoqa.steps.judging.drawn_at import depth_of, design_at_ends, stated_once


def test_the_nearer_tip_gives_the_elevation_and_the_fall():
    """Two elements in disorder: the line runs from (0, 0, 10.0) by (50, 0) to (100, 0, 9.5)."""
    row = {"start_northing": 0.0, "end_northing": 0.0, "line": "P", "start_easting": 0.0}
    elements = pd.DataFrame([
        row | {"sequence": 1, "start_easting": 50.0, "end_easting": 100, "start_elevation": 9.8, "end_elevation": 9.5},
        row | {"sequence": 0, "end_easting": 50.0, "start_elevation": 10.0, "end_elevation": 9.8},
    ])  # fmt: skip
    pipe = pd.Series(["P", "P", "P", "Q", None], dtype="str")
    own, fall = design_at_ends(elements, pipe, np.array([1.0, 98.0, 50.0, 0.0, 0.0]), np.zeros(5), 10.0)
    assert own == pytest.approx([10.0, 9.5, np.nan, np.nan, np.nan], nan_ok=True)
    assert fall == pytest.approx([0.5, -0.5, np.nan, np.nan, np.nan], nan_ok=True)


def test_size_and_wall_once_noted_hold_for_the_pipe():
    ends = pd.DataFrame({"pipe": ["P", "P", "Q"], "diameter": [0.3, np.nan, 0.3], "wall": [np.nan, 0.05, np.nan]})
    assert depth_of(ends, 0.5) == pytest.approx([0.7, 0.7, np.nan], nan_ok=True)
    assert stated_once(ends, "wall").tolist()[:2] == [0.05, 0.05]
