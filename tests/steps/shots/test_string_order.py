"""Planted slips of order: exchanged shots, crossings, lines of one shot."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.shots.string_faults import StringFaults
from geoqa.steps.shots.string_order import order_flags
from tests.steps.shots.test_string_faults import along, string

CODES = conform(
    "codes",
    pd.DataFrame(
        [
            {"code": "CTB", "kind": "curb-top", "geometry": "line", "role": "feature"},
            {"code": "CFL", "kind": "curb-flow", "geometry": "line", "role": "feature"},
            {"code": "MH", "kind": "manhole", "geometry": "point", "role": "feature"},
        ]
    ),
)


def done(job, rows, **columns):
    rows = [row | {"shot": str(101 + nth)} for nth, row in enumerate(rows)]
    layers = job.layers(shots=job.prepared(job.shots(rows), **columns), codes=CODES)
    return job.run(layers, StringFaults())


def reasons(job, rows):
    return dict(job.reasons(done(job, rows))[["shot_key", "reason"]].itertuples(index=False))


def test_two_exchanged_shots_are_flagged_with_their_order(job):
    rows = string(along(0, 25, 75, 50, 100, 125))
    assert job.raised(done(job, rows)) == {("103", "zig-zag", False), ("104", "zig-zag", False)}
    said = reasons(job, rows)
    assert "string CTB S1 goes back and forth here; with this shot behind 104 it would run on" in said["day1/103"]
    assert "with this shot before 103" in said["day1/104"]


@pytest.mark.parametrize("seed", range(4))
def test_sound_lines_of_scattered_shots_are_not_flagged(job, seed):
    rng = np.random.default_rng(seed)
    at = np.cumsum(rng.uniform(2, 40, 25))
    rows = string([(float(rng.normal(0, 0.05)), float(n)) for n in at])
    assert not {flag for _, flag, _ in job.raised(done(job, rows))} & {"zig-zag", "self-crossing"}


def test_a_line_that_crosses_itself_is_flagged_at_both_legs_and_an_exchange_is_said_once(job):
    rows = string([(0, 0), (0, 50), (40, 50), (40, 20), (-30, 20)])
    assert {each for each in job.raised(done(job, rows)) if each[1] == "self-crossing"} == {
        ("101", "self-crossing", False),
        ("104", "self-crossing", False),
    }
    assert "the leg behind this shot crosses the one behind 104" in reasons(job, rows)["day1/101"]
    swapped = string([(0, 0), (1, 25), (0, 75), (1, 50), (0, 100)])
    assert {flag for _, flag, _ in job.raised(done(job, swapped))} == {"zig-zag"}


def test_a_shot_measured_again_at_the_end_of_the_day_makes_no_leg_back(job):
    rows = string([(0, 0), (3, 50), (0, 100), (3, 150), (0, 200), (3.04, 50.03)])
    assert not {flag for _, flag, _ in job.raised(done(job, rows))} & {"zig-zag", "self-crossing"}
    elsewhere = string([(0, 0), (3, 50), (0, 100), (3, 150), (0, 200), (-2, 50), (4, 90)])
    assert "self-crossing" in {flag for _, flag, _ in job.raised(done(job, elsewhere))}


def test_a_line_of_one_shot_is_asked_about_with_the_line_it_may_be(job):
    rows = string(along(0, 25, 50)) + string([(0, 75)], line_id="S7")
    rows += string([(9, 9)], line_id="S4", code="MH") + string([(9, 9)], line_id="X")
    found = {each for each in job.raised(done(job, rows)) if each[1] == "single-shot"}
    assert found == {("104", "single-shot", False), ("106", "single-shot", False)}
    assert reasons(job, rows)["day1/104"] == "line CTB S7 has this shot only; or is it of CTB S1? Not applied"
    assert reasons(job, rows)["day1/106"] == "line CTB X has this shot only; is its line ID right? Not applied"


def test_a_shot_without_a_number_in_a_numbered_line_is_beside_it(job):
    rows = string(along(0, 25, 50, 75, 100)) + string([(0, 20)], sequence=None)
    assert not {flag for _, flag, _ in job.raised(done(job, rows))} & {"zig-zag", "self-crossing"}


def test_without_strings_nothing_is_said(job):
    assert list(order_flags(job.layers(shots=job.prepared(job.shots([]))), step="x")) == []


def test_an_outline_whose_ends_overlap_a_little_is_no_crossing(job):
    corners = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0), (0.1, -0.3)]
    rows = [{"offset": east, "station": north, "line_id": "R1"} for east, north in corners]
    assert not {flag for _, flag, _ in job.raised(done(job, rows))} & {"zig-zag", "self-crossing"}
