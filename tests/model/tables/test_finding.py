"""Names of findings: as many as a county has, and those that an earlier geoqa wrote."""

import math

import pandas as pd
import pytest

from geoqa.errors import StepError
from geoqa.job.run import run
from geoqa.model.tables import finding
from geoqa.model.tables.finding import DIGITS, EARLIER_DIGITS, earlier_id, finding_id, finding_ids
from tests.review.job_of_four import write

ALIKE = ("day1/13108534", "day1/35093379")
"""Shots whose offsets from one line had one and the same name of 12 digits; found among 36 million."""


def test_two_findings_that_had_one_name_have_two():
    one, other = (finding_id("offset", "job", "CTB-L", [shot]) for shot in ALIKE)
    assert earlier_id(one) == earlier_id(other)
    assert one != other
    assert finding_ids("offset", "job", "CTB-L", pd.Series(ALIKE, dtype="str")).tolist() == [one, other]


def test_a_name_begins_with_the_one_that_an_earlier_geoqa_gave(monkeypatch):
    name = finding_id("offset", "job", "CTB-L", ["day1/101"])
    monkeypatch.setattr(finding, "DIGITS", EARLIER_DIGITS)
    assert finding_id("offset", "job", "CTB-L", ["day1/101"]) == earlier_id(name)
    assert len(name) == 1 + DIGITS


def test_a_job_of_ten_million_shots_meets_one_name_twice_less_than_once_in_a_hundred_thousand():
    findings = 1.8e7  # of a season of 1e7 shots
    chance = -math.expm1(-(findings**2) / 2 / 16.0**DIGITS)
    assert chance < 1e-5


def test_a_name_that_two_findings_have_is_refused_and_never_taken_for_one(tmp_path, monkeypatch):
    monkeypatch.setattr(finding, "DIGITS", 1)
    with pytest.raises(StepError, match=r"second finding F[0-9a-f]; ids must be unique"):
        run(write(tmp_path), write=False)
