"""Which rule set a limit is of, and where the others say something else: one line beside the number."""

import pandas as pd
import pytest

from geoqa.contract.rule_set_words import rule_set_words
from geoqa.contract.spoken import number_of
from geoqa.model.tables.several_sets import strictest_stands


def row(name, ruleset, verdict, *, least, label="1", run=None, edition="", measured=4.8, shot="s/1"):
    return {
        "finding": name, "check": "clear-width", "kind": "walk", "subject": "W", "label": label, "shot": shot,
        "station": float(label[-1]), "station_end": float("nan"), "measured": measured, "deviation": measured,
        "quantity": "length", "lower": least, "upper": float("inf"), "against": f"{ruleset}; no design", "run": run,
        "edition": edition, "verdict": verdict, "excess": 1.0 if verdict == "OUT" else -1.0, "u": 0.02,
    }  # fmt: skip


@pytest.mark.parametrize(("unit", "least"), [("ft", "5.00 ft"), ("ftUS", "5.00 ftUS"), ("m", "5.000 m")])
def test_the_set_of_a_limit_is_named_with_its_edition_where_several_are_in_force(unit, least):
    findings = pd.DataFrame([row("A", "job", "IN", least=4.0), row("B", "town", "OUT", least=5.0, edition="2nd")])
    said = rule_set_words(findings, unit)
    assert said["ruleset"].to_dict() == {"A": "job", "B": "town, 2nd"}
    assert said.loc["B", "sets_differ"].startswith(
        f"rule sets differ; town, 2nd: exceeds (at least {least}); job: within"
    )
    assert said.loc["A", "sets_differ"].startswith("rule sets differ; job: within")
    told = number_of(findings.iloc[1].to_dict() | said.loc["B"].to_dict(), unit)
    assert told.endswith(f"allowed at least {least} (town, 2nd)")


def test_one_set_alone_and_sets_of_other_kinds_are_not_named():
    alone = pd.DataFrame([row("A", "job", "OUT", least=5.0), row("B", "job", "IN", least=4.0, label="2")])
    other = pd.DataFrame([row("A", "job", "OUT", least=5.0), row("B", "town", "IN", least=4.0) | {"kind": "ramp"}])
    for findings in (alone, other):
        assert set(rule_set_words(findings, "ft").to_numpy().ravel()) == {""}


def test_sets_that_agree_on_a_number_are_named_and_no_difference_is_said():
    findings = pd.DataFrame([row("A", "job", "OUT", least=5.0), row("B", "town", "OUT", least=5.0)])
    said = rule_set_words(findings, "ft")
    assert said["ruleset"].tolist() == ["job", "town"]
    assert said["sets_differ"].tolist() == ["", ""]


def test_of_a_mean_its_members_are_counted_under_every_set():
    rows = [row("RUN", "town", "OUT", least=5.0, label="0", shot=None)]
    for number in (1, 2, 3):
        rows.append(row(f"T{number}", "town", "OUT", least=5.0, label=str(number), shot=f"s/{number}", run="RUN"))
        rows.append(row(f"J{number}", "job", "IN", least=4.0, label=str(number), shot=f"s/{number}"))
    findings = strictest_stands(pd.DataFrame(rows).astype({"run": "str", "shot": "str"}))
    line = rule_set_words(findings, "ft").loc["RUN", "sets_differ"]
    assert line == (
        "rule sets differ on what it is the mean of; "
        "town: 3 exceed (at least 5.00 ft); job: 3 within (at least 4.00 ft)"
    )
