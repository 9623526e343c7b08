"""A mean says no less than its members: single numbers that are proven out are not taken back by it."""

import numpy as np
import pandas as pd
import pytest

from geoqa import testing
from geoqa.contract.work import OFFSET
from geoqa.steps.judging.by_members import held_by_members
from geoqa.steps.judging.findings import findings_of, judged_rows, with_limits

LIMITS = testing.limits(("curb-top", "offset", -0.10, 0.10))


def rows(deviations, u, **columns):
    count = len(deviations)
    table = pd.DataFrame({"kind": ["curb-top"] * count, "shot": [f"day1/{n}" for n in range(count)]}, dtype="str")
    table = table.assign(subject="A", source="design", deviation=deviations, u_common=0.0, u_random=u, why=0, **columns)
    return with_limits(table, LIMITS, check=OFFSET)


def mean(value, u, **columns):
    table = rows([value], u, **columns).assign(label="mean of shots")
    return findings_of(table, check=OFFSET, limits=LIMITS, unit="ft")


def single(*deviations, u=0.02):
    return judged_rows(rows(deviations, u), check=OFFSET, limits=LIMITS)


@pytest.mark.parametrize(
    ("value", "u", "members", "told"),
    [
        (0.17, 0.06, (0.19, 0.18, 0.11), ("OUT", "members-out", "2 of them are proven out by themselves")),
        (-0.17, 0.06, (-0.19, -0.18, -0.11), ("OUT", "members-out", "2 of them are proven out by themselves")),
        (0.14, 0.06, (0.16, 0.15, 0.11), ("UNDECIDED", "members-out", "2 of them are proven out by themselves")),
        (-0.14, 0.03, (-0.29, -0.11, -0.06), ("UNDECIDED", "members-out", "1 of them is proven out by itself")),
        (0.101, 0.06, (0.30, 0.06, 0.05), ("UNDECIDED", "members-out", "1 of them is proven out by itself")),
        (0.09, 0.06, (0.16, 0.06, 0.05), ("UNDECIDED", "members-out", "1 of them is proven out by itself")),
        (0.05, 0.005, (0.16, 0.02, -0.03), ("IN", "proven", "1 of them is proven out by itself")),
        (0.14, 0.06, (0.12, 0.12, 0.12), ("UNDECIDED", "u-too-large", "mean of shots")),
        (0.16, 0.02, (0.16, 0.15, 0.11), ("OUT", "proven", "mean of shots")),
        (0.12, 0.03, (0.13, 0.12, -0.17), ("UNDECIDED", "members-out", "1 of them is proven out by itself")),
    ],
    ids=[
        "beyond",
        "below",
        "beyond by less than its u",
        "one alone",
        "at its limit",
        "within",
        "in",
        "none out",
        "out itself",
        "out to the other side",
    ],
)
def test_a_mean_takes_nothing_back_of_what_its_members_prove(value, u, members, told):
    alone = single(*members)
    before = mean(value, u)
    found = held_by_members(before, alone, np.zeros(len(members), dtype=int), OFFSET).iloc[0]
    assert (found["verdict"], found["why"]) == told[:2]
    assert found["label"].endswith(told[2])
    assert (found["deviation"], found["u"]) == (before["deviation"].iloc[0], before["u"].iloc[0])
    if told[:2] == ("OUT", "members-out"):
        assert found["p_conform"] == alone["p_conform"].min() < 0.05
        assert pd.isna(found["remedy"])


def test_those_that_are_out_by_themselves_are_named():
    alone = single(0.19, 0.02, 0.18, 0.17, 0.16)
    found = held_by_members(
        mean(0.12, 0.06), alone.assign(shot=[f"day1/{n}" for n in range(5)]), np.zeros(5, int), OFFSET
    )
    assert (
        found["label"].iloc[0].endswith("; 4 of them are proven out by themselves: shot 0, shot 2, shot 3 and 1 more")
    )
    alone = alone.assign(label=[f"section at shots {n}, 1{n}, falls to walk-front" for n in range(5)])
    found = held_by_members(mean(0.12, 0.06), alone.head(2), np.zeros(2, int), OFFSET)
    assert found["label"].iloc[0].endswith("; 1 of them is proven out by itself: section at shots 0, 10")


def test_members_of_other_means_do_not_speak_for_this_one():
    found = held_by_members(mean(0.12, 0.06), single(0.19, 0.18), np.array([-1, -1]), OFFSET).iloc[0]
    assert found["verdict"] == "UNDECIDED"


def test_what_the_choice_adds_does_not_tell_what_the_method_can_prove():
    assert mean(0.09, 0.06)["why"].tolist() == ["u-too-large"]
    assert mean(0.09, 0.06, u_unchosen=0.02)["why"].tolist() == ["near-limit"]
