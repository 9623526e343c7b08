import math

import numpy as np
import pandas as pd
import pytest

from geoqa.model.columns import conform, empty
from geoqa.steps.uncertainty import Uncertainty

FOOT = 0.3048


def after_uncertainty(job, rows, precision=(), confidence="1 sigma"):
    columns = ["kind", "h_random", "v_random", "h_common", "v_common", "reference"]
    declared = pd.DataFrame([(*each, "Job file") for each in precision], columns=columns)
    sources = pd.DataFrame({"source": ["day1", "other"], "role": "shots", "confidence": [confidence, "95 %"]})
    shots = job.shots(rows).assign(kind="curb-top", role="feature")
    tables = {"shots": shots, "sources": conform("sources", sources)}
    tables["precision"] = conform("precision", declared) if len(declared) else empty("precision")
    return job.run(job.layers(**tables), Uncertainty())["shots"]


def numbers(shots):
    return [shots[f"u_{each}"].tolist() for each in ("h_random", "h_common", "v_random", "v_common")]


def test_each_number_comes_from_the_best_that_is_known(job):
    rows = [{"reported_h": 0.04, "reported_v": 0.06}]
    precision = [("curb-top", 0.02, np.nan, np.nan, np.nan), ("*", 0.5, 0.03, np.nan, 0.01)]
    found = numbers(after_uncertainty(job, rows, precision))
    # horizontal: 0.04 radial is 0.0283 an axis, half of its variance common
    assert found == [[0.02], [pytest.approx(0.04 / 2)], [0.03], [0.01]]


def test_a_declared_zero_is_a_number_and_not_missing(job):
    assert numbers(after_uncertainty(job, [{}], [("*", 0.0, 0.0, 0.0, 0.0)])) == [[0.0]] * 4


def test_a_reported_radius_of_95_percent_is_brought_to_one_sigma_an_axis(job):
    shots = after_uncertainty(job, [{"reported_h": 0.05, "reported_v": 0.05}], confidence="95 %")
    # circular normal scatter: P(r <= R) = 1 - exp(-R²/2s²); vertical: 1.96 sigma
    per_axis = 0.05 / math.sqrt(-2 * math.log(0.05))
    assert np.hypot(shots["u_h_random"], shots["u_h_common"]).tolist() == pytest.approx([per_axis])
    assert np.hypot(shots["u_v_random"], shots["u_v_common"]).tolist() == pytest.approx([0.05 / 1.959964])


def test_an_undeclared_confidence_is_taken_as_one_sigma_the_larger_reading(job):
    unknown = after_uncertainty(job, [{"reported_h": 0.05, "reported_v": 0.05}], confidence=None)
    declared = after_uncertainty(job, [{"reported_h": 0.05, "reported_v": 0.05}], confidence="1 sigma")
    assert numbers(unknown) == numbers(declared)


def test_without_anything_the_typical_values_stand(job):
    shots = after_uncertainty(job, [{}, {"reported_h": 0.0, "reported_v": np.nan}, {"source": "elsewhere"}])
    # 1 cm horizontal and 2 cm vertical at one sigma: value from NGS User Guidelines v2.1, p. 42, seen in a copy
    assert np.hypot(shots["u_h_random"], shots["u_h_common"]).tolist() == pytest.approx([0.01 / FOOT] * 3)
    assert np.hypot(shots["u_v_random"], shots["u_v_common"]).tolist() == pytest.approx([0.02 / FOOT] * 3)


def test_no_shots_are_no_error(job):
    assert len(after_uncertainty(job, [])) == 0
