import math

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.control.check_shots import CheckShots


def marks(job, **columns):
    table = pd.DataFrame(
        {"mark": ["CP-1", "CP-2"], "held": [False, True], "independent": False, "reference": "Sheet 2"}
    )
    table = table.assign(easting=job.origin[0], northing=job.origin[1], elevation=100.0, u_h=0.0, u_v=0.0)
    return conform("control", table.assign(**columns))


def checked(job, rows, control=None, limits=None, **columns):
    given = {"kind": "control", "role": "check"} | columns
    shots = job.prepared(job.shots([{"line_id": "CP-1", "code": "CHK"} | row for row in rows]), **given)
    default = [("control", "control-position", -math.inf, 0.10), ("control", "control-elevation", -0.15, 0.15)]
    tables = {"shots": shots, "control": marks(job) if control is None else control}
    return job.run(job.layers(**tables, limits=job.limits(*(default if limits is None else limits))), CheckShots())


def test_horizontal_residuals_are_judged_by_radius(job):
    made = checked(job, [{"offset": 0.03, "station": 0.04}, {"offset": 0.3}, {"offset": 0.1}, {"easting": np.nan}])
    assert job.told(made, "control-position") == {
        "101": ("IN", "proven"),
        "102": ("OUT", "proven"),
        "103": ("UNDECIDED", "near-limit"),
        "104": ("NO_DATA", "no-position"),
    }
    findings = made["findings"].set_index(["check", "shot"])
    assert findings.loc[("control-position", "day1/101"), "deviation"] == pytest.approx(0.05)


def test_elevations_are_judged_with_their_sign(job):
    made = checked(job, [{"elevation": 100.02}, {"elevation": 99.7}, {"elevation": 100.14}, {"elevation": np.nan}])
    assert job.told(made, "control-elevation") == {
        "101": ("IN", "proven"),
        "102": ("OUT", "proven"),
        "103": ("UNDECIDED", "near-limit"),
        "104": ("NO_DATA", "no-elevation"),
    }
    findings = made["findings"].set_index(["check", "shot"])
    assert findings.loc[("control-elevation", "day1/102"), "deviation"] == pytest.approx(-0.3)
    # a level reading of the mark, or another session, says nothing of what this session shares
    remedy = findings.loc[("control-elevation", "day1/103"), "remedy"]
    assert "check shots of this session" in remedy
    assert remedy.endswith("check the session on two other marks")


def test_the_uncertainty_of_the_mark_joins_the_common_part(job):
    made = checked(job, [{}], marks(job, u_h=0.03, u_v=0.04))
    findings = made["findings"].set_index("check")
    assert findings.loc["control-position", ["u_common", "u_random"]].tolist() == pytest.approx([0.03, 0.02])
    assert findings.loc["control-elevation", "u_common"] == pytest.approx(math.hypot(0.02, 0.04))


def test_the_mark_is_named_by_line_id_then_shot_then_note(job):
    made = checked(
        job,
        [
            {"line_id": " CP-2 "},
            {"line_id": None, "shot": "CP-1"},
            {"line_id": "x", "shot": "9", "note": "CP-2"},
            {"line_id": "CP-9"},
        ],
    )
    position = made["findings"][made["findings"]["check"] == "control-position"].set_index("shot")
    assert position["subject"].to_dict() == {
        "day1/101": "CP-2",
        "day1/CP-1": "CP-1",
        "day1/9": "CP-2",
        "day1/104": "CP-9",
    }
    assert position.loc["day1/104", ["verdict", "why"]].tolist() == ["NO_DATA", "no-mark"]
    assert position.loc["day1/101", "label"] == "shot 101 (held)"
    evidence = made["evidence"]
    assert evidence.groupby("role").size().to_dict() == {"mark": 6, "shot": 8}


def test_a_rejected_check_shot_or_a_missing_limit_is_no_data(job):
    assert job.told(checked(job, [{}], use=False), "control-position") == {"101": ("NO_DATA", "screened")}
    assert job.told(checked(job, [{}], limits=[]), "control-position") == {"101": ("NO_DATA", "no-limit")}


def test_residuals_are_averaged_by_mark_and_session(job):
    rows = [{"offset": 0.02}, {"offset": 0.04, "elevation": 100.1}, {"offset": -0.01, "session": "B"}, {"line_id": "?"}]
    table = checked(job, rows)["control_residuals"]
    assert table["mark"].tolist() == ["CP-1", "CP-1"]
    assert table["session"].tolist() == ["A", "B"]
    assert table["shots"].tolist() == [2, 1]
    assert table["mean_easting"].tolist() == pytest.approx([0.03, -0.01])
    assert table["mean_elevation"].tolist() == pytest.approx([0.05, 0.0])
    assert table["worst"].tolist() == pytest.approx([0.04, 0.01])


def test_without_check_shots_nothing_is_found(job):
    made = checked(job, [{}], role="feature")
    assert len(made["findings"]) == len(made["evidence"]) == len(made["control_residuals"]) == 0
