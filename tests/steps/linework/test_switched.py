"""Numbers of shots of which it is not known whether a cause acts on them yet."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.reasons import WHY
from geoqa.model.tables.columns import conform
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import observed
from geoqa.steps.linework.switched import readings, switches, time_order

SIZE = 0.656


def layers_of(job, states, elevations=None, minutes=None):
    """Shots in the order of `states`: good, open (may be moved) or moved."""
    count = len(states)
    times = pd.Timestamp("2026-03-14 14:00", tz="UTC") + pd.to_timedelta(minutes or range(count), unit="min")
    heights = elevations or [100.0] * count
    shots = job.shots([{"elevation": z, "time": at} for z, at in zip(heights, times, strict=True)])
    row = {"cause": "rod", "subject": "session A", "holds": True, "shift_easting": 0.0, "shift_northing": 0.0,
           "shift_elevation": SIZE, "u_easting": 0.0, "u_northing": 0.0, "u_elevation": 0.01}  # fmt: skip
    rows = [
        row | {"shot_key": key, "sure": state == "moved"}
        for key, state in zip(shots["shot_key"], states, strict=True)
        if state != "good"
    ]
    table = conform("cause_shots", pd.DataFrame(rows))
    return job.layers(shots=job.prepared(shots), limits=job.limits(), cause_shots=table)


def number(layers, weights, **options):
    z = observed(layers)["elevation"].to_numpy(float)
    weight = np.array([weights])
    members = np.arange(len(weights))[None, :]
    return derived_rows(layers, members, {"elevation": weight}, weight @ z, show="{:+.2f}".format, **options).iloc[0]


@pytest.mark.parametrize(
    ("states", "waits"),
    [
        (("good", "good"), False),
        (("moved", "moved"), False),
        (("open", "open"), True),
        (("open", "moved"), True),
        (("good", "open"), True),
    ],
)
def test_a_difference_waits_where_one_moment_of_the_switch_changes_it(job, states, waits):
    made = number(layers_of(job, states), [-1.0, 1.0])
    assert (made["why"] == WHY["open-blunder"]) == waits
    if waits:  # the later one may be moved alone: both readings are shown
        assert made["without"] == pytest.approx(-SIZE)
        assert made["u_without"] >= 0.01


def test_a_switch_between_shots_goes_one_way_in_time(job):
    layers = layers_of(job, ("open", "open"), minutes=[5, 1])
    assert time_order(layers, observed(layers)).tolist() == [1, 0]
    assert number(layers, [-1.0, 1.0])["without"] == pytest.approx(SIZE)


def test_of_readings_between_the_two_shown_only_what_is_far_beyond_is_judged(job):
    layers = layers_of(job, ("open", "open", "good"), elevations=[100.0, 100.0, 102.0])
    near, far = (number(layers, [-0.5, -0.5, 1.0], beyond=beyond) for beyond in (0.5, 1.9))
    assert near["why"] == far["why"] == WHY["open-blunder"]
    assert np.isnan(near["without"])
    assert far["without"] == pytest.approx(2.0 + SIZE)


def test_two_switches_may_come_together():
    parts = [np.array([[0.2, 0.0, 0.0]]), np.array([[0.0, 0.3, 0.0]])]
    found = readings(np.array([0.5]), parts, np.array([[0, 1, 2]]))
    assert found.farthest.tolist() == [0.5]
    assert found.open.tolist() == found.between.tolist() == [True]


def test_a_doubt_that_does_not_hold_opens_nothing(job):
    layers = layers_of(job, ("open", "good"))
    table = layers["cause_shots"].assign(holds=False)
    shots = layers["shots"]
    assert switches(layers, observed(layers))[0][:, 2].tolist() == [SIZE, 0.0]
    assert switches(job.layers(shots=shots, cause_shots=table), observed(layers)) == []
