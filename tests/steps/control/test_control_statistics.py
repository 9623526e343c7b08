"""Control over whole simulated jobs: sessions, the crew's own checks, accuracy, and site fits that hide a blunder."""

import numpy as np
import pandas as pd
import pytest

from bench import make
from geoqa.job.execute import execute
from geoqa.job.inputs.tables import preset
from geoqa.job.plan import default_steps
from geoqa.model.tables.layer import Layers
from geoqa.steps.control.accuracy import Accuracy
from geoqa.steps.control.check_policy import CheckPolicy
from geoqa.steps.control.residual_tables import ResidualTables
from geoqa.steps.control.site_fit import SiteFit

ZONES = ("EPSG:6547", "EPSG:6559", "EPSG:6405")


def done(*steps, plants=(), seed=1, policy=None, change=None):
    made = make(seed=seed, zone=ZONES[seed % 3], plants=plants)
    tables = dict(made.layers()) | {"check_policy": preset("check_policy") if policy is None else policy}
    if change is not None:
        tables["shots"] = change(tables["shots"].copy())
    early = [step for step in default_steps([]) if step.name in ("kinds", "uncertainty")]
    return made, execute(Layers(tables, frame=made.frame), [*early, *steps])


# ---- table


def test_the_table_of_a_session_is_the_arithmetic_of_its_rows():
    _, layers = done(ResidualTables())
    table, sums = layers["control_table"], layers["control_sessions"].set_index("session")
    assert list(sums.index) == ["A", "B", "C", "all"]
    mine = table[table["session"] == "B"]
    assert sums.loc["B", "shots"] == len(mine) == 8
    assert sums.loc["B", "mean_easting"] == pytest.approx(mine["easting"].mean(), abs=1e-12)
    assert sums.loc["B", "rmse_elevation"] == pytest.approx(np.sqrt((mine["elevation"] ** 2).mean()), abs=1e-12)
    assert sums.loc["B", "v_95"] == pytest.approx(1.959964 * sums.loc["B", "rmse_elevation"], rel=1e-6)
    assert sums.loc["all", "shots"] == len(table) == 24
    assert (sums["over_h"] == 0).all()


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5, 6])
def test_a_disturbed_mark_is_named_and_the_others_are_kept(seed):
    _, layers = done(ResidualTables(), plants=("T08",), seed=seed)
    whole = layers["control_sessions"].set_index("session").loc["all"]
    assert whole["outlying"] == "CP-3"
    assert "the other 5 agree and are kept" in whole["horizontal_says"]


@pytest.mark.long
def test_honest_control_names_no_mark():
    named = [
        name
        for seed in range(1, 11)
        for name in done(ResidualTables(), seed=seed)[1]["control_sessions"]["outlying"]
        if name
    ]
    assert len(named) <= 1


def test_two_marks_that_disagree_are_two_that_disagree():
    def two(shots):
        keep = (shots["code"] != "CHK") | shots["line_id"].isin(["CP-1", "CP-3"])
        return shots[keep].reset_index(drop=True)

    _, layers = done(ResidualTables(), plants=("T08",), change=two)
    whole = layers["control_sessions"].set_index("session").loc["all"]
    assert whole["horizontal_says"].startswith("two disagree: CP-1 and CP-3 by 0.1")
    assert whole["outlying"] == ""


# ---- policy


def test_a_missing_closing_check_is_reported_with_the_shots_it_leaves_open(job):
    made, layers = done(CheckPolicy(), plants=("T10",))
    broken = layers["session_checks"][layers["session_checks"]["met"].eq(False).fillna(False)]
    assert broken[["session", "rule"]].to_numpy().tolist() == [["C", "closing"]]
    (item,) = [each for each in made.truth.items if each["flag"] == "no-closing-check"]
    flags = job.reasons(layers)
    closing = flags[flags["flag"] == "no-closing-check"]
    features = set(layers["shots"].loc[layers["shots"]["role"] == "feature", "shot_key"])
    assert set(closing["shot_key"]) == set(item["shots"]) & features
    assert closing["reason"].str.contains("no check on control after the last shot").all()


@pytest.mark.long
def test_a_crew_that_opens_and_closes_raises_nothing():
    for seed in (1, 2, 3):
        _, layers = done(CheckPolicy(), seed=seed)
        assert layers["session_checks"]["met"].all()
        assert (layers["flags"]["step"] != "check-policy").all()


def test_without_times_the_policy_cannot_be_held_and_says_so():
    _, layers = done(CheckPolicy(), change=lambda shots: shots.assign(time=shots["time"].where(shots["time"].isna())))
    listed = layers["session_checks"]
    timed = listed[listed["rule"] != "marks"]
    assert timed["met"].isna().all()
    assert timed["reason"].str.contains("unknown").all()
    assert len(layers["flags"]) == 0


# ---- accuracy


def test_a_small_job_is_refused_both_statements_with_the_reason():
    _, layers = done(Accuracy())
    table = layers["accuracy"]
    assert not table["allowed"].any()
    assert table["value"].isna().all()
    assert set(table["points"]) == {1}  # only CP-6 is independent, and it counts once
    assert table["reason"].str.contains("check points?; (?:20|30) are needed").all()
    assert table["reason"].str.contains("not independent").all()
    assert table["reason"].str.contains("same point again").all()


def test_thirty_independent_marks_let_both_be_stated():
    draw = np.random.default_rng(5)
    made = make(seed=1, plants=())
    shots, control = made.tables["shots"], made.tables["control"]
    like = shots[shots["code"] == "CHK"].iloc[0]
    places = np.array([like["easting"], like["northing"]]) + draw.uniform(-2000, 2000, (30, 2))
    marks = pd.DataFrame({"mark": [f"V-{number}" for number in range(30)]})
    marks = marks.assign(easting=places[:, 0], northing=places[:, 1], elevation=1460.0, u_h=0.004, u_v=0.006)
    marks = marks.assign(held=False, independent=True, reference="levels").astype(control.dtypes.to_dict())
    error = draw.normal(0, 0.02, (30, 3))
    rows = pd.DataFrame([like] * 30).reset_index(drop=True)
    rows = rows.assign(easting=places[:, 0] + error[:, 0], northing=places[:, 1] + error[:, 1])
    rows = rows.assign(elevation=1460.0 + error[:, 2], line_id=marks["mark"], shot=marks["mark"])
    rows = rows.assign(shot_key="day1/" + marks["mark"]).astype(shots.dtypes.to_dict())
    tables = dict(made.layers())
    layers = Layers({**tables, "control": marks, "shots": rows}, frame=made.frame)
    early = [step for step in default_steps([]) if step.name in ("kinds", "uncertainty")]
    table = execute(layers, [*early, Accuracy()])["accuracy"]
    assert table["allowed"].all()
    # NSSDA: 2.4477 times the mean plan RMSE and 1.96 RMSEz; value from memory, arithmetic recomputed
    rmse = np.sqrt((error**2).mean(axis=0))
    assert table["value"].iloc[0] == pytest.approx(2.4477 * rmse[:2].mean(), rel=1e-6)
    assert table["value"].iloc[1] == pytest.approx(1.96 * rmse[2], rel=1e-6)


# ---- site fit


def test_an_honest_fit_is_nothing_beyond_its_standard_errors():
    _, layers = done(SiteFit())
    fit = layers["site_fit"].set_index("parameter")
    assert (fit["value"].abs() < 4 * fit["se"]).loc[["shift east", "shift north", "scale", "rotation"]].all()
    assert len(layers["site_fit_warnings"]) == 0
    marks = layers["site_fit_marks"]
    assert len(marks) == 6
    assert not marks["outlying"].any()
    assert marks["redundancy_horizontal"].mean() == pytest.approx((2 * 6 - 4) / (2 * 6), abs=1e-9)
    assert marks["redundancy_vertical"].mean() == pytest.approx((6 - 3) / 6, abs=1e-9)


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize(("name", "cause"), [("T01", "foot"), ("T02", "frame-epoch"), ("T04", "ground")])
@pytest.mark.long
def test_a_fit_that_hides_a_blunder_is_called_out(name, cause, seed):
    _, layers = done(SiteFit(), plants=(name,), seed=seed)
    warned = layers["site_fit_warnings"]
    assert cause in set(warned["cause"]), warned.to_dict("records")
    others = {"foot", "frame-epoch"} - {cause}
    assert not others & set(warned["cause"])


def test_a_fit_over_heights_above_the_ellipsoid_is_called_out():
    _, layers = done(SiteFit(), plants=("T03",))
    assert "ellipsoid-heights" in set(layers["site_fit_warnings"]["cause"])


def test_the_mark_that_does_not_fit_is_named():
    _, layers = done(SiteFit(), plants=("T08",))
    marks = layers["site_fit_marks"].set_index("mark")
    assert marks.index[marks["outlying"]].tolist() == ["CP-3"]
