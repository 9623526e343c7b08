"""The first screen counts what the results report, question by question; control is told as it was measured."""

import math
from dataclasses import replace

import pandas as pd

from geoqa.model.results import Results
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.present.map.overview import changes, control_table, overview


def with_tables(results, **tables):
    held = {name: results.layers[name] for name in results.layers} | tables
    return Results(title=results.title, layers=Layers(held, frame=results.layers.frame), summary={}, record={})


def test_every_reported_finding_is_counted_under_one_question(street):
    rows = overview(street)
    counts = street.reported["verdict"].value_counts()
    for verdict in ("OUT", "UNDECIDED", "NO_DATA", "IN"):
        assert sum(row[verdict] for row in rows) == counts.get(verdict, 0)
    checks = [check for row in rows for check in row["checks"]]
    assert sorted(checks) == sorted(set(street.reported["check"]))


def test_residuals_are_told_by_mark_and_session_with_what_was_left_out(street):
    rows = [
        ("CP-1", "A", 2, 0, 0, -0.0144, 0.001, 0.018, 0.02),
        ("CP-3", None, 0, 2, 0, math.nan, math.nan, math.nan, math.nan),
    ]
    means = ["mean_easting", "mean_northing", "mean_elevation"]
    columns = ["mark", "session", "shots", "left_out", "left_out_elevation", *means, "worst"]
    residuals = conform("control_residuals", pd.DataFrame(rows, columns=columns))
    told = control_table(with_tables(street, control_residuals=residuals).layers)
    assert told["rows"][0][:6] == ["CP-1", "A", "2", "-0.014", "+0.001", "+0.018"]
    assert told["rows"][1] == ["CP-3", "–", "0", "–", "–", "–", "2"]
    assert control_table(street.layers) is None


def test_items_that_are_gone_are_named(street):
    items = pd.DataFrame({"item": ["1", "2"], "state": ["open", "gone"], "verdict": "OUT", "check": "offset"})
    items = items.assign(findings=1)
    told = changes(with_tables(street, items=conform("items", items)))
    assert told == "First round: this job names none before it. 1 item of earlier runs is gone: 2."
    one = with_tables(street, items=conform("items", items.head(1)))
    assert "No item of an earlier run is gone" in changes(one)
    assert changes(street) == ""


def test_what_changed_since_the_round_before_is_counted_and_named(street):
    items = pd.DataFrame({"item": ["1"], "state": ["open"], "verdict": "OUT", "check": "offset", "findings": 1})
    states = {"new": ["7"], "closed": [str(each) for each in range(1, 23)]}
    since = {"previous": "r1/out", "states": states, "numbers": 1003, "same": 812, "new_shots": 40, "shots": 980}
    results = with_tables(street, items=conform("items", items))
    told = changes(replace(results, summary={"since": since}))
    assert told.startswith("Since r1/out: 1 new (7); 22 closed (1, 2, ")
    assert "20 and 2 more). The same in both rounds: 812 of 1003 numbers; new: 40 of 980 shots." in told
