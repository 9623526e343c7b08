"""The step where new work meets existing work."""

import numpy as np
import pandas as pd
import pytest

from geoqa import testing
from geoqa.model.tables.columns import conform
from geoqa.steps.walks.tie_ins import TieIns

KINDS = {"CTB": "curb-top", "WKF": "walk-front", "EXC": "existing-curb", "EX": "existing", "EXW": "existing-walk"}
LIMITS = (("curb-top", "tie-in", -0.05, 0.05), ("walk-front", "tie-in", -0.05, 0.05))
CURB = [("CTB", at, 0.0, 100 + 0.01 * at) for at in (0.0, 25.0, 50.0, 75.0, 100.0)]


def judged(rows, *, u=0.01, limits=LIMITS, noise=0.0, seed=0, session="A", **tables):
    draw = np.random.default_rng(seed).normal(0, noise, len(rows)) if noise else np.zeros(len(rows))
    table = testing.shots(
        [
            {"code": code, "line_id": None if code.startswith("EX") else "1", "station": at, "offset": aside,
             "elevation": level + error, "session": session if code.startswith("EX") else "A", "sequence": None}
            for (code, at, aside, level), error in zip(rows, draw.tolist(), strict=True)
        ]
    )  # fmt: skip
    shots = testing.prepared(table, kind=table["code"].map(KINDS), u_v_random=u, u_v_common=0.02)
    layers = testing.layers(shots=shots, limits=testing.limits(*limits), **tables)
    return testing.run(layers, TieIns())["findings"]


def met(step, ahead=4.0, aside=0.3):
    return [*CURB, ("EXC", 100 + ahead, aside, 101 + 0.01 * ahead + step)]


@pytest.mark.parametrize(("step", "verdict"), [(0.0, "IN"), (0.09, "OUT"), (-0.09, "OUT"), (0.05, "UNDECIDED")])
def test_the_step_is_that_to_the_line_carried_on(step, verdict):
    (row,) = judged(met(step)).to_dict("records")
    assert row["verdict"] == verdict
    assert row["measured"] == pytest.approx(step, abs=1e-9)
    assert row["label"] == "end at shot 105, existing shot 106 4.000 ft on and 0.300 ft aside"
    # two last shots of the line and the existing one, all of one session: (1 + 4/25)² + (4/25)² + 1
    assert row["u"] == pytest.approx(0.01 * np.sqrt(1.16**2 + 0.16**2 + 1))
    assert (row["remedy"] is None or pd.isna(row["remedy"])) == (verdict != "UNDECIDED")


def test_another_session_adds_what_sessions_do_not_share():
    (row,) = judged(met(0.09), session="B").to_dict("records")
    assert row["verdict"] == "UNDECIDED"
    assert row["u"] > 0.02 * np.sqrt(2)


def test_either_end_its_own_kind_first_and_the_design_where_nobody_shot():
    rows = [*met(0.0), ("EX", 101.0, 0.2, 105.0), ("EXW", 102.0, 0.0, 90.0), ("EX", -2.0, 0.0, 100.18)]
    findings = judged(rows).sort_values("measured")
    assert findings["measured"].to_numpy() == pytest.approx([0.0, 0.2])
    assert findings["label"].str.contains("existing shot 106").tolist() == [True, False]
    points = conform("design_points", pd.DataFrame(
        [{"point": "T-1", "kind": "tie-in", "easting": testing.ORIGIN[0] + 0.5, "northing": testing.ORIGIN[1] + 103.0,
          "elevation": 101.13, "source": "design"}]))  # fmt: skip
    (row,) = judged(CURB, design_points=points).to_dict("records")
    assert (row["verdict"], row["measured"]) == ("OUT", pytest.approx(0.10))
    assert "design point T-1 3.000 ft on and 0.500 ft aside" in row["label"]


@pytest.mark.long
def test_bad_input_says_why():
    def why(rows):
        findings = judged(rows)
        assert set(findings["verdict"]) == {"NO_DATA"}
        assert findings["remedy"].notna().all()
        return findings["why"].tolist()

    assert why(CURB) == ["no-existing-work"]
    assert why([*CURB, ("EXC", 130.0, 0.0, 101.3), ("EXC", 104.0, 3.0, 101.0), ("EXC", 60.0, 0.0, 100.6)]) == [
        "no-existing-work"
    ]
    assert why([*met(0.0), ("EXC", 104.1, -0.2, 100.54)]) == ["which-existing"]
    assert why([CURB[0], ("EXC", 1.0, 0.0, 100.0)]) == ["no-leg"]
    assert why([*CURB, ("EXC", 104.0, 0.0, np.nan)]) == ["no-elevation"]
    assert not len(judged([("EXC", 4.0, 0.0, 100.0)]))
    assert not len(judged(CURB, limits=()))


@pytest.mark.score
def test_intervals_hold_the_step_in_95_of_100():
    rng, count = np.random.default_rng(5), 300
    rows = [
        {"code": code, "line_id": None if code == "EXC" else str(number), "session": "A", "sequence": None,
         "station": at, "offset": aside + 60.0 * number, "elevation": level + rng.normal(0, 0.01)}
        for number in range(count) for code, at, aside, level in met(0.03, ahead=6.0)
    ]  # fmt: skip
    table = testing.shots(rows)
    shots = testing.prepared(table, kind=table["code"].map(KINDS), u_v_random=0.01, u_v_common=0.02)
    findings = testing.run(testing.layers(shots=shots, limits=testing.limits(*LIMITS)), TieIns())["findings"]
    assert len(findings) == count
    assert 0.92 <= ((findings["measured"] - 0.03).abs() <= 1.959964 * findings["u"]).mean() <= 0.98
