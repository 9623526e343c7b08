"""The rise of a design between two places: planes are known, what lies beyond the known is not."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.rise import rise_between


def plane(places, grade, level=100.0):
    places = np.asarray(places, dtype=float)
    return np.column_stack([places, level + places @ np.asarray(grade)])


@pytest.mark.parametrize("seed", range(5))
def test_a_plane_is_found_whatever_points_it_is_known_by(seed):
    rng = np.random.default_rng(seed)
    grade = rng.uniform(-0.4, 0.4, 2)
    known = plane(np.vstack([rng.uniform(-40, 40, (30, 2)), [[-45, -45], [45, -45], [45, 45], [-45, 45]]]), grade)
    one, step = rng.uniform(-20, 20, (10, 2)), rng.uniform(-0.5, 0.5, (10, 2))
    far = np.array([2_228_000.0, 446_000.0])
    known[:, :2] += far
    found = rise_between(one + far, one + step + far, known, reach=100.0)
    assert found.rise == pytest.approx(step @ grade, abs=1e-6)
    assert found.level == pytest.approx(100.0 + one @ grade, abs=1e-6)
    assert (found.u >= 0.1 * np.abs(found.rise) - 1e-9).all()
    assert (found.u <= 0.5 * np.abs(found.rise) + 1e-6).all()


def test_one_line_alone_says_nothing_of_the_grade_across_it():
    known = [[0, each, 100.0 + each / 3] for each in range(0, 50, 5)]
    assert np.isnan(rise_between([[0, 20]], [[0, 20.3]], known, reach=50.0).rise).all()


def test_places_beyond_reach_and_places_outside_of_the_known_say_nothing():
    known = plane([[-60, -60], [60, -60], [60, 60], [-60, 60]], (1 / 3, 0))
    assert np.isnan(rise_between([[0, 0]], [[0.3, 0]], known, reach=50.0).rise).all()
    assert np.isnan(rise_between([[59, 80]], [[59.3, 80]], known, reach=200.0).rise).all()
    assert np.isnan(rise_between([[np.nan, 0]], [[0.3, 0]], known, reach=200.0).rise).all()


def test_a_break_of_the_grade_close_by_is_doubt():
    known = [[each, north, 100.0 + max(each, 0) / 3] for each in (-20, 0, 20) for north in (-20, 20)]
    found = rise_between([[0.0, 1.0]], [[0.3, 1.0]], known, reach=50.0)
    assert found.rise[0] == pytest.approx(0.1)
    assert found.u[0] == pytest.approx(0.1)  # level just before it, 1:3 just after


def test_a_face_close_by_is_no_grade():
    known = [[0, north, level] for north in (-20, 20) for level in (100.0, 102.0)] + [[9, 0, 102.0], [-9, 0, 100.0]]
    known += [[0.05, 0.4, 100.0], [0.05, 0.4, 102.0]]
    assert np.isnan(rise_between([[0.5, 0.0]], [[0.8, 0.0]], known, reach=50.0).rise).all()


def test_misfits_are_refused():
    with pytest.raises(GeometryInputError, match="give pairs"):
        rise_between([[0, 0]], np.zeros((2, 2)), np.zeros((3, 3)), reach=1.0)
    with pytest.raises(GeometryInputError, match="positive"):
        rise_between([[0, 0]], [[0, 1]], np.zeros((3, 3)), reach=0.0)
