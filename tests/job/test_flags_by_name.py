"""A flag means what its whole name says: one whose name holds another's changes nothing."""

from typing import Any

import numpy as np
import pandas as pd
import pytest

from bench import make
from geoqa.job.execute import execute
from geoqa.job.plan import default_steps
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform
from geoqa.model.tables.shot_flags import has_flag

pytestmark = pytest.mark.long


class Harmless(Step):
    """Flags that only look like others, on every shot."""

    name = "harmless"
    needs = ("shots",)
    adds = ("flags",)

    def run(self, layers: Any) -> dict[str, Any]:
        keys = layers["shots"]["shot_key"]
        names = ("no-spike", "spike-checked", "zero-elevation-asked", "not-identical-to-design", "weak-sky-2")
        parts = [pd.DataFrame({"shot_key": keys, "flag": each, "reject": False, "step": self.name}) for each in names]
        return {"flags": conform("flags", pd.concat(parts, ignore_index=True))}


def test_flags_are_compared_as_whole_names():
    shots = pd.DataFrame({"flags": pd.Series(["no-spike;spike", "spike-checked", "no-spike", ""], dtype="str")})
    assert has_flag(shots, "spike").tolist() == [True, False, False, False]
    assert has_flag(shots, "spike", "no-spike").tolist() == [True, False, True, False]
    assert has_flag(pd.DataFrame({"shot_key": ["a"]}), "spike").tolist() == [False]


@pytest.mark.parametrize("seed", [1, pytest.param(2, marks=pytest.mark.score)])
def test_a_harmless_flag_with_a_like_name_changes_no_finding(seed):
    layers = make(seed=seed).layers()
    plain = execute(layers, default_steps([]))
    beside = execute(layers, default_steps([Harmless()]))
    assert len(beside["flags"]) == len(plain["flags"]) + 5 * len(plain["shots"])
    assert (plain["shots"]["flags"].str.split(";").explode() == "spike").any() == has_flag(
        plain["shots"], "spike"
    ).any()
    assert (plain["findings"]["run"].notna()).any()
    for name in ("findings", "evidence", "runs", "run_members", "causes", "crew_precision"):
        one, other = (pd.DataFrame(each[name]).drop(columns="geometry", errors="ignore") for each in (plain, beside))
        pd.testing.assert_frame_equal(one, other)
    assert np.array_equal(plain["shots"]["use"], beside["shots"]["use"])
