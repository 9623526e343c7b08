"""Control per session: numbers that a pocket calculator gives, and which mark the others contradict."""

import math

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.steps.control.residual_tables import ResidualTables

PLACES = {"CP-1": (0.0, 0.0), "CP-2": (400.0, 0.0), "CP-3": (400.0, 400.0), "CP-4": (0.0, 400.0)}


def tables(job, rows, limits=(("control", "control-position", -math.inf, 0.10),), role="check"):
    """Layers of check shots given as (mark, east, north, up[, session]): each measured minus published."""
    control = pd.DataFrame({"mark": list(PLACES), "elevation": 100.0, "held": False, "independent": True})
    control["easting"], control["northing"] = (job.origin + np.array(list(PLACES.values()))).T
    shots = []
    for mark, east, north, up, *session in rows:
        e, n = PLACES.get(mark, (0.0, 0.0))
        where = {"offset": e + east, "station": n + north, "elevation": 100.0 + up}
        shots.append({"line_id": mark, "session": session[0] if session else "A"} | where)
    known = job.prepared(job.shots(shots), kind="control", role=role)
    control = conform("control", control.assign(u_h=0.0, u_v=0.0, reference="Sheet 2"))
    layers = job.layers(shots=known, control=control, limits=job.limits(*limits))
    return job.run(layers, ResidualTables())


def test_sums_are_the_arithmetic_of_their_rows(job):
    layers = tables(job, [("CP-1", 0.03, 0.04, 0.01), ("CP-2", -0.01, 0.0, -0.03), ("CP-3", 0.01, 0.02, np.nan)])
    table = layers["control_table"]
    assert table["mark"].tolist() == ["CP-1", "CP-2", "CP-3"]
    assert table["horizontal"].tolist() == pytest.approx([0.05, 0.01, math.hypot(0.01, 0.02)])
    assert table["limit_h"].tolist() == [0.10] * 3
    assert table["limit_v"].isna().all()
    (row,) = layers["control_sessions"].to_dict("records")
    assert [row["session"], row["shots"], row["marks"]] == ["A", 3, 3]
    means = [row[f"mean_{axis}"] for axis in ("easting", "northing", "elevation")]
    assert means == pytest.approx([0.01, 0.02, -0.01])
    east, north, up = math.sqrt(11e-4 / 3), math.sqrt(20e-4 / 3), math.sqrt(10e-4 / 2)
    assert [row[f"rmse_{axis}"] for axis in ("easting", "northing", "elevation")] == pytest.approx([east, north, up])
    assert row["rmse_horizontal"] == pytest.approx(math.hypot(east, north))
    assert row["v_95"] == pytest.approx(norm.ppf(0.975) * up)


def test_shots_beyond_the_limit_are_counted(job):
    limits = [("control", "control-position", -math.inf, 0.10), ("control", "control-elevation", -0.05, 0.05)]
    rows = [("CP-1", 0.06, 0.09, 0.0), ("CP-2", 0.06, 0.07, -0.06), ("CP-3", 0.0, 0.0, 0.06)]
    row = tables(job, rows, limits)["control_sessions"].iloc[0]
    assert [row["over_h"], row["over_v"]] == [1, 2]  # 0.108 and 0.092; -0.06 and 0.06


def test_sessions_stand_apart_and_are_summed_up_together(job):
    rows = [("CP-1", 0.02, 0, 0, "B"), ("CP-1", 0.04, 0, 0, "A"), ("CP-2", 0.06, 0, 0, "B")]
    sums = tables(job, rows)["control_sessions"].set_index("session")
    assert sums["shots"].to_dict() == {"A": 1, "B": 2, "all": 3}
    assert sums["mean_easting"].to_dict() == pytest.approx({"A": 0.04, "B": 0.04, "all": 0.04})
    assert sums["marks"].to_dict() == {"A": 1, "B": 2, "all": 2}


@pytest.mark.parametrize(("size", "outlying"), [(0.02, ""), (0.5, "CP-3")])
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_the_mark_that_the_others_contradict_is_named(job, axis, size, outlying):
    rows = [(mark, 0.0, 0.0, 0.0) for mark in PLACES]
    rows[2] = ("CP-3", *(size if at == axis else 0.0 for at in range(3)))
    assert tables(job, rows)["control_sessions"]["outlying"].tolist() == [outlying]


def test_what_all_marks_share_makes_none_of_them_outlying(job):
    rows = [(mark, 0.5, -0.3, 0.4) for mark in PLACES]
    assert tables(job, rows)["control_sessions"]["outlying"].tolist() == [""]


def test_of_two_that_disagree_neither_is_named(job):
    rows = [("CP-1", 0.0, 0.0, 0.0), ("CP-2", 0.5, 0.0, 0.0)]
    assert tables(job, rows)["control_sessions"]["outlying"].tolist() == [""]


@pytest.mark.parametrize(
    ("rows", "role"), [([], "check"), ([("CP-9", 0, 0, 0)], "check"), ([("CP-1", 0, 0, 0)], "feature")]
)
def test_without_a_check_shot_on_a_mark_both_tables_are_empty(job, rows, role):
    layers = tables(job, rows, role=role)
    assert len(layers["control_table"]) == len(layers["control_sessions"]) == 0
    assert "h_95" in layers["control_sessions"].columns


@pytest.mark.parametrize(("stated", "outlying"), [(0.0, "CP-3"), (np.nan, "")])
def test_marks_that_state_no_uncertainty_are_not_taken_for_exact(job, stated, outlying):
    """0.10 ft in 0.02: off where the published values are exact, and nothing where they are good to 0.03 ft."""
    layers = tables(job, [(mark, 0.10 if mark == "CP-3" else 0.0, 0.0, 0.0) for mark in PLACES])
    control = layers["control"].assign(u_h=stated, u_v=0.0)
    made = ResidualTables().run(Layers({**layers, "control": control}, frame=layers.frame))
    (row,) = made["control_sessions"].to_dict("records")
    assert row["outlying"] == outlying
    assert row["horizontal_says"].endswith("; 4 marks state no uncertainty, and are taken with 0.030 ft") == (
        stated != stated
    )
    assert "uncertainty" not in row["vertical_says"]
