"""Several rule sets on one number: each verdict kept, the strictest reported once, and the difference said."""

import pytest

from geoqa.job.execute import execute
from geoqa.model.tables.reported import reported_verdicts
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.rules.many_checks import ManyChecks
from geoqa.steps.rules.rule_sets_differ import RuleSetsDiffer

LINE = {"CTB-L": ("curb-top", 0.0, 0, 8000)}
WIDE = ("curb-top", "offset", -0.50, 0.50)
TOWN = ("curb-top", "offset", -0.10, 0.10, "guarded", "town")


def judged(job, offsets, *limits):
    rows = [{"offset": value, "station": 20.0 + 40.0 * nth} for nth, value in enumerate(offsets)]
    layers = job.layers(shots=job.prepared(job.shots(rows)), limits=job.limits(*limits), **job.design(LINE))
    return execute(layers, [MatchLines(), Offsets(), RuleSetsDiffer(), ManyChecks()])


def test_a_number_under_two_sets_is_counted_once_by_its_strictest_verdict(job):
    made = judged(job, [0.0, 0.2, 0.9], WIDE, TOWN)
    findings = made["findings"]
    assert len(findings) == 6
    reported = findings[findings["run"].isna()]
    assert reported.groupby("shot").size().tolist() == [1, 1, 1]
    assert reported["verdict"].value_counts().to_dict() == {"OUT": 2, "IN": 1}
    other = findings[findings["run"].notna()].set_index("run")
    assert set(other.index) == set(reported["finding"])
    assert (other["shot"] == reported.set_index("finding").loc[other.index, "shot"]).all()
    # where both are out, the one that lies farther beyond its limit stands
    assert set(reported[reported["verdict"] == "OUT"]["against"]) == {"town; design"}
    assert reported_verdicts(findings).value_counts().to_dict() == {"OUT": 4, "IN": 2}


def test_what_differs_is_said_once_for_kind_and_check(job):
    notes = judged(job, [0.0, 0.2, 0.9], WIDE, TOWN)["notes"].query("note == 'rule-sets-differ'")
    assert notes["other"].tolist() == ["job", "town"]
    assert notes[["count", "total"]].drop_duplicates().to_numpy().tolist() == [[1, 3]]
    assert notes[["second", "third", "fourth"]].to_numpy().tolist() == [[2.0, 0.0, 1.0], [1.0, 0.0, 2.0]]
    assert set(notes["proposal"]) == {"town"}


def test_sets_that_agree_say_nothing_and_one_set_points_nowhere(job):
    made = judged(job, [0.0, 0.01], WIDE, TOWN)
    assert "rule-sets-differ" not in set(made["notes"]["note"])
    alone = judged(job, [0.0, 0.2], TOWN)
    assert alone["findings"]["run"].isna().all()


@pytest.mark.parametrize(("left", "stricter"), [(-0.05, ""), (-0.50, "town"), (-0.60, "town")])
def test_stricter_by_construction_is_said_only_of_a_set_within_the_other(job, left, stricter):
    made = judged(
        job, [0.2], ("curb-top", "offset", left, 0.50), ("curb-top", "offset", -0.50, 0.10, "guarded", "town")
    )
    assert set(made["notes"].query("note == 'rule-sets-differ'")["proposal"]) == {stricter}


def test_many_checks_counts_numbers_and_not_rule_sets(job):
    both = judged(job, [0.0, 0.2, 0.9], WIDE, TOWN)["notes"].query("note == 'many-checks'").iloc[0]
    assert (both["total"], both["second"]) == (2, 3.0)
