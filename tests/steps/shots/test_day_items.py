"""One list of things to do, most urgent first; flags are raised by the steps whose they are."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.model.vocabulary import KNOW, LOOK, NOW
from geoqa.steps.control.check_policy import CheckPolicy
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.shots.day_items import DayItems
from geoqa.steps.shots.doubles import Doubles
from geoqa.steps.shots.motion import Motion
from geoqa.steps.shots.screening import Screening

START = pd.Timestamp("2026-03-14 14:00", tz="UTC")
RULES = pd.DataFrame(
    [("*", "solution", "fixed", "reject", "Job"), ("*", "satellites", "6", "warn", "Job")],
    columns=["kind", "field", "worst", "action", "reference"],
)
LINE = {"CTB-L": ("curb-top", 0.0, 0, 800)}


def items(job, rows, *steps, policy=(), rules=RULES, lines=None, **options):
    """The list after steps; one minute and 25 ft lie between shots that do not say so."""
    rows = [{"time": START + pd.Timedelta(nth, "min"), "station": 25.0 * nth} | row for nth, row in enumerate(rows)]
    role = [row.pop("role", "feature") for row in rows]
    shots = job.prepared(job.shots(rows), role=role)
    asked = conform("check_policy", pd.DataFrame(policy, columns=["rule", "limit", "action", "reference"]))
    layers = job.layers(shots=shots, screening=conform("screening", rules), check_policy=asked, **job.design(lines))
    table = job.run(layers, *steps, DayItems(**options))["day_items"]
    assert table["item"].tolist() == list(range(1, len(table) + 1))
    return table


def told(table):
    return list(zip(table["urgency"], table["shots"], table["names"], strict=True))


def test_a_day_without_a_fault_makes_an_empty_list(job):
    assert told(items(job, [{}, {}, {}], Screening(), Motion(), Doubles())) == []
    assert told(items(job, [])) == []


def test_shots_of_one_flag_are_one_item_and_the_most_urgent_comes_first(job):
    rows = [{}, {"solution": "float"}, {"satellites": 4}, {"satellites": 4}, {"solution": "float"}, {"station": 75.0}]
    assert told(items(job, rows, Screening(), Doubles(apart="1 ft"))) == [
        (NOW, 2, "102, 105"),
        (LOOK, 2, "103, 104"),
    ]


def test_a_shot_that_leaned_too_far_is_told_once_and_one_that_only_was_not_tested_by_itself(job):
    rows = pd.DataFrame(
        {"shot_key": ["day1/101", "day1/101", "day1/103"], "flag": ["tilt", "tilt-untested", "tilt-untested"]}
    )
    layers = job.layers(shots=job.prepared(job.shots([{}, {}, {}])), flags=conform("flags", rows.assign(reject=False)))
    table = job.run(layers, DayItems())["day_items"]
    assert list(zip(table["title"], table["names"], strict=True)) == [
        ("Rod leaned further than was tested", "103"),
        ("Rod leaned too far", "101"),
    ]


def test_of_two_items_as_urgent_the_larger_comes_first(job):
    # the second file goes 1,000 ft in a second: either of its two shots may be wrong
    far = [{"source": "day2", "time": START + pd.Timedelta(nth, "s"), "station": 1000.0 * nth} for nth in range(2)]
    assert told(items(job, [{}, {"satellites": 4}, *far], Screening(), Motion())) == [
        (LOOK, 2, "103, 104"),
        (LOOK, 1, "102"),
    ]


def test_what_is_good_to_know_comes_last(job):
    rows = [{"line_id": "S1"}, {"line_id": "S1", "station": 0.02}, {"solution": "float", "line_id": "S2"}]
    assert told(items(job, rows, Screening(), Doubles())) == [(NOW, 1, "103"), (KNOW, 1, "102")]


def test_a_screening_that_rejects_is_more_urgent_than_one_that_warns(job):
    rejects = RULES.assign(action="reject")
    assert told(items(job, [{}, {"satellites": 4}], Screening(), rules=rejects)) == [(NOW, 1, "102")]


def test_the_same_flag_on_two_lines_is_two_items(job):
    rows = [{"line_id": line, "sequence": nth, "solution": "float"} for line in ("S1", "S2") for nth in (1, 2)]
    assert told(items(job, rows, Screening())) == [(NOW, 2, "101, 102"), (NOW, 2, "103, 104")]


def test_many_names_are_counted_in_full_and_listed_in_part(job):
    ((urgency, shots, names),) = told(items(job, [{"solution": "float"}] * 15, Screening()))
    assert (urgency, shots) == (NOW, 15)
    assert names.startswith("101, 102, 103, ")
    assert names.count(",") == 11
    assert "3" in names.rpartition(", ")[2]  # fifteen less twelve


@pytest.mark.parametrize(("last", "expected"), [("feature", [(NOW, 2, "102, 103")]), ("check", [])])
def test_a_missing_closing_check_is_to_be_shot_before_leaving(job, last, expected):
    rows = [{"role": "check"}, {}, {"role": last}]
    assert told(items(job, rows, CheckPolicy(), policy=[("closing", "30 min", "warn", "Job")])) == expected


@pytest.mark.parametrize(("marks", "expected"), [("1", []), ("2", [(LOOK, 0, "")])])
def test_a_rule_that_is_not_met_and_concerns_no_shot_is_an_item_of_its_own(job, marks, expected):
    rows = [{"role": "check", "line_id": "CP-1"}, {}]
    assert told(items(job, rows, CheckPolicy(), policy=[("marks", marks, "warn", "Job")])) == expected


@pytest.mark.parametrize(("elevation", "expected"), [
    (100.5, []), (np.nan, [(NOW, 1, "102")]), (0.0, []),  # the ground is not farther than 100 ft from 0
])  # fmt: skip
def test_a_shot_without_an_elevation_is_to_be_shot_again(job, elevation, expected):
    assert told(items(job, [{}, {"elevation": elevation}, {}, {}])) == expected


def test_an_elevation_of_0_far_from_the_ground_is_none(job):
    high = {"elevation": 1460.0}
    assert told(items(job, [high, {"elevation": 0.0}, high, high])) == [(NOW, 1, "102")]


def test_a_file_without_elevations_is_no_list_of_shots(job):
    assert told(items(job, [{"elevation": np.nan}] * 4)) == []


@pytest.mark.parametrize(("stations", "expected"), [
    ((0, 25, 50, 75, 137, 162), []),  # 62 ft: less than two and a half times 25
    ((0, 25, 50, 75, 138, 163), [(LOOK, 0, "104, 105")]),
    ((0, 10, 20, 30, 59, 69), []),  # 29 ft: legs shorter than 30 ft are no holes
    ((0, 10, 20, 30, 61, 71), [(LOOK, 0, "104, 105")]),
    ((0, 25, 100, 125), []),  # four shots know no usual leg
])  # fmt: skip
def test_a_hole_in_a_line_that_was_begun_is_looked_at(job, stations, expected):
    rows = [{"station": float(at)} for at in stations]
    assert told(items(job, rows, MatchLines(), lines=LINE)) == expected


def test_a_hole_in_an_open_trench_comes_before_all_else(job):
    rows = [{"station": float(at)} for at in (0, 25, 50, 75, 138, 163)]
    rows[1] |= {"solution": "float"}
    job_lines = {"W-1": ("storm-top", 0.0, 0, 800)}
    shots = job.prepared(job.shots(rows), kind="storm-top")
    layers = job.layers(shots=shots, screening=conform("screening", RULES), **job.design(job_lines))
    table = job.run(layers, MatchLines(), Screening(), DayItems())["day_items"]
    assert table["urgency"].tolist() == [NOW, NOW]
    assert table["title"].iloc[0].startswith("Nothing shot over")


def test_an_item_lies_at_its_first_shot(job):
    table = items(job, [{}, {"solution": "float", "offset": 3.0}, {"solution": "float"}], Screening())
    (row,) = table.to_dict("records")
    assert [row["easting"], row["northing"]] == pytest.approx([job.origin[0] + 3.0, job.origin[1] + 25.0])
