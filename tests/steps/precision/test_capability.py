"""What one shot can prove under a tolerance, held against the decision rule itself."""

import math

import numpy as np
import pandas as pd
import pytest

from geoqa.kernels.judging.verdict import IN, OUT, UNDECIDED, judge
from geoqa.model.tables.columns import conform
from geoqa.steps.control.check_shots import CheckShots
from geoqa.steps.precision.capability import CanDecide


def able(job, limits, *, geometry="line", kind="curb-top", **u):
    codes = conform("codes", pd.DataFrame({"code": ["X"], "kind": [kind], "geometry": [geometry], "role": ["feature"]}))
    shots = job.prepared(job.shots([{}, {}, {}]), kind=kind, **u)
    layers = job.run(job.layers(shots=shots, codes=codes, limits=job.limits(*limits)), CanDecide())
    return layers["capability"]


def test_the_ends_are_those_of_the_decision_rule(job):
    row = able(job, [("curb-top", "offset", -0.10, 0.10)]).iloc[0]
    assert row["u"] == pytest.approx(0.02)
    for value, verdict in (
        (row["in_to"] - 1e-6, IN), (row["in_to"] + 1e-6, UNDECIDED),
        (row["out_above"] - 1e-6, UNDECIDED), (row["out_above"] + 1e-6, OUT),
    ):  # fmt: skip
        assert judge([value], lower=-0.10, upper=0.10, u=0.02).verdict[0] == verdict
    # one limit matters: 0.10 - 1.645 u and 0.10 + 1.645 u
    assert row["in_to"] == pytest.approx(0.10 - 1.6448536 * 0.02, abs=1e-5)
    assert row["out_above"] == pytest.approx(0.10 + 1.6448536 * 0.02, abs=1e-5)


def test_the_one_third_rule_counts_u_at_95_percent(job):
    rows = able(job, [("curb-top", "offset", -0.118, 0.118), ("curb-top", "elevation", -0.117, 0.117)],
                u_v_random=0.02, u_v_common=0.0)  # fmt: skip
    assert rows["one_third"].tolist() == [True, False]  # three times 1.96 times 0.02 is 0.1176
    assert "at most a third" in rows["words"].iloc[0]
    assert "more than a third" in rows["words"].iloc[1]


def test_a_tolerance_no_shot_can_prove_is_said(job):
    row = able(job, [("curb-top", "elevation", -0.03, 0.03)]).iloc[0]
    assert not row["provable"]
    assert np.isnan(row["in_to"])
    assert row["words"].startswith("IN can never be proven by one shot")
    assert math.isfinite(row["out_above"])


def test_one_sided_and_uneven_limits_name_their_sides(job):
    rows = able(job, [("curb-top", "offset", -0.05, 0.20), ("curb-top", "elevation", -math.inf, 0.10)])
    assert "left and" in rows["words"].iloc[0]
    assert rows["words"].iloc[0].count("right") == 2
    assert rows["in_from"].iloc[1] == -math.inf
    assert np.isnan(rows["out_below"].iloc[1])


@pytest.mark.parametrize(("geometry", "check"), [("line", "offset"), ("point", "position")])
def test_only_the_check_of_the_kinds_geometry_is_asked(job, geometry, check):
    limits = [("curb-top", "offset", -0.1, 0.1), ("curb-top", "position", -math.inf, 0.1), ("other", "offset", -1, 1)]
    assert able(job, limits, geometry=geometry)["check"].tolist() == [check]


def test_without_an_uncertainty_nothing_is_said_to_be_provable(job):
    row = able(job, [("curb-top", "offset", -0.1, 0.1)], u_h_random=np.nan).iloc[0]
    assert not row["provable"]
    assert row["words"] == "nothing can be said: no uncertainty is known"


def test_a_least_value_that_leaves_0_out_is_told_from_the_limit_on(job, monkeypatch):
    from geoqa.contract import decided
    from geoqa.model.check import Check
    from geoqa.steps.precision import capability

    cover = Check(name="cover", title="Cover", subject="work", quantity="length", directions=("shallow", "deep"),
                  axis="v", bound="least", compared="c", judged="j", cannot_show="n", source="s")  # fmt: skip
    for module in (capability, decided):
        monkeypatch.setattr(module, "check_named", lambda name: cover)
    row = able(job, [("curb-top", "cover", 3.0, math.inf)], u_v_random=0.02, u_v_common=0.0).iloc[0]
    assert row["provable"]
    assert (row["in_from"], row["in_to"]) == (pytest.approx(3.0 + 1.6448536 * 0.02, abs=1e-5), math.inf)
    assert row["out_below"] == pytest.approx(3.0 - 1.6448536 * 0.02, abs=1e-5)
    assert np.isnan(row["out_above"])
    assert row["words"].startswith("at least 3.033 ft proves IN, at most 2.967 ft proves OUT; what lies between")


@pytest.mark.parametrize("stated", [None, 0.01])
def test_checks_on_control_are_promised_what_they_get(job, stated):
    """The ends of the promise are those of the verdicts on shots of a mark: one that states nothing is not exact."""
    control = pd.DataFrame({"mark": ["CP-1"], "easting": job.origin[0], "northing": job.origin[1], "elevation": 100.0})
    control = conform("control", control.assign(u_h=stated, u_v=stated, held=False, independent=True, reference="-"))
    codes = conform("codes", pd.DataFrame({"code": ["K"], "kind": ["mark"], "geometry": ["point"], "role": ["check"]}))
    limits = job.limits(("control", "control-position", -math.inf, 0.10), ("control", "control-elevation", -0.15, 0.15))

    def checked(elevation):
        rows = [{"line_id": "CP-1", "station": 0.0, "offset": 0.0, "elevation": each} for each in elevation]
        shots = job.prepared(job.shots(rows), kind="mark", role="check")
        layers = job.layers(shots=shots, control=control, codes=codes, limits=limits)
        return job.run(layers, CanDecide(), CheckShots())

    said = checked([100.0])["capability"].set_index("check").loc["control-elevation"]
    assert said["u"] == pytest.approx(math.hypot(0.02, 0.02, stated or 0.03))
    ends = [said["in_to"] - 1e-6, said["in_to"] + 1e-6, said["out_above"] - 1e-6, said["out_above"] + 1e-6]
    found = checked([100 + each for each in ends])["findings"].query("check == 'control-elevation'")
    assert found["verdict"].tolist() == ["IN", "UNDECIDED", "UNDECIDED", "OUT"]
