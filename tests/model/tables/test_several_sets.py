"""Which finding stands for a number that several rule sets judge."""

import pandas as pd

from geoqa.model.tables.several_sets import strictest_stands


def table(*rows):
    """Findings as (finding, rule set, number, verdict, run)."""
    found = pd.DataFrame(rows, columns=["finding", "set", "measured", "verdict", "run"])
    found["run"] = found["run"].astype("str").where(found["run"].notna(), None).astype("str")
    same = {"check": "a", "kind": "k", "subject": "s", "label": "l", "shot": "x", "station": 0.0, "station_end": 0.0}
    excess = found["verdict"].map({"OUT": 3.0, "UNDECIDED": 0.0, "IN": -3.0})
    return found.assign(**same, deviation=found["measured"], excess=excess, against=found["set"] + "; design")


def pointed(*rows):
    runs = strictest_stands(table(*rows)).set_index("finding")["run"]
    return {name: None if pd.isna(run) else run for name, run in runs.items()}


def test_the_strictest_verdict_stands():
    rows = [("A", "job", 1.0, "IN", None), ("B", "town", 1.0, "OUT", None), ("C", "state", 1.0, "UNDECIDED", None)]
    assert pointed(*rows) == {"A": "B", "B": None, "C": "B"}


def test_what_a_run_of_a_stricter_set_reports_is_not_reported_again():
    rows = [("R", "town", 9.0, "OUT", None), ("M", "town", 1.0, "UNDECIDED", "R"), ("A", "job", 1.0, "IN", None)]
    assert pointed(*rows) == {"R": None, "M": "R", "A": "R"}


def test_a_run_whose_members_are_reported_elsewhere_points_there():
    rows = [("R", "job", 9.0, "IN", None), ("M", "job", 1.0, "IN", "R"), ("B", "town", 1.0, "OUT", None)]
    assert pointed(*rows) == {"R": "B", "M": "R", "B": None}
    worse = [("R", "job", 9.0, "OUT", None), ("M", "job", 1.0, "UNDECIDED", "R"), ("B", "town", 1.0, "IN", None)]
    assert pointed(*worse) == {"R": None, "M": "R", "B": "R"}


def test_doing_it_again_changes_nothing():
    rows = [("A", "job", 1.0, "IN", None), ("B", "town", 1.0, "OUT", None), ("R", "job", 9.0, "IN", None)]
    once = strictest_stands(table(*rows, ("M", "job", 2.0, "IN", "R"), ("N", "town", 2.0, "UNDECIDED", None)))
    assert strictest_stands(once)["run"].equals(once["run"])
