"""Elevation and grade: a published crest, unequal parabolas against their definition, and what is refused."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.baseline.profile import Profile, profile_at


def profile(*points):
    station, elevation, curve_in, curve_out = np.array(points, dtype=float).T
    return Profile(station=station, elevation=elevation, curve_in=curve_in, curve_out=curve_out)


def test_published_crest():
    """Ghilani and Wolf, Elementary Surveying, chapter 25: +3.00 % to -2.40 % at 46+70, 853.48, 600 ft."""
    crest = profile((4000, 833.38, 0, 0), (4670, 853.48, 300, 300), (5100, 843.16, 0, 0))
    stations = [4370, 4400, 4500, 4600, 4700, 4800, 4900, 4970, 4703 + 1 / 3]
    known = [844.48, 845.3395, 847.6195, 848.9995, 849.4795, 849.0595, 847.7395, 846.28, 849.4800]
    elevation, grade = profile_at(crest, stations)
    np.testing.assert_allclose(elevation, known, atol=5.1e-5)
    assert grade[-1] == pytest.approx(0.0, abs=1e-9)
    assert grade[0] == pytest.approx(0.03)


def test_unequal_halves_are_two_parabolas_with_one_tangent():
    sag = profile((0, 100, 0, 0), (400, 92, 150, 250), (900, 102, 0, 0))
    g1, g2 = -0.02, 0.02
    ends, _ = profile_at(sag, [250.0, 650.0])
    np.testing.assert_allclose(ends, [100 + g1 * 250, 92 + g2 * 250])
    # the tangent at the point of intersection runs from the middle of one grade to the middle of the other
    middle = ((92 - g1 * 75) * 125 + (92 + g2 * 125) * 75) / 200
    elevation, grade = profile_at(sag, [400 - 1e-9, 400.0, 400 + 1e-9])
    np.testing.assert_allclose(elevation, middle, atol=1e-9)
    assert np.ptp(grade) < 1e-9
    along = np.linspace(250, 400, 7)
    assert np.ptp(np.diff(profile_at(sag, along)[0], n=2)) < 1e-12  # one parabola: second differences are equal


def test_grade_is_the_slope_of_the_elevations():
    road = profile((0, 10, 0, 0), (300, 16, 100, 100), (700, 4, 200, 60), (1000, 10, 0, 0))
    station = np.linspace(1, 999, 997)
    step = 1e-3
    slope = (profile_at(road, station + step)[0] - profile_at(road, station - step)[0]) / (2 * step)
    np.testing.assert_allclose(profile_at(road, station)[1], slope, atol=1e-6)
    assert np.isnan(profile_at(road, [-0.1, 1000.1])[0]).all()


@pytest.mark.parametrize(("points", "row", "said"), [
    ([(0, 1, 0, 0), (500, 2, 0, 0), (400, 3, 0, 0)], 3, "in order"),
    ([(0, 1, 0, 0), (500, 2, 200, 200), (700, 3, 100, 100), (900, 3, 0, 0)], 3, "overlaps the one before it by 100.00"),
    ([(0, 1, 0, 0), (100, 2, 150, 150), (700, 3, 0, 0)], 2, "overlaps"),
    ([(0, 1, 50, 50), (500, 2, 0, 0)], 1, "first or last"),
    ([(0, 1, 0, 0), (300, 1, 50, 0), (500, 2, 0, 0)], 2, "one side"),
    ([(0, 1, 0, 0)], 1, "alone"),
    ([(0, 1, 0, 0), (500, np.nan, 0, 0)], 2, "lacks"),
])  # fmt: skip
def test_what_cannot_be_is_refused(points, row, said):
    with pytest.raises(GeometryInputError, match=f"Point {row} .*{said}"):
        profile(*points)
