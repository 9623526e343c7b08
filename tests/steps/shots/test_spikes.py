"""One shot its neighbours contradict is stray; corners, dips that were built, and pairs are not."""

import numpy as np
import pytest

from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.shots.spikes import Spikes

SPACING = 25.0
LINE = {"CTB-L": ("curb-top", 0.0, 0, 400)}


def straight(count=13, **changes):
    """Shots of one string, 25 ft apart; `changes` as field={place: value}."""
    rows = [{"station": SPACING * place, "line_id": "S1", "sequence": place + 1} for place in range(count)]
    for field, values in changes.items():
        for place, value in values.items():
            rows[place][field] = value
    return rows


def raised(job, rows, **columns):
    shots = job.prepared(job.shots(rows), **columns)
    return job.raised(job.run(job.layers(shots=shots), Spikes()))


def raised_with_design(job, rows, lines=LINE, **columns):
    layers = job.layers(shots=job.prepared(job.shots(rows), **columns), **job.design(lines))
    return job.raised(job.run(layers, MatchLines(), Spikes()))


STRAY = {("107", "spike", False)}
BOTH = STRAY | {("120", "spike", False)}


@pytest.mark.parametrize("judged", [raised, raised_with_design], ids=["alone", "with design"])
class TestAlone:
    @pytest.mark.parametrize("change", [{"offset": {6: 0.5}}, {"offset": {6: -0.5}}, {"elevation": {6: 100.5}}])
    def test_one_shot_off_a_straight_line_is_flagged(self, job, judged, change):
        assert judged(job, straight(**change)) == STRAY

    def test_a_straight_line_raises_nothing(self, job, judged):
        assert judged(job, straight()) == set()

    def test_a_misfit_of_less_than_a_tenth_is_never_stray(self, job, judged):
        sharp = {"u_h_random": 0.001, "u_v_random": 0.001}
        assert judged(job, straight(elevation={6: 100.09}), **sharp) == set()
        assert judged(job, straight(elevation={6: 100.11}), **sharp) == STRAY

    def test_a_misfit_within_its_uncertainty_is_not_stray(self, job, judged):
        rough = {"u_h_random": 0.2, "u_v_random": 0.2}
        assert judged(job, straight(offset={6: 0.5}, elevation={6: 100.5}), **rough) == set()

    def test_two_neighbours_that_stray_together_were_built(self, job, judged):
        assert judged(job, straight(elevation={6: 100.5, 7: 100.5})) == set()

    def test_a_line_of_seven_tells_nothing(self, job, judged):
        assert judged(job, straight(7, offset={3: 0.5})) == set()
        assert judged(job, straight(8, offset={3: 0.5})) == {("104", "spike", False)}

    def test_a_missing_elevation_is_no_spike(self, job, judged):
        assert judged(job, straight(elevation={6: np.nan})) == set()

    def test_no_shots_are_no_error(self, job, judged):
        assert judged(job, []) == set()


def test_a_corner_is_not_stray(job):
    # 6 legs north, then 6 legs east
    rows = straight(station=dict.fromkeys(range(7, 13), 6 * SPACING),
                    offset={place: (place - 6) * SPACING for place in range(7, 13)})  # fmt: skip
    assert raised(job, rows) == set()


def test_a_designed_dip_is_not_stray_and_a_shot_that_leaves_it_out_is(job):
    tables = job.design(LINE)
    dip = tables["design_elements"].iloc[[0, 0, 0, 0]].reset_index(drop=True)
    ends = np.array([0.0, 125.0, 150.0, 175.0, 400.0])
    levels = np.array([100.0, 100.0, 99.5, 100.0, 100.0])
    dip = dip.assign(sequence=[0, 1, 2, 3], start_station=ends[:-1], length=np.diff(ends))
    dip = dip.assign(start_northing=job.origin[1] + ends[:-1], end_northing=job.origin[1] + ends[1:])
    dip = dip.assign(start_elevation=levels[:-1], end_elevation=levels[1:])

    def with_dip(rows):
        layers = job.layers(shots=job.prepared(job.shots(rows)), **(tables | {"design_elements": dip}))
        return job.raised(job.run(layers, MatchLines(), Spikes()))

    assert with_dip(straight(elevation={6: 99.5})) == set()
    assert with_dip(straight()) == STRAY


@pytest.mark.parametrize(("kind", "away", "expected"), [
    ("ramp", 10.0, set()), ("driveway", 10.0, set()), ("ramp", 20.0, STRAY), ("rim", 10.0, STRAY),
])  # fmt: skip
def test_without_design_a_dip_beside_a_ramp_was_built(job, kind, away, expected):
    beside = {"station": 6 * SPACING, "offset": away, "elevation": 99.5}
    rows = [*straight(elevation={6: 99.5}), beside]
    assert raised(job, rows, kind=["curb-top"] * 13 + [kind]) == expected


@pytest.mark.parametrize(("other", "expected"), [(99.5, set()), (100.5, BOTH)])
def test_without_design_a_dip_that_another_line_shares_was_built(job, other, expected):
    second = [dict(row, line_id="S2", offset=1.0) for row in straight(elevation={6: other})]
    assert raised(job, [*straight(elevation={6: 99.5}), *second]) == expected


def test_check_shots_are_on_no_line(job):
    assert raised(job, straight(offset={6: 0.5}), role="check") == set()
