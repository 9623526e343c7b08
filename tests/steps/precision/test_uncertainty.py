import math

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform, empty
from geoqa.steps.precision.uncertainty import Uncertainty

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


def test_what_is_declared_for_a_file_goes_before_its_kinds_and_what_it_reports(job):
    rows = [{"source": "day1", "reported_v": 0.5}, {"source": "other", "reported_v": 0.5}]
    precision = [
        ("curb-top", 0.02, 0.03, 0.01, np.nan), ("*", 0.5, 0.5, 0.5, 0.04), ("file: other", 0.004, np.nan, 0.0, 0.002),
    ]  # fmt: skip
    found = numbers(after_uncertainty(job, rows, precision))
    assert found == [[0.02, 0.004], [0.01, 0.0], [0.03, 0.03], [0.04, 0.002]]


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


TILT = {"heading": 2.0, "angle": 0.5, "up_to": 25.0, "reference": "Test of 2026-04-21"}


def leaning(job, rows, declared=TILT, **options):
    shots = job.shots(rows).assign(kind="curb-top", role="feature")
    sources = conform("sources", pd.DataFrame({"source": ["day1"], "role": "shots", "confidence": ["1 sigma"]}))
    precision = pd.DataFrame([("*", 0.02, 0.02, 0.0, 0.02, "Job file")],
                             columns=["kind", "h_random", "v_random", "h_common", "v_common", "reference"])  # fmt: skip
    tables = {"shots": shots, "sources": sources, "precision": conform("precision", precision)}
    if declared:
        tables["tilt_declared"] = conform("tilt_declared", pd.DataFrame([declared]))
    return job.run(job.layers(**tables), Uncertainty(**options))


def test_a_lean_adds_the_worse_of_both_plan_axes_and_its_share_in_elevation(job):
    shots = leaning(job, [{"tilt": 10.0, "rod_height": 6.0}, {"tilt": 25.0, "rod_height": 6.0}])["shots"]
    # closed forms: along the lean L cos t u_t, square to it L sin t u_psi, in elevation L sin t u_t
    along = 6.0 * math.cos(math.radians(10)) * math.radians(0.5)
    square = 6.0 * math.sin(math.radians(25)) * math.radians(2.0)
    assert shots["u_h_random"].tolist() == pytest.approx([math.hypot(0.02, along), math.hypot(0.02, square)])
    down = [6.0 * math.sin(math.radians(t)) * math.radians(0.5) for t in (10, 25)]
    assert shots["u_v_random"].tolist() == pytest.approx([math.hypot(0.02, each) for each in down])
    assert shots["u_v_common"].tolist() == [0.02, 0.02]


def test_a_plumb_shot_and_one_without_a_recorded_tilt_add_nothing(job):
    shots = leaning(job, [{"tilt": 0.4}, {"tilt": np.nan}, {}])["shots"]
    assert shots["u_h_random"].tolist() == [0.02] * 3


def test_beyond_the_tilt_that_was_tested_nothing_is_claimed(job):
    layers = leaning(job, [{"tilt": 25.1, "rod_height": 6.0}])
    assert layers["flags"]["flag"].tolist() == ["tilt-untested"]
    assert layers["flags"]["reject"].all()
    assert "beyond 25°, the largest tilt tested" in job.reasons(layers)["reason"].iloc[0]
    assert layers["shots"]["u_h_random"].notna().all()  # it is still matched and listed
    whole = layers["budget"].set_index(["axis", "part"])["u"]
    assert np.isnan(whole["h", "tilt"])
    assert np.isnan(whole["h", "all"])


def test_without_a_test_of_its_own_a_crew_gets_assumed_numbers_that_say_so(job):
    layers = leaning(job, [{"tilt": 30.0}], declared=None)
    # a log without rod heights: a rod of 2 m
    square = 2.0 / FOOT * math.sin(math.radians(30)) * math.radians(1.0)
    assert layers["shots"]["u_h_random"].tolist() == pytest.approx([math.hypot(0.02, square)])
    source = layers["budget"].set_index(["axis", "part"]).loc[("h", "tilt"), "source"]
    assert "common practice, no source" in source


def test_the_budget_names_every_part_its_size_and_its_source(job):
    layers = leaning(job, [{"tilt": 20.0, "rod_height": 6.0}, {"tilt": 0.0}])
    budget = layers["budget"].set_index(["axis", "part"])
    assert budget.loc[("h", "random"), "source"] == "declared for all kinds: Job file"
    assert budget.loc[("h", "tilt"), "source"] == "Test of 2026-04-21"
    assert budget.loc[("h", "tilt"), "shots"] == 1
    assert budget.loc[("h", "random"), "shots"] == 2
    assert budget.loc[("h", "all"), "largest"] == pytest.approx(layers["shots"]["u_h_random"].max())
    assert budget.loc[("v", "all"), "u"] == pytest.approx(
        np.median(np.hypot(layers["shots"]["u_v_random"], layers["shots"]["u_v_common"]))
    )


def test_the_distance_to_the_base_joins_the_typical_values(job):
    shots = job.shots([{}]).assign(kind="curb-top", role="feature")
    sources = conform("sources", pd.DataFrame({"source": ["day1"], "role": "shots"}))
    layers = job.run(job.layers(shots=shots, sources=sources), Uncertainty(baseline="10 m"))
    far = job.run(job.layers(shots=shots, sources=sources), Uncertainty(baseline="20000 m"))
    # 1 cm + 1 ppm: 1 cm + 2 cm at 20 km
    per_axis = [np.hypot(each["shots"]["u_h_random"], each["shots"]["u_h_common"]).iloc[0] for each in (layers, far)]
    assert per_axis == pytest.approx([0.01001 / FOOT, 0.03 / FOOT])
    assert "NGS User Guidelines" in layers["budget"]["source"].iloc[0]
