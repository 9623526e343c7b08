"""A smooth field by its values at anchors: against the covariance it is drawn from, written out."""

import numpy as np
import pytest

from geoqa.kernels.causes.smooth_warp import SMOOTH, Warp

ANCHORS = np.array([[0.0, 30.0], [350.0, -30.0], [800.0, 30.0], [1200.0, -30.0], [2000.0, 0.0]])


def normal_curve(one, two, length):
    apart = np.hypot(one[:, None, 0] - two[None, :, 0], one[:, None, 1] - two[None, :, 1])
    return np.exp(-(apart**2) / (2 * length**2))


def test_columns_have_the_covariance_of_the_field_at_its_anchors():
    warp = Warp.over(ANCHORS)
    columns = warp.columns(ANCHORS)
    far = max(np.hypot(*(one - two)) for one in ANCHORS for two in ANCHORS)
    assert columns @ columns.T == pytest.approx(normal_curve(ANCHORS, ANCHORS, SMOOTH * far), abs=1e-6)


def test_between_anchors_it_is_what_the_anchors_predict():
    warp, between = Warp.over(ANCHORS), np.array([[600.0, 0.0]])
    known = normal_curve(ANCHORS, ANCHORS, warp.length)
    # the mean of a normal field, given its values at the anchors: any textbook of kriging
    bend = 0.2 * (ANCHORS[:, 0] / 1000.0) ** 2
    kriged = normal_curve(between, ANCHORS, warp.length) @ np.linalg.solve(known, bend)
    sizes = np.linalg.lstsq(warp.columns(ANCHORS), bend, rcond=None)[0]
    assert warp.columns(between) @ sizes == pytest.approx(kriged, abs=1e-6)
    assert float(kriged[0]) == pytest.approx(0.2 * 0.36, abs=0.01)


def test_it_is_known_at_anchors_and_unknown_far_from_them():
    unknown = Warp.over(ANCHORS).unknown([ANCHORS[2], [1000.0, 0.0], [9000.0, 0.0]])
    assert unknown[0] < 0.01 < unknown[1] < 0.5
    assert unknown[2] == pytest.approx(1.0)


def test_two_anchors_of_one_place_are_one():
    twice = Warp.over(np.vstack([ANCHORS, ANCHORS[:1]]))
    assert twice.root.shape == (6, 5)
    assert np.isfinite(twice.columns(ANCHORS)).all()
