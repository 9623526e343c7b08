"""Sessions in doubt hold their verdicts, and what no error of theirs makes is judged all the same."""

import numpy as np
import pandas as pd
import pytest

from bench.worlds import WORLDS, in_world, judging_steps
from geoqa.job.execute import execute
from geoqa.model.tables.columns import conform
from geoqa.steps.causes.survey_doubt import in_doubt, notes_of_doubt, widened_by_control

BY_NAME = {world.name: world for world in WORLDS}


@pytest.fixture(scope="module")
def warped():
    job = in_world(BY_NAME["smooth warp"], seed=41, zone="EPSG:6559")
    return job, execute(job.layers(), judging_steps())


@pytest.mark.long
def test_a_survey_that_nothing_explains_is_the_finding_and_holds_the_work(warped):
    _, layers = warped
    findings = layers["findings"]
    survey = findings[findings["check"] == "diagnosis"]
    assert survey["verdict"].tolist() == ["OUT"]
    assert "none-fits" in survey["subject"].iloc[0]
    assert "off by up to" in survey["cause"].iloc[0]
    held = findings[findings["why"] == "survey-doubt"]
    assert set(held["verdict"]) == {"NO_DATA"}
    strays = layers["flags"].loc[layers["flags"]["flag"] == "spike", "shot_key"]
    assert held.loc[~held["shot"].isin(strays), "remedy"].str.contains("two more marks").all()
    assert len(held) > 1000


def test_what_lies_farther_out_than_the_survey_can_be_off_is_out_all_the_same(warped):
    job, layers = warped
    moved = {key for item in job.truth.items if item["plant"] == "D18" for key in item["shots"]}
    told = layers["findings"].query("check == 'position'")
    assert "OUT" in set(told.loc[told["shot"].isin(moved), "verdict"])


@pytest.mark.long
def test_a_session_that_moved_together_is_named_with_its_number_and_waits_shown_both_ways():
    layers = execute(in_world(BY_NAME["base moved"], seed=42, zone="EPSG:6405").layers(), judging_steps())
    told = layers["causes"].iloc[0]
    assert (told["status"], told["cause"], told["subject"]) == ("none-fits", "unlisted", "session B")
    shift = told[["shift_easting", "shift_northing", "shift_elevation"]].to_numpy(float)
    assert np.abs(shift - [0.35, -0.22, -0.68]).max() < 0.08
    session = layers["shots"].set_index("shot_key")["session"]
    work = layers["findings"].query("check == 'elevation'")
    mine = work[work["shot"].map(session) == "B"]
    assert set(mine["why"]) >= {"open-blunder"}
    assert "OUT" not in set(mine["verdict"])
    assert mine["cause"].dropna().str.contains("as read").any()


def doubted(widened=2.0, together=0.05):
    rows = {"shot_key": ["a"], "off_plan": [np.nan], "off_elevation": [0.4], "widened": [widened]}
    return conform("survey_doubt", pd.DataFrame(rows | {"together_plan": [0.0], "together_elevation": [together]}))


def test_uncertainties_are_widened_and_never_made_smaller():
    layers, keys = {"survey_doubt": doubted()}, pd.Series(["a", "b"], dtype="str")
    common, random = widened_by_control(layers, keys, np.array([0.01, 0.01]), np.array([0.02, 0.02]), vertical=True)
    assert common.tolist() == [0.05, 0.01]
    assert random.tolist() == [0.04, 0.02]
    assert np.isnan(in_doubt(layers, keys, vertical=False)).all()
    assert in_doubt(layers, keys, vertical=True)[0] == 0.4


def test_what_verdicts_take_larger_is_said():
    shots = pd.DataFrame({"shot_key": ["a"], "session": ["A"]}, dtype="str")
    assert notes_of_doubt(doubted(), shots) == [{"note": "control-widens", "number": 2.0}]
    (told,) = notes_of_doubt(doubted(widened=1.0), shots)
    assert (told["note"], told["subject"], told["second"]) == ("session-together", "A", 0.05)
