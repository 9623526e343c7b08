"""A check shot that the diagnosis has named feeds no mean, no 95 % number, no accuracy and no repeat."""

import numpy as np
import pandas as pd
import pytest

from bench import make
from geoqa.frames.systems.resolve import resolve
from geoqa.job.execute import execute
from geoqa.job.plan import default_steps
from geoqa.model.tables.layer import Layers, placed
from geoqa.simulate.site import scenario
from geoqa.steps.causes.left_out import TWICE, elevations_apart, left_out, told, told_apart

pytestmark = pytest.mark.long

STEPS = {
    *("kinds", "uncertainty", "screening", "doubles", "diagnosis", "usable-shots", "check-shots", "residual-tables"),
    *("accuracy", "repeats", "session-shifts"),
}


def summed(simulated, change=lambda shots: shots):
    layers = simulated.layers()
    shots = change(pd.DataFrame(layers["shots"].drop(columns="geometry")))
    layers = Layers({**layers, "shots": placed("shots", shots, layers.frame)}, frame=layers.frame)
    return execute(layers, [step for step in default_steps() if step.name in STEPS])


@pytest.mark.parametrize(("zone", "seed"), [("EPSG:6547", 4), ("EPSG:6559", 14), ("EPSG:6405", 24)])
def test_a_check_shot_on_another_mark_condemns_no_good_mark(zone, seed):
    layers = summed(make(seed=seed, plants=("T09",), frame=resolve(zone, scenario.VERTICAL)))
    assert layers["causes"].query("explanation == 1")["cause"].tolist() == ["mark-name"]
    (slip,) = layers["cause_shots"]["shot_key"]
    sums = layers["control_sessions"].set_index("session")
    assert sums["left_out"].to_dict() == {"A": 0, "B": 1, "C": 0, "all": 1}
    assert (sums["outlying"] == "").all()
    assert (sums[["mean_easting", "mean_northing", "mean_elevation"]].abs() < 0.1).all(axis=None)
    assert (sums[["h_95", "v_95"]] < 0.2).all(axis=None)
    assert sums["without"]["B"].endswith("(check shot taken on another mark than it names)")
    table = layers["control_table"].set_index("shot_key")
    assert table["left_out"].notna().sum() == 1
    assert table.loc[slip, "horizontal"] > 50.0  # the row itself is shown as read
    assert layers["control_residuals"]["worst"].max() < 0.2
    assert layers["control_residuals"]["left_out"].sum() == 1
    assert layers["repeat_sets"]["spread_h"].max() < 0.3
    near = layers["crew_precision"].query("part == 'near'")["value"]
    assert not (near > 0.2).any()
    assert layers["crew_precision"]["without"].str.contains("another mark than it names").all()
    assert layers["accuracy"]["reason"].str.contains("another mark than it names").all()
    (note,) = layers["notes"].query("note == 'left-out'")["count"]
    assert note == 1
    assert not len(layers["notes"].query("note == 'control-marks'"))


def test_a_mark_that_moved_is_left_out_of_sessions_and_still_repeats_itself():
    layers = summed(make(seed=6, plants=("T08",), frame=resolve("EPSG:6559", scenario.VERTICAL)))
    assert layers["causes"].query("explanation == 1")["cause"].tolist() == ["mark"]
    sums = layers["control_sessions"].set_index("session")
    assert sums.loc["all", "left_out"] == len(layers["cause_shots"]) == 4
    assert "CP-3" in set(layers["repeat_sets"]["point"])
    of_mark = layers["control_residuals"].query("mark == 'CP-3'")
    assert of_mark["shots"].sum() == 0
    assert of_mark["mean_easting"].isna().all()


def test_a_session_in_the_wrong_foot_has_no_mean_and_says_so():
    layers = summed(make(seed=2, plants=("T01",), frame=resolve("EPSG:6405", scenario.VERTICAL)))
    sums = layers["control_sessions"].set_index("session")
    whole = sums[sums["shots"] == 0]
    assert len(whole)
    assert whole["mean_easting"].isna().all()
    assert whole["without"].str.contains("wrong kind of foot").all()
    assert (sums.loc[sums["shots"] > 0, "h_95"] < 0.2).all()


@pytest.mark.parametrize(("zone", "seed"), [("EPSG:6547", 5), ("EPSG:6559", 15), ("EPSG:6405", 25)])
def test_a_blunder_in_elevation_alone_takes_no_plan_position_out_of_any_number(zone, seed):
    frame = resolve(zone, scenario.VERTICAL)
    sound, lifted = (summed(make(seed=seed, plants=plants, frame=frame)) for plants in ((), ("T06",)))
    assert lifted["causes"].query("explanation == 1")["cause"].tolist() == ["rod"]
    under = set(lifted["cause_shots"]["shot_key"]) & set(lifted["control_table"]["shot_key"])
    assert under
    count = len(under)
    plan = ["shots", "marks", "mean_easting", "mean_northing", "rmse_horizontal", "h_95", "over_h", "horizontal_says"]
    pd.testing.assert_frame_equal(sound["control_sessions"][plan], lifted["control_sessions"][plan])
    means = ["mark", "session", "shots", "left_out", "mean_easting", "mean_northing", "worst"]
    pd.testing.assert_frame_equal(sound["control_residuals"][means], lifted["control_residuals"][means])
    sums = lifted["control_sessions"].set_index("session")
    assert sums["left_out"].sum() == 0
    assert sums.loc["all", "left_out_elevation"] == lifted["control_residuals"]["left_out_elevation"].sum() == count
    assert sums["v_95"].max() < 0.2
    assert sums.loc["all", "without"].startswith("in elevation alone ")
    table = lifted["control_table"].set_index("shot_key")
    assert set(table.index[table["left_out_elevation"].notna()]) == under
    assert table["left_out"].isna().all()
    (note,) = lifted["notes"].query("note == 'left-out'").to_dict("records")
    assert (note["count"], note["total"]) == (0, count)
    horizontal = ["standard", "component", "value", "rmse", "points"]
    of_plan = [each["accuracy"].query("component == 'horizontal'")[horizontal] for each in (sound, lifted)]
    pd.testing.assert_frame_equal(*of_plan)
    vertical = lifted["accuracy"].query("component == 'vertical'")
    assert (vertical["rmse"] < 0.2).all()
    axes = ["session", "axis", "shift", "u", "shots", "marks"]
    shifts = [each["session_shifts"].query("axis != 'elevation'")[axes] for each in (sound, lifted)]
    pd.testing.assert_frame_equal(*(each.drop(columns="u") for each in shifts), atol=0.002)
    of_b = lifted["session_shifts"].query("session == 'B' and axis == 'elevation'").iloc[0]
    assert of_b["shots"] == (table["session"] == "B").sum() - count
    checks = lifted["findings"].query("check == 'control-position'").set_index("shot")
    assert set(checks.loc[sorted(under), "verdict"]) == {"IN"}


def test_a_check_shot_listed_twice_counts_once():
    def doubled(shots):
        again = shots[shots["code"] == "CHK"].tail(3)
        again = again.assign(shot_key=again["shot_key"] + "~2", line=again["line"] + 5000)
        return pd.concat([shots, again], ignore_index=True)

    simulated = make(seed=2, plants=(), frame=resolve("EPSG:6547", scenario.VERTICAL))
    once, twice = summed(simulated), summed(simulated, doubled)
    sums = twice["control_sessions"].set_index("session")
    assert sums.loc["all", "left_out"] == 3
    assert TWICE in sums.loc["all", "without"]
    kept = ["shots", "marks", "mean_easting", "rmse_elevation", "h_95"]
    pd.testing.assert_frame_equal(once["control_sessions"][kept], twice["control_sessions"][kept])
    pd.testing.assert_frame_equal(once["repeat_sets"], twice["repeat_sets"])


def test_without_a_diagnosis_only_second_listings_are_left_out():
    shots = pd.DataFrame(
        {
            "shot_key": ["a", "b", "c"], "shot": ["1", None, "3"], "easting": [1.0, 1.0, 2.0], "northing": 5.0,
            "elevation": np.nan, "time": pd.to_datetime(["2026-05-01T10:00Z"] * 2 + [None]),
        }
    )  # fmt: skip
    reason = left_out({}, shots)
    assert reason.notna().tolist() == [False, True, False]
    assert told(shots, reason) == f"b ({TWICE})"
    assert told(shots, reason.where(reason.isna())) == ""


def test_a_cause_that_lifts_a_shot_spoils_its_elevation_alone_and_one_that_moves_it_both():
    shots = pd.DataFrame(
        {
            "shot_key": ["a", "b", "c", "d"], "shot": list("1234"), "easting": [1.0, 2.0, 3.0, 4.0], "northing": 5.0,
            "elevation": 1.0, "time": pd.to_datetime(["2026-05-01T10:00Z"] * 4),
        }
    )  # fmt: skip
    moved = pd.DataFrame(
        {
            "cause": ["rod", "initialization", "rod", "foot"], "subject": "s", "shot_key": ["a", "b", "b", "c"],
            "holds": True, "shift_easting": [0.0, 0.3, 0.0, np.nan], "shift_northing": 0.0, "shift_elevation": 0.5,
        }
    )  # fmt: skip
    apart, level = elevations_apart({"cause_shots": moved}, shots)
    assert apart.tolist()[1:3] == ["bad initialization", "wrong kind of foot"]
    assert apart.isna().tolist() == [True, False, False, True]
    assert level.isna().tolist() == [False, True, True, True]
    assert told_apart(shots, apart, level) == (
        "2 (bad initialization); 3 (wrong kind of foot); in elevation alone 1 (rod height entered wrong)"
    )


def listed_again(shots, seed):
    """The file once more, in another order and numbered anew."""
    order = np.random.default_rng(seed).permutation(len(shots))
    again = shots.iloc[order].assign(source="again", line=np.arange(len(shots)) + 2)
    again = again.assign(shot=(9000 + np.arange(len(shots))).astype(str), line_id=again["line_id"])
    again["shot_key"] = "again/" + again["shot"]
    return pd.concat([shots, again], ignore_index=True)


def same_answers(zone, seed, plants):
    simulated = make(seed=seed, plants=plants, frame=resolve(zone, scenario.VERTICAL))
    once, twice = summed(simulated), summed(simulated, lambda shots: listed_again(shots, seed))
    answer = ["explanation", "status", "cause", "subject", "shots", "probability"]
    pd.testing.assert_frame_equal(once["causes"][answer], twice["causes"][answer])
    numbers = ["finding", "check", "verdict", "deviation", "u"]
    pd.testing.assert_frame_equal(
        pd.DataFrame(once["findings"][numbers]), pd.DataFrame(twice["findings"][numbers]), check_exact=False
    )
    pd.testing.assert_frame_equal(once["control_residuals"], twice["control_residuals"])
    pd.testing.assert_frame_equal(once["accuracy"].drop(columns="reason"), twice["accuracy"].drop(columns="reason"))


@pytest.mark.parametrize(("zone", "seed", "plants"), [("EPSG:6547", 31, ("T09",)), ("EPSG:6559", 32, ())])
def test_a_file_listed_twice_says_what_it_says_once(zone, seed, plants):
    same_answers(zone, seed, plants)


@pytest.mark.score
@pytest.mark.parametrize("zone", ["EPSG:6547", "EPSG:6559", "EPSG:6405"])
@pytest.mark.parametrize("plants", [(), ("T06",), ("T10", "T11")], ids=["nothing", "rod", "work"])
@pytest.mark.parametrize("seed", [1, 2])
def test_a_file_listed_twice_says_what_it_says_once_everywhere(zone, seed, plants):
    same_answers(zone, seed, plants)
