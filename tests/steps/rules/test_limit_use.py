"""Kinds that lean on one limit as a whole."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.rules.limit_use import LimitUse

LINE = {"CTB-L": ("curb-top", 0.0, 0, 8000)}


def used(job, offsets, **options):
    rows = [{"offset": value, "station": 20.0 + 40.0 * nth} for nth, value in enumerate(offsets)]
    layers = job.layers(
        shots=job.prepared(job.shots(rows)), limits=job.limits(("curb-top", "offset", -0.10, 0.10)), **job.design(LINE)
    )
    return job.run(layers, MatchLines(), Offsets(), LimitUse(**options))


def test_work_that_leans_on_a_limit_is_said_once_for_its_kind(job):
    made = used(job, 0.075 + 0.01 * np.sin(np.arange(40)))
    (row,) = made["limit_use"].to_dict("records")
    assert (row["numbers"], row["proven"]) == (40, True)
    assert row["used"] == pytest.approx(0.75, abs=0.01)
    assert made["notes"]["note"].tolist() == ["limit-use"]


def test_work_about_its_design_is_in_the_table_alone(job):
    made = used(job, 0.06 * np.sin(np.arange(40)))
    assert made["limit_use"]["proven"].tolist() == [False]
    assert not len(made["notes"])


def test_few_numbers_say_nothing(job):
    made = used(job, [0.09] * 9)
    assert not len(made["limit_use"])
    assert len(used(job, [0.09] * 9, fewest=5)["notes"]) == 1


def test_numbers_that_a_session_without_a_check_may_be_to_blame_for_are_left_out(job):
    made = used(job, np.where(np.arange(40) < 20, 0.0, 0.09))
    keys = made["shots"]["shot_key"].iloc[20:].tolist()
    aside = pd.DataFrame({"shot_key": keys, "session": "B", "easting": 0.09, "northing": 0.0})
    layers = Layers({**dict(made), "loose_shots": conform("loose_shots", aside)}, frame=made.frame)
    (row,) = LimitUse().run(layers)["limit_use"].to_dict("records")
    assert (row["numbers"], row["mean"]) == (20, pytest.approx(0.0, abs=0.001))


@pytest.mark.parametrize("why", ["chorded-curve", "place-or-node"])
def test_numbers_that_the_design_answers_in_two_ways_are_left_out(job, why):
    made = used(job, np.where(np.arange(40) < 20, 0.0, 0.98))
    findings = made["findings"].copy()
    far = findings["deviation"] > 0.5
    findings.loc[far, ["verdict", "why"]] = ["UNDECIDED", why]
    layers = Layers({**dict(made), "findings": findings}, frame=made.frame)
    (row,) = LimitUse().run(layers)["limit_use"].to_dict("records")
    assert (row["numbers"], row["mean"]) == (20, pytest.approx(0.0, abs=0.001))
