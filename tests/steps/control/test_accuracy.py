"""NSSDA and ASPRS statements: made where the standard allows them, else a row that says it is not allowed.

Factors are 2.4477 and 1.96 (FGDC-STD-007.3-1998, values from memory); every residual is of one size, so that the
root mean square is that size.
"""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.control.accuracy import Accuracy

EAST, NORTH, UP = 0.03, 0.03, 0.05


def stated(job, count, *, repeats=1, fitted=None, role="check", **columns):
    """The table, for marks in a grid of six a row over 1,500 by 1,200 ft, of which the shots are off by + and -."""
    place = np.array([[300.0 * (nth % 6), 300.0 * (nth // 6)] for nth in range(count)]).reshape(-1, 2)
    sign = (-1.0) ** np.arange(count)
    control = pd.DataFrame({"mark": [f"V-{nth:02d}" for nth in range(count)], "held": False, "independent": True})
    control["easting"], control["northing"] = (job.origin + place).T
    control = control.assign(elevation=100.0, u_h=0.004, u_v=0.006, reference="levels")
    for name, values in columns.items():
        control[name] = values
    rows = [
        {"line_id": control["mark"][nth], "offset": place[nth, 0] + EAST * sign[nth],
         "station": place[nth, 1] + NORTH * sign[nth], "elevation": 100.0 + UP * sign[nth]}
        for nth in range(count) for _ in range(repeats)
    ]  # fmt: skip
    shots = job.prepared(job.shots(rows), kind="control", role=role)
    tables = {"control": conform("control", control), "shots": shots}
    layers = job.layers(**tables)
    if fitted is not None:
        layers = job.layers(**tables, site_fit_marks=fitted)
    table = job.run(layers, Accuracy())["accuracy"]
    table["standard"] = table["standard"].str.partition(",")[0].str.partition(" ")[0]
    return table.set_index(["standard", "component"])


def test_thirty_marks_let_both_be_stated_with_their_numbers(job):
    table = stated(job, 30)
    assert table["allowed"].all()
    assert (table["points"] == 30).all()
    assert table.loc[("NSSDA", "horizontal"), "value"] == pytest.approx(2.4477 * 0.03)
    assert table.loc[("NSSDA", "vertical"), "value"] == pytest.approx(1.96 * 0.05)
    assert table.loc[("NSSDA", "horizontal"), "rmse"] == pytest.approx(np.hypot(0.03, 0.03))
    # what the marks themselves leave uncertain joins: 0.004 on each axis, and 0.006
    assert table.loc[("ASPRS", "horizontal"), "value"] == pytest.approx(np.hypot(0.03, 0.004) * np.sqrt(2))
    assert table.loc[("ASPRS", "vertical"), "value"] == pytest.approx(np.hypot(0.05, 0.006))


@pytest.mark.parametrize(("count", "nssda", "asprs"), [(19, False, False), (20, True, False), (29, True, False)])
def test_twenty_points_are_enough_for_one_and_thirty_for_the_other(job, count, nssda, asprs):
    table = stated(job, count)
    assert table.loc["NSSDA", "allowed"].tolist() == [nssda] * 2
    assert table.loc["ASPRS", "allowed"].tolist() == [asprs] * 2
    assert table["value"].isna().tolist() == (~table["allowed"]).tolist()
    assert table.loc[("NSSDA", "vertical"), "rmse"] == pytest.approx(0.05)


@pytest.mark.parametrize("change", [
    {"held": [True] + [False] * 29}, {"independent": [False] + [True] * 29}, {"u_h": [0.02] + [0.004] * 29},
    {"u_v": [np.nan] + [0.006] * 29},
])  # fmt: skip
def test_a_mark_that_is_held_or_of_the_survey_or_no_better_known_is_no_check_point(job, change):
    table = stated(job, 30, **change)
    assert (table["points"] == 29).all()
    assert not table.loc["ASPRS", "allowed"].any()


def test_repeats_on_a_mark_add_nothing(job):
    assert (stated(job, 15, repeats=2)["points"] == 15).all()


def test_a_mark_of_the_site_fit_is_no_check_point(job):
    marks = conform("site_fit_marks", pd.DataFrame({"mark": ["V-00"], "shots": [1], "outlying": [False]}))
    assert (stated(job, 30, fitted=marks)["points"] == 29).all()


def test_without_check_shots_nothing_is_stated(job):
    for table in (stated(job, 0), stated(job, 30, role="feature")):
        assert not table["allowed"].any()
        assert (table["points"] == 0).all()
        assert table["value"].isna().all()
