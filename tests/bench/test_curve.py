"""Horizontal curves: a worked textbook curve, and the same curve built from elements."""

import numpy as np
import pytest

from bench.curve import curve_layout, curve_parts, radius_of_degree
from geoqa.kernels.design.along_elements import point_at
from geoqa.kernels.design.element_making import from_bulges

# Horizontal curve example in Elementary Surveying (Ghilani and Wolf), ch. 24:
# value from memory, arithmetic recomputed.
ANGLE, DEGREE, PI_STATION = 8.4, 2.0, 6427.46


def dms(degrees, minutes, seconds):
    return degrees + minutes / 60 + seconds / 3600


def test_the_parts_of_the_textbook_curve():
    radius = radius_of_degree(DEGREE)
    assert radius == pytest.approx(2864.789, abs=5e-4)
    parts = curve_parts(radius, ANGLE)
    np.testing.assert_allclose(parts, [210.377, 420.00, 419.624, 7.714, 7.693], rtol=0, atol=6e-4)
    assert PI_STATION - parts.tangent == pytest.approx(6217.083, abs=6e-4)
    assert PI_STATION - parts.tangent + parts.length == pytest.approx(6637.083, abs=6e-4)


def test_the_layout_of_the_textbook_curve():
    layout = curve_layout([6300, 6400, 6500, 6600, 6637.083], begin=6217.083, radius=radius_of_degree(DEGREE))
    expected = [dms(0, 49, 45.0), dms(1, 49, 45.0), dms(2, 49, 45.0), dms(3, 49, 45.0), dms(4, 12, 0)]
    np.testing.assert_allclose(layout.deflection, expected, rtol=0, atol=0.1 / 3600)
    np.testing.assert_allclose(layout.chord, [82.914, 182.886, 282.802, 382.632, 419.624], rtol=0, atol=6e-4)


def test_an_arc_element_has_the_parts_of_its_curve():
    radius, angle = 250.0, 70.0
    parts = curve_parts(radius, angle)
    long_chord = np.array([0.0, parts.long_chord])
    arc = from_bulges([[0, 0], long_chord], [-np.tan(np.radians(angle) / 4), 0], [0, 0])
    assert arc.length[0] == pytest.approx(parts.length)
    assert arc.radius[0] == pytest.approx(radius)
    middle = point_at(arc, 0, [parts.length / 2])
    assert middle.easting[0] == pytest.approx(-parts.middle)
    assert middle.azimuth[0] == pytest.approx(0.0, abs=1e-9) or middle.azimuth[0] == pytest.approx(360.0, abs=1e-9)
    assert middle.northing[0] == pytest.approx(parts.long_chord / 2)


def test_an_angle_that_is_no_curve_has_no_parts():
    parts = curve_parts([100.0, 100.0, -5.0, np.nan], [180.0, -1.0, 10.0, 10.0])
    assert np.isnan(parts).all()
    assert np.isnan(curve_layout([5.0, 9e9, np.nan], begin=10.0, radius=100.0).chord).all()


def test_a_flat_curve_keeps_its_small_distances():
    parts = curve_parts(1e6, 1e-4)  # middle distance R I^2 / 8
    assert parts.middle == pytest.approx(1e6 * np.radians(1e-4) ** 2 / 8, rel=1e-9)
    assert parts.external == pytest.approx(parts.middle, rel=1e-9)
    assert np.isinf(radius_of_degree(0.0))
