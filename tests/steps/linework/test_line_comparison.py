"""Planted lines beside planted design: shares judged, distances, and what a whole line or day shares."""

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.linework import LINE_SHARE
from geoqa.contract.sentences import note_lines
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.runs import Runs
from geoqa.steps.linework.asbuilt_lines import AsBuiltLines
from geoqa.steps.linework.line_comparison import LineComparison
from geoqa.steps.linework.line_means import asked_about

DESIGN = {"A": ("curb-top", 0.0, 0.0, 200.0)}
EVERY = range(10, 200, 20)
BAND = ("curb-top", "offset", -0.10, 0.10)
SHARE = ("curb-top", "line-share", 0.95, np.inf)


def string(offsets, stations=EVERY, name="1", **more):
    return [
        {"offset": e, "station": float(n), "line_id": name, "sequence": nth, "shot": f"{name}-{nth}"} | more
        for nth, (e, n) in enumerate(zip(offsets, stations, strict=True))
    ]


def compared(job, rows, design=DESIGN, limits=(BAND, SHARE), u=0.01, runs=False, **columns):
    given = {"u_h_random": u, "u_h_common": 0.0, "u_v_random": 0.01, "u_v_common": 0.01} | columns
    layers = job.layers(shots=job.prepared(job.shots(rows), **given), limits=job.limits(*limits), **job.design(design))
    return job.run(layers, MatchLines(), *([Runs()] if runs else []), AsBuiltLines(), LineComparison())


def verdict(done):
    rows = done["findings"][done["findings"]["check"] == "line-share"]
    return [tuple(each) for each in rows[["verdict", "why"]].itertuples(index=False)]


def test_a_line_within_its_band_is_in(job):
    done = compared(job, string([0.02, -0.03] * 5))
    assert verdict(done) == [("IN", "proven")]
    row = done["line_comparison"].iloc[0]
    assert (row["share"], row["share_low"], row["shots"], row["design"]) == (1.0, 1.0, 10, "A")
    assert row["covered"] == pytest.approx(180 / 200)
    assert row["hausdorff"] == pytest.approx(0.03, abs=1e-3)
    assert row["area"] == pytest.approx(0.0131 * 180, rel=0.2)
    finding = done["findings"][done["findings"]["check"] == "line-share"].iloc[0]
    assert (finding["quantity"], finding["lower"], finding["station"], finding["station_end"]) == (
        "ratio",
        0.95,
        10,
        190,
    )
    assert len(done["evidence"][done["evidence"]["finding"] == finding["finding"]]) == 10


def test_a_line_half_of_which_is_off_is_out(job):
    done = compared(job, string([0.0] * 5 + [0.4] * 5))
    assert verdict(done) == [("OUT", "proven")]
    assert done["line_comparison"]["share"].iloc[0] == pytest.approx((80 + 20 * 0.25) / 180, abs=1e-3)
    at = done["findings"][done["findings"]["check"] == "line-share"].iloc[0]
    assert at["easting"] - job.origin[0] == pytest.approx(0.4)


def test_scatter_that_the_measurement_explains_is_no_defect(job):
    # perfect work, shot with an uncertainty as wide as the band: a sixth of it lies outside as measured
    noise = np.random.default_rng(3).normal(0, 0.10, 60)
    done = compared(job, string(noise, np.linspace(5, 195, 60)), u=0.10)
    assert done["line_comparison"]["share"].iloc[0] < 0.85
    assert verdict(done)[0][0] == "UNDECIDED"


def test_a_line_that_a_common_error_could_push_out_is_undecided(job):
    assert verdict(compared(job, string([0.07] * 10), u_h_common=0.02))[0][0] == "UNDECIDED"
    assert verdict(compared(job, string([0.04] * 10), u_h_common=0.02))[0][0] == "IN"


@pytest.mark.long
def test_without_a_band_and_with_shots_left_out_nothing_is_judged(job):
    assert verdict(compared(job, string([0.0] * 10), limits=(SHARE,))) == [("NO_DATA", "no-band")]
    use = [True] * 10
    use[2] = use[5] = use[7] = False
    assert verdict(compared(job, string([0.0] * 10), use=use)) == [("NO_DATA", "shots-left-out")]
    for name in ("no-band", "shots-left-out"):
        assert LINE_SHARE.reason(name).remedy


def test_without_the_key_nothing_is_judged_and_all_is_told_in_the_table(job):
    done = compared(job, string([0.0] * 10), limits=(BAND,))
    assert verdict(done) == []
    assert done["line_comparison"]["share"].tolist() == [1.0]


def test_what_lies_past_the_end_of_the_design_counts_on_neither_side(job):
    done = compared(job, string([0.0] * 11, range(10, 230, 20)), {"A": ("curb-top", 0.0, 0.0, 205.0)})
    row = done["line_comparison"].iloc[0]
    assert row["beyond"] == pytest.approx(5.0)
    assert row["share"] == pytest.approx(1.0)


@pytest.mark.long
def test_a_line_shot_against_the_design_compares_the_same(job):
    offsets = [0.02, 0.05, 0.01, -0.02, 0.12, 0.03, 0.0, 0.04, 0.02, 0.06]
    one = compared(job, string(offsets))["line_comparison"]
    other = compared(job, string(offsets[::-1], list(EVERY)[::-1]))["line_comparison"]
    pd.testing.assert_frame_equal(one, other)


def shifted(job, rows, design=DESIGN, **more):
    done = compared(job, rows, design, **more)
    return done, note_lines(done["notes"], "ft")


def test_a_line_that_is_off_as_a_whole_is_said_once(job):
    noise = np.random.default_rng(1).normal(0, 0.01, 10)
    done, said = shifted(job, string(-0.08 + noise))
    mine = [each for each in said if each.startswith("Line CTB 1 lies")]
    assert len(mine) == 1
    assert "left of its design A over its whole length (10 shots)" in mine[0]
    row = done["line_comparison"].iloc[0]
    assert row["mean_offset"] == pytest.approx(-0.08, abs=0.01)
    assert row["rest_offset"] == "random"
    assert row["u_offset_random"] < 0.01


@pytest.mark.long
def test_a_run_that_says_it_already_is_not_said_again(job):
    noise = np.random.default_rng(1).normal(0, 0.01, 10)
    done, said = shifted(job, string(-0.18 + noise), runs=True)
    assert len(done["runs"]) == 1
    assert not [each for each in said if each.startswith("Line ")]


@pytest.mark.parametrize("common", [0.02, 0.05])
def test_what_a_session_is_stated_to_share_is_no_shift_of_its_line(job, common):
    _, said = shifted(job, string([0.06] * 10), u_h_common=common)
    assert bool([each for each in said if each.startswith("Line ")]) == (common < 0.03)


def day(lift, session, first, seed, **more):
    rng = np.random.default_rng(seed)
    rows = []
    for at in range(4):
        level = 100.0 + lift + rng.normal(0, 0.01, 10)
        name = f"{session}{at}"
        own = string(rng.normal(0, 0.01, 10), name=name, session=session, **more)
        rows += [
            row | {"offset": row["offset"] + 10.0 * (first + at), "elevation": z}
            for row, z in zip(own, level, strict=True)
        ]
    return rows


def test_a_day_that_is_high_over_all_lines_is_said_once_for_the_day(job):
    design = {f"L{at}": ("curb-top", 10.0 * at, 0.0, 200.0) for at in range(8)}
    rows = day(0.15, "B", 0, 2) + day(0.0, "C", 4, 3)
    limits = (BAND, ("curb-top", "elevation", -0.10, 0.10))
    done, said = shifted(job, rows, design, limits=limits)
    mine = [each for each in said if each.startswith("Session")]
    assert len(mine) == 1
    assert mine[0].startswith("Session B lies 0.149 ft ± 0.020 ft high of the design as a whole, by 40 shots on 4")
    assert "No check shot tells" in mine[0]
    assert not [each for each in said if each.startswith("Line ")]
    means = done["session_means"].set_index(["session", "axis"])["shift"]
    assert means["B", "elevation"] == pytest.approx(0.15, abs=0.01)
    assert means["C", "elevation"] == pytest.approx(0.0, abs=0.01)


def test_what_a_session_is_asked_about_already_is_not_said_again_along_the_same_axis():
    loose = pd.DataFrame({"session": ["A", "B"], "shift": [0.1, np.nan], "easting": [np.nan, 0.09]})
    assert asked_about(loose) == {("elevation", "A"), ("easting", "B"), ("northing", "B")}


def test_one_line_that_is_high_is_no_session(job):
    design = {f"L{at}": ("curb-top", 10.0 * at, 0.0, 200.0) for at in range(4)}
    rows = day(0.0, "B", 0, 2)
    for row in rows[:10]:
        row["elevation"] += 0.15
    _, said = shifted(job, rows, design, limits=(BAND, ("curb-top", "elevation", -0.10, 0.10)))
    assert not [each for each in said if each.startswith("Session")]
    assert len([each for each in said if each.startswith("Line CTB B0 lies")]) == 1


@pytest.mark.parametrize(("count", "design"), [(0, DESIGN), (10, {})])
def test_no_lines_or_no_design_give_empty_tables(job, count, design):
    done = compared(job, string([0.0] * count, list(EVERY)[:count]), design)
    assert len(done["line_comparison"]) == 0
    assert len(done["session_means"]) == 0


def test_between_shots_on_a_design_curve_the_line_bends_as_the_design_does(job):
    # a curve of radius 60, shot every 25 ft without a word for it: chords would leave a band of 0.10 by a foot
    radius, at = 60.0, np.arange(0, 94, 23.5) / 60.0
    lines = {"A": ("curb-top", 0.0, 0.0, 94.0)}
    tables = job.design(lines)
    east, north = job.origin
    arc = {
        "shape": "arc", "centre_easting": east + radius, "centre_northing": north, "radius": radius, "sense": 1,
        "length": radius * np.pi / 2, "end_easting": east + radius, "end_northing": north + radius,
    }  # fmt: skip
    tables["design_elements"] = tables["design_elements"].assign(**arc)
    places = [(radius - (radius + 0.03) * np.cos(a), (radius + 0.03) * np.sin(a)) for a in at]
    rows = [row | {"offset": e, "station": n} for row, (e, n) in zip(string([0.0] * 4, range(4)), places, strict=True)]
    layers = job.layers(shots=job.prepared(job.shots(rows), u_h_random=0.01), limits=job.limits(BAND, SHARE), **tables)
    done = job.run(layers, MatchLines(), AsBuiltLines(), LineComparison())
    row = done["line_comparison"].iloc[0]
    assert row["share"] == 1.0
    assert verdict(done) == [("IN", "proven")]
    assert row["hausdorff"] == pytest.approx(0.03, abs=2e-3)
    assert row["frechet"] == pytest.approx(0.03, abs=2e-3)


def test_a_corner_of_the_design_that_nobody_shot_is_no_defect(job):
    tables = job.design({"A": ("curb-top", 0.0, 0.0, 40.0)})
    east, north = job.origin
    turned = {
        "sequence": 1, "start_station": 40.0, "start_northing": north + 40.0, "end_easting": east + 40.0,
    }  # fmt: skip
    legs = tables["design_elements"]
    tables["design_elements"] = pd.concat([legs, legs.assign(**turned)], ignore_index=True)
    rows = string([0.0, 0.0, 0.0, 10.0, 20.0, 40.0], [0.0, 15.0, 30.0, 40.0, 40.0, 40.0])
    layers = job.layers(shots=job.prepared(job.shots(rows), u_h_random=0.01), limits=job.limits(BAND, SHARE), **tables)
    done = job.run(layers, MatchLines(), AsBuiltLines(), LineComparison())
    row = done["line_comparison"].iloc[0]
    assert row["share_low"] < row["share"] < 0.95
    assert row["share_high"] == pytest.approx(1.0)
    assert verdict(done)[0][0] == "UNDECIDED"
