"""Kinds of a rule file that limit nothing in a job are told, with file, line and the kinds there are."""

import pytest

from geoqa.job.document.load import load
from geoqa.job.document.rule_files import rule_file
from geoqa.job.rule_kinds import rule_kind_lines, rule_kinds
from geoqa.testing import layers

HEAD = 'title = "Town"\nedition = "2nd"\ndate = 2024\nverified = false\n'
LIMIT = 'width = { limit = "60 in", clause = "4.1" }\n'
JOB = """
[job]
name = "Kinds"
[frame]
horizontal = "EPSG:6547"
vertical = "EPSG:8228"
[[shots]]
file = "shots.csv"
[codes]
file = "codes.csv"
[[rules]]
file = "town.toml"
[tolerance.walk]
rules = "town"
[tolerance.ramp]
vertical = "0.06 ft"
reference = "C-101"
"""


def told(tmp_path, rules):
    (tmp_path / "town.toml").write_text(rules, encoding="utf-8")
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    return load(tmp_path / "job.toml").job, layers()


def test_a_kind_nobody_has_is_told_with_line_and_the_kinds_there_are(tmp_path):
    read, tables = told(tmp_path, f"{HEAD}[walk]\n{LIMIT}\n[wolk]\n{LIMIT}")
    (fact,) = rule_kinds(read, tables)
    assert (fact["subject"], fact["place"], fact["proposal"]) == ("wolk", "town.toml, line 8", "walk")
    assert fact["written"].startswith("control, ")
    (line,) = rule_kind_lines(read, tables)
    assert line.startswith("town.toml, line 8, [wolk]: limits nothing here: no code, design or tolerance")


def test_a_kind_the_job_has_and_does_not_hold_to_the_set_is_told_with_the_line_that_settles_it(tmp_path):
    read, tables = told(tmp_path, f'{HEAD}[walk]\n{LIMIT}[ramp]\ncross_slope = {{ limit = "2 %", clause = "5" }}')
    (line,) = rule_kind_lines(read, tables)
    assert "line 7, [ramp]" in line
    assert '[tolerance.ramp] does not name the rule set town; write rules = "town" there' in line


def test_kinds_that_are_held_to_the_set_say_nothing(tmp_path):
    read, tables = told(tmp_path, f"{HEAD}[walk]\n{LIMIT}")
    assert not list(rule_kinds(read, tables))


@pytest.mark.parametrize("place", ["[walk]", '["walk"]'])
def test_the_line_of_each_table_is_kept(tmp_path, place):
    (tmp_path / "town.toml").write_text(f"{HEAD}\n{place}\n{LIMIT}", encoding="utf-8")
    assert rule_file(tmp_path / "town.toml", shown="town.toml").lines == {"walk": 6}
