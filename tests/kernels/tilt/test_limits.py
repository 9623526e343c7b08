"""The largest lean for a tolerance, against closed forms of a declared instrument.

A heading that scatters by one degree moves the tip of a rod of 6.562 ft by 6.562 sin t · 0.01745 square to the lean.
"""

import math

import numpy as np
import pytest
from scipy import stats

from geoqa.errors import JobError
from geoqa.kernels.tilt.limits import known_tilt_model, largest_tilt, tilted_shot

ROD, PLUMB_H, PLUMB_V = 6.562, 0.025, 0.045
DECLARED = {"rod": ROD, "plumb_h": PLUMB_H, "plumb_v": PLUMB_V, "tilt_high": 45.0}


def model(**changes):
    return known_tilt_model(**(DECLARED | {"heading_spread": 1.0, "angle_spread": 0.3} | changes))


@pytest.mark.parametrize("tilt", [0.0, 10.0, 30.0, 45.0])
def test_uncertainties_grow_by_sine_and_cosine(tilt):
    found = tilted_shot(model(), [tilt])
    t, heading, angle = math.radians(tilt), math.radians(1.0), math.radians(0.3)
    assert found.u_tangential[0] == pytest.approx(math.hypot(PLUMB_H, ROD * math.sin(t) * heading), rel=1e-6)
    assert found.u_radial[0] == pytest.approx(math.hypot(PLUMB_H, ROD * math.cos(t) * angle), rel=1e-6)
    assert found.u_vertical[0] == pytest.approx(math.hypot(PLUMB_V, ROD * math.sin(t) * angle), rel=1e-6)
    assert [found.shift_radial[0], found.shift_tangential[0], found.shift_vertical[0]] == [0, 0, 0]


def test_beyond_what_was_tested_nothing_is_claimed():
    assert np.isnan(tilted_shot(model(), [45.1, -1.0]).u_radial).all()
    assert np.isnan(tilted_shot(model(), [10.0], rod=8.0).u_radial).all()


@pytest.mark.parametrize(("limit", "deviation"), [(0.10, 0.0), (0.15, 0.05)])
def test_the_largest_lean_for_an_offset_solves_the_decision_rule(limit, deviation):
    found = largest_tilt(model(angle_spread=0.0), limit=limit, check="offset", deviation=deviation)

    def proven(tilt):
        u = math.hypot(PLUMB_H, ROD * math.sin(math.radians(tilt)) * math.radians(1.0))
        inside = stats.norm.cdf(limit, deviation, u) - stats.norm.cdf(-limit, deviation, u)
        return inside >= 0.95

    assert proven(found.tilt - 1e-6)
    assert not proven(found.tilt + 1e-6)
    assert found.plumb
    assert found.cautious == found.tilt  # a declaration has bands of no width
    assert not found.from_classes


def test_the_closed_form_of_a_tolerance_round_zero():
    # 0.10 / 1.95996 is the largest u; what it leaves over the plumb shot is the heading's
    u = 0.10 / stats.norm.ppf(0.975)
    expected = math.degrees(math.asin(math.sqrt(u**2 - PLUMB_H**2) / (ROD * math.radians(1.0))))
    found = largest_tilt(model(angle_spread=0.0), limit=0.10, check="offset")
    assert found.tilt == pytest.approx(expected, abs=1e-6)


def test_a_bias_that_stays_costs_lean():
    biased = model(heading_bias=0.5)
    kept, removed = (largest_tilt(biased, limit=0.10, check="offset", biases=each).tilt for each in ("kept", "removed"))
    assert kept < removed == largest_tilt(model(), limit=0.10, check="offset").tilt


def test_plumb_only_the_whole_range_and_not_at_all():
    plumb = largest_tilt(model(), limit=0.10, check="offset", deviation=0.05)
    assert np.isnan(plumb.tilt)
    assert plumb.plumb
    whole = largest_tilt(model(), limit=1.0, check="elevation")
    assert whole.tilt == 45.0
    assert whole.whole_range
    never = largest_tilt(model(), limit=0.04, check="offset")
    assert np.isnan(never.tilt)
    assert not never.plumb


@pytest.mark.parametrize(
    ("change", "message"),
    [({"check": "slope"}, "not a check"), ({"biases": "some"}, "says nothing"), ({"limit": 0.0}, "proves nothing")],
)
def test_words_that_mean_nothing_are_refused(change, message):
    with pytest.raises(JobError, match=message):
        largest_tilt(model(), **({"limit": 0.1, "check": "offset"} | change))
