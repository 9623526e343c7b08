"""The field test as a step; limits of ISO 17123-8 are values from memory, their arithmetic is recomputed here."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import chi2

from geoqa.model.tables.columns import conform
from geoqa.steps.precision.field_procedure import FieldProcedure

S_XY, S_H = 0.015 / 0.3048, 0.025 / 0.3048


def shots_of(job, *, scale=1.0, series=3, blunder=None, drop=()):
    draw, rows = np.random.default_rng(11), []
    for number in range(series):
        for one in range(1, 6):
            for point, (e, z) in {"P1": (0.0, 100.0), "P2": (30.0, 101.0)}.items():
                error = draw.normal(0, 1, 3) * [S_XY / np.sqrt(2), S_XY / np.sqrt(2), S_H] * scale
                if blunder == (number, one, point):
                    error = error + np.array([0.4, 0.0, 0.0])
                if (number, one, point) in drop:
                    continue
                when = pd.Timestamp("2026-03-14 12:00", tz="UTC") + pd.Timedelta(95 * number + 5 * one, "min")
                rows.append({"line_id": point, "sequence": one, "session": f"S{number}", "time": when,
                             "offset": e + error[0], "station": error[1], "elevation": z + error[2]})  # fmt: skip
    return job.prepared(job.shots(rows), kind="field-test", role="other")


def decisions(job, shots, marks=("P1", "P2")):
    e0, n0 = job.origin
    control = pd.DataFrame({"mark": ["P1", "P2"], "easting": [e0, e0 + 30], "northing": n0, "elevation": [100.0, 101.0],
                            "held": False, "independent": True})  # fmt: skip
    control = conform("control", control[control["mark"].isin(marks)])
    return job.run(job.layers(shots=shots, control=control), FieldProcedure())["field_test"].set_index("quantity")


def test_equipment_as_stated_passes_and_the_limits_are_those_of_chi_square(job):
    found = decisions(job, shots_of(job))
    assert found["passed"].all()
    assert found.loc["horizontal precision", "dof"] == 56
    assert found.loc["vertical precision", "dof"] == 28
    assert found.loc["horizontal precision", "limit"] == pytest.approx(S_XY * np.sqrt(chi2.ppf(0.95, 56) / 56))
    assert found.loc["vertical precision", "limit"] == pytest.approx(S_H * np.sqrt(chi2.ppf(0.95, 28) / 28))
    assert found.loc["distance, series S0", "limit"] == pytest.approx(2.5 * np.sqrt(2) * S_XY)


def test_equipment_twice_as_rough_does_not_pass(job):
    found = decisions(job, shots_of(job, scale=2.0), marks=())
    assert not found.loc["horizontal precision", "passed"]
    assert found.loc["vertical precision", "words"].startswith("not passed")


def test_a_blunder_is_named_with_its_series_and_left_out_of_the_full_test(job):
    found = decisions(job, shots_of(job, blunder=(1, 3, "P2")))
    assert not found.loc["distance, series S1", "passed"]
    assert found.loc["distance, series S0", "passed"]
    assert found.loc["horizontal precision", "passed"]
    assert found.loc["horizontal precision", "dof"] == 52


def test_without_known_points_blunders_cannot_be_screened_and_it_is_said(job):
    found = decisions(job, shots_of(job), marks=("P1",))
    assert found.loc["series S0", "passed"] is pd.NA
    assert "cannot be screened" in found.loc["series S0", "words"]


def test_one_series_makes_no_full_test(job):
    found = decisions(job, shots_of(job, series=1))
    assert found.loc["distance, series S0", "passed"]
    assert "needs 3 series" in found.loc["layout", "words"]


def test_a_missing_shot_leaves_the_simplified_test_open(job):
    found = decisions(job, shots_of(job, drop=((0, 2, "P1"),)))
    assert found.loc["distance, series S0", "passed"] is pd.NA
    assert found.loc["horizontal precision", "dof"] == 54


def test_a_third_point_is_refused_in_words(job):
    shots = shots_of(job)
    shots.loc[0, "line_id"] = "P9"
    assert "needs two points and the shots name 3" in decisions(job, shots).loc["layout", "words"]


def test_a_job_without_a_field_test_gets_an_empty_table(job):
    assert len(decisions(job, job.prepared(job.shots([{}])))) == 0
