from importlib.resources import files

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.contract.words import every_flag
from geoqa.errors import JobError
from geoqa.model.tables.columns import conform
from geoqa.steps.shots.screening import Screening
from geoqa.steps.shots.usable_shots import UsableShots


def rules(*rows):
    return conform(
        "screening",
        pd.DataFrame([(*row, "Job") for row in rows], columns=["kind", "field", "worst", "action", "reference"]),
    )


def screened(job, shots, screening, kind="curb-top", role="feature"):
    return job.run(
        job.layers(shots=job.shots(shots).assign(kind=kind, role=role), screening=screening), Screening(), UsableShots()
    )


def test_a_worse_log_is_flagged_with_its_numbers(job):
    table = rules(
        ("*", "solution", "fixed", "reject"),
        ("*", "pdop", "4.0", "reject"),
        ("*", "pdop", "3.0", "warn"),
        ("*", "satellites", "6", "reject"),
        ("*", "correction_age", "5 s", "reject"),
        ("*", "tilt", "15 deg", "warn"),
        ("*", "reported_h", "0.05 ft", "warn"),
    )
    made = screened(
        job,
        [
            {},
            {"solution": "float"},
            {"pdop": 3.5},
            {"pdop": 4.5, "satellites": 5},
            {"correction_age": 6.0, "tilt": -20.0},
            {"reported_h": 0.08},
            {"pdop": 4.0, "satellites": 6},
        ],
        table,
    )
    assert made["shots"]["use"].tolist() == [True, False, True, False, False, True, True]
    assert made["shots"]["flags"].tolist() == [
        "",
        "solution",
        "pdop",
        "pdop;satellites",
        "correction_age;tilt",
        "reported_h",
        "pdop",
    ]
    reasons = job.reasons(made).set_index(["shot_key", "flag"])["reason"]
    assert reasons["day1/102", "solution"] == "solution float, allowed is fixed (Job)"
    assert reasons["day1/103", "pdop"] == "pdop 3.5 is more than 3.0 (Job)"
    assert reasons["day1/104", "satellites"] == "satellites 5 is fewer than 6 (Job)"
    assert reasons["day1/105", "correction_age"] == "correction age 6 s is more than 5 s (Job)"
    assert reasons["day1/106", "reported_h"] == "reported h 0.080 ft is more than 0.05 ft (Job)"


def test_a_rule_for_a_kind_stands_in_place_of_the_general_one(job):
    table = rules(("*", "pdop", "4", "reject"), ("curb-top", "pdop", "2", "reject"))
    assert screened(job, [{"pdop": 3.0}], table)["shots"]["use"].tolist() == [False]
    assert screened(job, [{"pdop": 3.0}], table, kind="rim")["shots"]["use"].tolist() == [True]


def test_allowed_words_are_joined_by_a_bar(job):
    made = screened(
        job,
        [{"solution": "fixed"}, {"solution": "float"}, {"solution": "autonomous"}],
        rules(("*", "solution", "fixed|float", "reject")),
    )
    assert made["shots"]["use"].tolist() == [True, True, False]


def test_a_missing_field_is_no_failure_and_is_counted_once(job):
    made = screened(
        job, [{"pdop": np.nan}, {"pdop": np.nan}, {}], rules(("*", "pdop", "4", "reject"), ("*", "pdop", "3", "warn"))
    )
    assert made["shots"]["use"].all()
    gaps = made["screening_gaps"]
    assert gaps[["field", "shots"]].to_numpy().tolist() == [["pdop", 2]]
    assert gaps["reason"].tolist() == ["the log holds no pdop for them"]


def test_shots_that_are_not_judged_are_not_screened(job):
    table = rules(("*", "tilt", "30 deg", "reject"))
    assert len(screened(job, [{"tilt": 45.0}], table, role="other")["flags"]) == 0
    assert len(screened(job, [{"tilt": 45.0}], table, role="check")["flags"]) == 1


@pytest.mark.parametrize(
    ("rule", "message"),
    [
        (("*", "colour", "1", "warn"), "shots have no column 'colour'"),
        (("*", "tilt", "15", "warn"), "'15' has no unit; write it as '15 deg'"),
        (("*", "tilt", "15 s", "warn"), "'15 s' is not a limit; write a number and its unit, deg"),
        (("*", "pdop", "low", "warn"), "'low' is not a limit; write a number"),
        (("*", "reported_h", "0.05", "warn"), "'0.05' is not a length"),
        (("*", "solution", "|", "warn"), "allows nothing"),
        (("*", "pdop", "4", "delete"), "action 'delete' is neither warn nor reject"),
    ],
)
def test_a_rule_that_cannot_be_read_is_refused(job, rule, message):
    with pytest.raises(JobError, match=message):
        screened(job, [{}], rules(rule))


def test_the_default_rules_are_readable_and_reject_a_float_solution(job):
    with (files("geoqa") / "presets" / "screening.csv").open(encoding="utf-8") as stream:
        table = conform("screening", pd.read_csv(stream, dtype=str))
    made = screened(job, [{}, {"solution": "float"}, {"pdop": 3.5}, {"tilt": 20.0}, {"tilt": 31.0}], table)
    assert made["shots"]["use"].tolist() == [True, False, True, True, False]
    assert made["shots"]["flags"].tolist() == ["", "solution", "pdop", "tilt", "tilt"]
    assert set(table["field"]) <= set(every_flag())
    assert (table["reference"].str.len() > 10).all()


def test_a_solution_that_nobody_knows_is_refused_by_its_name(job):
    with pytest.raises(JobError, match=r"'fixd' is no solution; known are fixed, float, .*Did you mean fixed\?"):
        screened(job, [{}], rules(("*", "solution", "fixd|float", "reject")))


def test_a_rule_for_a_kind_that_nobody_has_is_told_with_what_may_be_meant(job):
    made = screened(job, [{"pdop": 9.0}], rules(("curb-topp", "pdop", "4.0", "reject"), ("*", "pdop", "8", "warn")))
    (line,) = note_lines(made["notes"], "ft")
    assert line.startswith("A screening rule for kind curb-topp is never used")
    assert "Is curb-top meant?" in line


def test_rules_of_common_practice_are_for_kinds_of_many_jobs(job):
    table = rules(("curb-flow", "pdop", "4.0", "reject"), ("*", "pdop", "8", "warn")).assign(source="preset")
    assert not len(screened(job, [{}], table)["notes"])


def test_a_kind_of_the_code_list_that_was_not_shot_is_no_slip(job):
    codes = pd.DataFrame({"code": ["WKB"], "kind": ["walk-back"], "geometry": "line", "role": "feature"})
    layers = job.layers(
        shots=job.shots([{}]).assign(kind="curb-top", role="feature"),
        codes=conform("codes", codes),
        screening=rules(("walk-back", "pdop", "4.0", "reject")),
    )
    assert not len(job.run(layers, Screening())["notes"])


def test_a_rule_whose_words_no_shot_bears_is_told(job):
    made = screened(job, [{"session": "A"}, {"session": "A"}], rules(("*", "session", "B|C", "warn")))
    (line,) = note_lines(made["notes"], "ft")
    assert "allows only B or C as session, and no shot has that; most have A" in line
