"""A session's proven shift is taken off its numbers only where the job names it, with the u of the shift."""

from functools import cache

import numpy as np
import pandas as pd
import pytest

from geoqa import testing
from geoqa.contract.sentences import note_lines
from geoqa.errors import StepError
from geoqa.model.tables.columns import conform
from geoqa.steps.control.session_shifts import SessionShifts
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.one_place import OnePlace
from geoqa.steps.design.positions import Positions
from geoqa.steps.unproven.shifted_verdicts import ShiftedVerdicts

MARKS = {"CP-1": (0.0, 0.0), "CP-2": (400.0, 0.0), "CP-3": (400.0, 400.0), "CP-4": (0.0, 400.0)}
SHIFT = (0.05, -0.04, 0.10)
LIMITS = [("curb-top", "offset", -0.1, 0.1), ("curb-top", "elevation", -0.1, 0.1), ("rim", "position", -np.inf, 0.1),
          ("rim", "elevation", -0.1, 0.1)]  # fmt: skip


@cache
def judged(*, apply=(), shift=SHIFT, axes=(1, 1, 1), slope=0.0, marks=4):
    """Session A shifted as a whole, and B not: check shots on four marks, feature shots on a line and a rim."""
    control = pd.DataFrame({"mark": list(MARKS), "elevation": 100.0, "held": False, "independent": True})
    control["easting"], control["northing"] = (np.array(testing.ORIGIN) + np.array(list(MARKS.values()))).T
    control = conform("control", control.assign(u_h=0.0, u_v=0.0, reference="Sheet 2"))
    rng, rows, step = np.random.default_rng(5), [], np.array(shift) * axes
    for session, off in (("A", step), ("B", np.zeros(3))):
        for mark, (east, north) in list(MARKS.items())[:marks] * 4:
            e, n, z = off + rng.normal(0, 0.008, 3)
            rows.append({"line_id": mark, "session": session, "offset": east + e, "station": north + n,
                         "elevation": 100 + z, "kind": "control", "role": "check"})  # fmt: skip
        for nth, station in enumerate((50.0, 100.0, 150.0)):
            e, n, z = off
            level = 100.0 + slope * station
            rows.append({"session": session, "offset": e, "station": station + n, "elevation": level + z,
                         "kind": "curb-top", "role": "feature", "shot": f"{session}{nth}"})  # fmt: skip
        e, n, z = off
        rows.append({"session": session, "offset": 30 + e, "station": 60 + n, "elevation": 100 + z, "kind": "rim",
                     "role": "feature", "shot": f"{session}rim"})  # fmt: skip
    words = [{key: each.pop(key) for key in ("kind", "role")} for each in rows]
    shots = testing.prepared(
        testing.shots(rows), kind=[each["kind"] for each in words], role=[each["role"] for each in words]
    )
    shots = shots.assign(u_h_random=0.008, u_v_random=0.008, u_h_common=0.03, u_v_common=0.03)
    shots["time"] = pd.date_range("2026-05-12T12:00Z", periods=len(shots), freq="3h")
    design = testing.design({"L": ("curb-top", 0.0, 0, 400)}, {"R": ("rim", 30.0, 60.0, 100.0)})
    design["design_elements"]["end_elevation"] += slope * 400
    layers = testing.layers(shots=shots, control=control, limits=testing.limits(*LIMITS), **design)
    return testing.run(layers, SessionShifts(apply=apply), MatchLines(), MatchPoints(), Offsets(), Elevations(),
                   Positions(), ShiftedVerdicts())  # fmt: skip


def of(made, check, session):
    found = made["findings"]
    return found[(found["check"] == check) & found["shot"].fillna("").str.startswith(f"day1/{session}")]


@pytest.mark.long
def test_nothing_is_taken_off_unless_the_job_says_so():
    made = judged()
    assert not made["session_shifts"]["applied"].any()
    assert of(made, "elevation", "A")["deviation"].tolist() == pytest.approx([0.10] * 4)
    (line,) = note_lines(made["notes"], "ft", only=["session-shift"])
    assert line.endswith('Nothing was corrected; [[steps]] use = "session-shifts", apply = ["A"] takes it off.')


@pytest.mark.long
def test_the_shift_is_taken_off_every_number_that_feels_it_with_its_own_u():
    made, read = judged(apply=("A",)), judged()
    shifts = made["session_shifts"].query("session == 'A'").set_index("axis")
    assert shifts["applied"].all()
    assert (shifts["u_applied"] > shifts["u"]).all()  # t distribution, choice, and a mark that may be off
    for check, left in (("elevation", 0.0), ("offset", 0.0), ("position", 0.0)):
        mine = of(made, check, "A")
        assert np.abs(mine["deviation"] - left).max() < 0.02
        axes = ["elevation"] if check == "elevation" else ["easting", "northing"]
        assert mine["u_common"].tolist() == pytest.approx([shifts.loc[axes, "u_applied"].max()] * len(mine))
        assert mine["u_common"].max() < 0.03
        assert (mine["measured"] - mine["design"]).tolist() == pytest.approx(mine["deviation"].tolist())
        other = of(made, check, "B")
        pd.testing.assert_frame_equal(other, of(read, check, "B"))
    assert of(made, "elevation", "A")["deviation"].tolist() == pytest.approx(
        [0.10 - shifts.loc["elevation", "shift"]] * 4
    )
    (line,) = note_lines(made["notes"], "ft", only=["session-shift"])
    assert "TAKEN OFF" in line
    sizes = {axis: f"{axis} by {shifts.loc[axis, 'shift']:.3f} ft" for axis in ("easting", "northing")}
    assert all(each in line for each in sizes.values())
    pd.testing.assert_frame_equal(made["shots"], read["shots"])


def test_the_mean_of_several_shots_of_a_rim_is_freed_too():
    made = OnePlace().run(judged(apply=("A",)))["findings"]
    (position,) = made.loc[made["check"] == "position", "deviation"]
    assert position < 0.01  # one shot of session A, less its shift, and one of session B


@pytest.mark.long
def test_what_was_counted_without_the_shift_is_what_the_job_gets_by_taking_it_off():
    before, after = (judged(apply=each)["notes"].query("note == 'session-shift'").iloc[0] for each in ((), ("A",)))
    assert before[["written", "proposal", "count", "total"]].tolist() == after[
        ["written", "proposal", "count", "total"]
    ].tolist()  # fmt: skip


@pytest.mark.long
def test_only_a_proven_axis_is_taken_off():
    made = judged(apply=("A",), axes=(0, 0, 1))
    shifts = made["session_shifts"].query("session == 'A'")
    assert shifts.loc[shifts["applied"], "axis"].tolist() == ["elevation"]
    assert of(made, "offset", "A")["u_common"].tolist() == pytest.approx([0.03] * 3)
    assert np.abs(of(made, "elevation", "A")["deviation"]).max() < 0.02


@pytest.mark.long
def test_on_a_grade_the_elevation_is_looked_up_where_the_shot_lies_without_the_shift():
    made = judged(apply=("A",), shift=(0.0, 0.5, 0.1), slope=0.1)
    lines = of(made, "elevation", "A").query("kind == 'curb-top'")
    assert np.abs(lines["deviation"]).max() < 0.02  # 0.05 of the 0.5 along the grade


@pytest.mark.long
def test_a_shift_that_is_not_proven_is_not_taken_off_and_that_is_told():
    made, read = judged(apply=("B",)), judged()
    assert not made["session_shifts"]["applied"].any()
    pd.testing.assert_frame_equal(made["findings"], read["findings"])
    lines = note_lines(made["notes"], "ft", only=["session-shift"])
    assert any("no shift of it is proven: nothing was taken off" in line for line in lines)


def test_a_session_that_is_not_there_is_refused():
    with pytest.raises(StepError, match="apply names the session 'Z', and there are A, B"):
        judged(apply=("Z",))


@pytest.mark.long
def test_a_shift_that_rests_on_one_mark_is_not_taken_off_and_what_would_settle_it_is_told():
    made, read = judged(apply=("A",), marks=1), judged(marks=1)
    shifts = made["session_shifts"].query("session == 'A'")
    assert shifts["proven"].any()
    assert not shifts["applied"].any()
    pd.testing.assert_frame_equal(made["findings"], read["findings"])
    lines = note_lines(made["notes"], "ft", only=["session-shift"])
    assert any("rests on one mark" in line and "Check a second mark in that session" in line for line in lines)
    (line,) = note_lines(read["notes"], "ft", only=["session-shift"])
    assert "apply" not in line
