"""Vertical parabolas: a worked textbook curve, and what holds for every parabola."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.profile import parabola_elevation, turning_station
from geoqa.errors import GeometryInputError

# Crest curve example in Elementary Surveying (Ghilani and Wolf), ch. 25: value
# from memory, arithmetic recomputed.
CREST = {"pvi_station": 4670.0, "pvi_elevation": 853.48, "grade_in": 0.03, "grade_out": -0.024, "length": 600.0}


def test_the_elevations_of_the_textbook_curve():
    stations = [4370, 4400, 4500, 4600, 4700, 4800, 4900, 4970]
    expected = [844.48, 845.3395, 847.6195, 848.9995, 849.4795, 849.0595, 847.7395, 846.28]
    np.testing.assert_allclose(parabola_elevation(stations, **CREST), expected, rtol=0, atol=1e-9)


def test_the_high_point_of_the_textbook_curve():
    turn = {name: value for name, value in CREST.items() if name != "pvi_elevation"}
    station = turning_station(**turn)
    assert station == pytest.approx(4703.3333333)
    assert parabola_elevation(station, **CREST) == pytest.approx(849.48)


def test_a_missing_station_stays_missing():
    got = parabola_elevation([np.nan, 4670.0], **CREST)
    assert np.isnan(got[0])
    assert got[1] == pytest.approx(853.48 + (-0.024 - 0.03) * 600 / 8)
    assert parabola_elevation([], **CREST).shape == (0,)


grades = st.floats(-0.2, 0.2)


@given(grades, grades, st.floats(0, 1000), st.floats(-2000, 2000))
def test_second_differences_are_those_of_a_parabola_and_the_grades_go_on_outside(grade_in, grade_out, length, station):
    curve = {"pvi_station": 0.0, "pvi_elevation": 700.0, "grade_in": grade_in, "grade_out": grade_out, "length": length}
    before, here, after = parabola_elevation(station + np.array([-1.0, 0.0, 1.0]), **curve)
    bend = before - 2 * here + after
    if abs(station) + 1 < length / 2:
        assert bend == pytest.approx((grade_out - grade_in) / length, abs=1e-9)
    elif abs(station) - 1 > length / 2:
        assert bend == pytest.approx(0.0, abs=1e-9)
        assert after - here == pytest.approx(grade_in if station < 0 else grade_out, abs=1e-9)


def test_without_a_curve_the_grades_meet_in_a_point_and_nothing_turns():
    flat = {"pvi_station": 0.0, "grade_in": 0.01, "grade_out": -0.01, "length": 0.0}
    assert parabola_elevation([-1, 0, 1], pvi_elevation=5.0, **flat).tolist() == [4.99, 5.0, 4.99]
    assert np.isnan(turning_station(**flat))
    assert np.isnan(turning_station(**(flat | {"length": 9.0, "grade_in": 0.03, "grade_out": 0.01})))
    assert np.isnan(turning_station(**(flat | {"length": 9.0, "grade_in": 0.01, "grade_out": 0.01})))


@pytest.mark.parametrize("length", [-1.0, np.nan, np.inf])
def test_a_curve_of_no_possible_length_is_refused(length):
    with pytest.raises(GeometryInputError, match="give 0 or a positive length"):
        parabola_elevation([0.0], **(CREST | {"length": length}))
    with pytest.raises(GeometryInputError, match="give 0 or a positive length"):
        turning_station(pvi_station=0.0, grade_in=0.0, grade_out=0.1, length=length)
