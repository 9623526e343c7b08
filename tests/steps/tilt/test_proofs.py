"""The lines a tilt test gives to paste rest on what its limits rest on."""

import tomllib
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from geoqa.job.document.file import Tilt
from geoqa.kernels.precision.estimate import linear_estimate
from geoqa.kernels.tilt.compensation import learn_tilt
from geoqa.kernels.tilt.limits import known_tilt_model, largest_tilt
from geoqa.model.quantity import FOOT
from geoqa.steps.tilt.proofs import Scope, conclusion, headline, limits_table, plan_table, setting

WIDE = Scope(sides=4, sessions=2)
ROD = 6.562


@pytest.mark.parametrize(("plan", "up"), [(0.27, 0.40), (0.40, 0.27)])
def test_the_lines_to_paste_take_the_larger_of_both_angles(plan, up):
    model = known_tilt_model(
        rod=6.562, heading_spread=1.2, angle_spread=plan, plumb_h=0.01, plumb_v=0.015, tilt_high=30
    )
    lifted = known_tilt_model(rod=6.562, heading_spread=1.2, angle_spread=up, plumb_h=0.01, plumb_v=0.015, tilt_high=30)
    told = tomllib.loads(setting(replace(model, vertical=lifted.vertical), WIDE))["tilt"]
    assert (told["heading_deg"], told["angle_deg"], told["up_to_deg"]) == (1.2, 0.4, 30)


def small_test(seed, *, points=1, plumb=3, leans=(20.0,), sides=(0.0, 90.0, 180.0, 270.0), noise=0.02, moved=0.0,
               heading=0.3, bent=0.0):  # fmt: skip
    """A test of few shots by the rod's geometry; the plumb shots may be moved to the north, the tip sideways."""
    draw = np.random.default_rng(seed)
    lean = np.tile([0.0] * plumb + [each for each in leans for _ in sides], points)
    azimuth = np.tile([0.0] * plumb + list(sides) * len(leans), points)
    t, a = np.radians(lean), np.radians(azimuth)
    square = ROD * np.sin(t) * np.radians(draw.normal(0, heading, lean.size)) + bent * (lean > 0)
    return learn_tilt(
        np.repeat(np.arange(points), lean.size // points),
        square * np.cos(a) + draw.normal(0, noise, lean.size),
        -square * np.sin(a) + draw.normal(0, noise, lean.size) + moved * (lean == 0),
        draw.normal(0, noise, lean.size),
        tilt=lean, azimuth=azimuth, plumb=lean == 0, rod=ROD,
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(8))
def test_lines_of_a_small_test_are_ones_that_a_job_file_takes(seed):
    lines = setting(small_test(seed), WIDE)
    told = Tilt(**tomllib.loads(lines)["tilt"])
    # four shots leave a heading and an angle open to a good part of a degree, however alike they are
    assert told.heading_deg > 0.3
    assert told.angle_deg > 0.1


def limits_of(model, kinds=(("walk", 0.20),)):
    table = [("job", kind, "offset", -limit, limit, "guarded") for kind, limit in kinds]
    limits = pd.DataFrame(table, columns=["ruleset", "kind", "check", "lower", "upper", "rule"])
    codes = pd.DataFrame({"kind": [kind for kind, _ in kinds], "geometry": "line"})
    return limits_table(model, limits, codes, (0.0, 0.0), FOOT)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(5))
def test_plumb_shots_that_are_off_make_no_wrong_heading_where_the_rod_leaned_to_one_side(seed):
    model = small_test(seed, points=6, plumb=4, leans=(10.0, 20.0, 30.0), sides=(90.0,), noise=0.01, moved=0.03)
    assert model.heading_bias.significant  # the heading itself is right
    limits, scope = limits_of(model), Scope(sides=1, sessions=2)
    told = conclusion(model, limits, scope, FOOT)
    assert "the heading is read" not in told
    assert "leaned to 1 of four sides" in told
    assert "(1 of 4 sides)" in headline(limits, scope)
    assert "1 of 4 sides" in setting(model, scope)
    first = plan_table(model, limits, scope, FOOT)["words"]
    assert not first.str.contains("Set the heading").any()
    assert first.str.contains("all four sides").any()


@pytest.mark.long
@pytest.mark.parametrize("seed", range(5))
def test_a_tip_moved_alike_at_every_lean_is_no_heading_to_set_right(seed):
    model = small_test(seed, points=6, plumb=4, leans=(10.0, 20.0, 30.0), noise=0.01, bent=0.04)
    assert model.left[0] > 0.01
    limits = limits_of(model)
    told = conclusion(model, limits, WIDE, FOOT)
    assert "the heading is read" not in told
    assert "sideways up to 0.0" in told
    assert setting(model, WIDE) == ""
    assert "no lines for a job file" in told
    assert plan_table(model, limits, WIDE, FOOT)["words"].iloc[0].startswith("Look for what moves the tip")


@pytest.mark.long
def test_one_session_is_said_in_conclusion_headline_and_lines():
    model = small_test(1, points=6, plumb=4, leans=(10.0, 20.0))
    limits, scope = limits_of(model), Scope(sides=4, sessions=1)
    assert "of one session: what changes from day to day does not show" in conclusion(model, limits, scope, FOOT)
    assert "(one session)" in headline(limits, scope)
    assert "one session" in setting(model, scope)


def test_a_bias_too_small_to_be_told_counts_in_the_cautious_limit_and_the_lines():
    known = known_tilt_model(rod=ROD, heading_spread=0.5, angle_spread=0.1, plumb_h=0.01, plumb_v=0.01, tilt_high=30)
    open_to = replace(known, heading_bias=linear_estimate(0.0, 0.6, dof=12))
    asked = {"limit": 0.15, "check": "offset", "deviation": 0.075}
    assert largest_tilt(open_to, **asked).tilt == largest_tilt(known, **asked).tilt
    # 2.179 of 0.6 degrees: 0.150 sin t ft, and u of the heading alone, under 0.075 ft
    found = largest_tilt(open_to, **asked).cautious
    t = np.radians(found)
    u = np.hypot(0.01, ROD * np.sin(t) * np.radians(0.5))
    assert ROD * np.sin(t) * np.radians(0.6 * 2.1788) + 1.6449 * u == pytest.approx(0.075, abs=1e-3)
    assert found < largest_tilt(known, **asked).cautious
    assert tomllib.loads(setting(open_to, WIDE))["tilt"]["heading_deg"] == pytest.approx(np.hypot(0.5, 0.6), abs=0.005)
