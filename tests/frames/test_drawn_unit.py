"""The foot of a drawing is told by the shots that lie on its lines."""

import numpy as np
import pandas as pd
import pytest

from geoqa.frames.files.drawn_unit import by_unit_words, distances_by_unit, told_unit
from geoqa.frames.files.reading import FileAsRead, as_stated
from geoqa.frames.systems.resolve import resolve
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT
from geoqa.model.source import Source


def drawing(east, north, unit, frame):
    """Lines of 50 units, as a drawing in `unit` has them, through places of the frame."""
    ratio = float(frame.unit.metres / unit.metres)
    start = np.column_stack([east, north]) * ratio
    table = pd.DataFrame(
        {
            "line": [f"L{n}" for n in range(len(start))],
            "start_easting": start[:, 0], "start_northing": start[:, 1], "start_elevation": np.nan,
            "end_easting": start[:, 0] + 50.0, "end_northing": start[:, 1], "elevation": np.nan,
        }
    )  # fmt: skip
    return as_stated(FileAsRead(role="design", name="a.dxf", source=Source(layers={"design_elements": table})))


@pytest.mark.parametrize("code", ["EPSG:6541", "EPSG:6559", "EPSG:6455"])
@pytest.mark.parametrize("unit", [FOOT, US_SURVEY_FOOT, METRE])
def test_shots_on_the_lines_tell_the_unit(code, unit):
    frame, noise = resolve(code), np.random.default_rng(3)
    east, north = np.arange(10) * 200.0 + 1_450_000.0, np.full(10, 1_250_000.0)
    shots = np.column_stack([east + 20.0, north + noise.normal(0, 0.03, 10)])
    found = distances_by_unit(drawing(east, north, unit, frame), shots, frame.unit)
    assert told_unit(found) == unit
    assert found[unit] < 0.05
    assert by_unit_words(found).startswith("the shots lie 0.0")
    assert unit.full_name in by_unit_words(found)


def test_shots_far_from_the_design_tell_nothing():
    frame = resolve("EPSG:6541")
    east, north = np.array([1_450_000.0]), np.array([1_250_000.0])
    found = distances_by_unit(drawing(east, north, FOOT, frame), np.array([[1_460_000.0, 1_250_000.0]]), frame.unit)
    assert told_unit(found) is None
    assert told_unit({}) is None
