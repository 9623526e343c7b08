"""What a centre line refuses, and how well its pieces meet."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.baseline.course import Course, joints, place

SOUND = {"easting": [0], "northing": [0], "azimuth": [0], "length": [100], "start_curvature": [0],
         "end_curvature": [0], "station": [0], "stationed": [100]}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"length": [0.0]}, "no length"),
        ({"end_curvature": [0.2]}, "full circle"),
        ({"azimuth": [np.nan]}, "no azimuth"),
        ({"station": [1, 2]}, "shape"),
        ({"stationed": [0.0]}, "do not grow"),
    ],
)
def test_what_cannot_be_is_refused(change, said):
    with pytest.raises(GeometryInputError, match=said):
        Course(**SOUND | change)


def test_joints_tell_gap_kink_and_step():
    two = Course(easting=[0, 0.3], northing=[0, 100.4], azimuth=[0, np.radians(359)], length=[100, 50],
                 start_curvature=[0, 0], end_curvature=[0, 0], station=[0, 101], stationed=[100, 50])  # fmt: skip
    meet = joints(two)
    assert [meet.gap[0], meet.kink[0], meet.step[0]] == pytest.approx([0.5, -1.0, 1.0])


def test_places_of_a_published_arc_by_its_deflections():
    """Ghilani and Wolf, Elementary Surveying, example 24.1: D 2 degrees, PC 62+17.083, chords from the PC."""
    radius, begin = 5729.578 / 2, 6217.083
    arc = Course(**SOUND | {"length": [420], "stationed": [420], "station": [begin], "start_curvature": [1 / radius],
                            "end_curvature": [1 / radius]})  # fmt: skip
    stations = np.array([6300.0, 6400.0, 6500.0, 6600.0, begin + 420])
    east, north, _ = place(arc, stations)
    chords = [82.914, 182.886, 282.802, 382.632, 419.624]
    deflections = [(0, 49, 45.0), (1, 49, 45.0), (2, 49, 45.0), (3, 49, 45.0), (4, 12, 0.0)]
    np.testing.assert_allclose(np.hypot(east, north), chords, atol=6e-4)
    known = [d + m / 60 + s / 3600 for d, m, s in deflections]
    np.testing.assert_allclose(np.degrees(np.arctan2(east, north)), known, atol=0.06 / 3600)
