"""A rule file that jobs share: read with the job, listed with its hash, and refused with file, line and place."""

import hashlib

import pytest

from geoqa.errors import JobError
from geoqa.job.document.limits import limits_table
from geoqa.job.document.load import load
from geoqa.job.document.rule_files import rule_file
from geoqa.job.document.rule_sets import rule_sets
from geoqa.job.inputs.named_files import job_files
from geoqa.job.inputs.sources import sources_table
from geoqa.model.quantity import FOOT

JOB = """
[job]
name = "A"
[frame]
horizontal = "EPSG:6547"
[[shots]]
file = "a.csv"
unit = "ft"
[[rules]]
file = "../town.toml"
"""
USED = '[tolerance.walk]\nrules = ["town", "prowag-2023"]\n'
HEAD = 'title = "Town code"\nedition = "2nd"\ndate = 2024-03-01\nverified = false\n'
WALK = '[walk]\ncross_slope = { limit = "2 %", clause = "4.2" }\n'


def folder(tmp_path, town, job=JOB + USED):
    (tmp_path / "job").mkdir()
    (tmp_path / "town.toml").write_text(town, encoding="utf-8")
    (tmp_path / "job" / "job.toml").write_text(job, encoding="utf-8")
    return tmp_path / "job" / "job.toml"


def test_its_limits_hold_under_its_own_name_beside_the_others(tmp_path):
    loaded = load(folder(tmp_path, HEAD + WALK))
    table = limits_table(loaded.job, FOOT)
    rows = table[table["check"] == "cross-slope"].set_index("ruleset")
    assert rows.index.tolist() == ["town", "prowag-2023"]
    assert rows.loc["town", "upper"] == 0.02
    assert rows.loc["town", "reference"] == "numeric limit of rule set Town code, 2nd, 2024-03-01, 4.2"
    assert not rows.loc["town", "verified"]
    assert limits_table(loaded.changed(decision={"rule": "simple"}).job, FOOT)["ruleset"].tolist() == list(
        table["ruleset"]
    )
    assert "../town.toml" in loaded.changed(decision={"rule": "simple"}).text


def test_it_is_a_source_with_its_hash_and_never_written_over(tmp_path):
    loaded = load(folder(tmp_path, 'name = "bylaw"\n' + HEAD + WALK, JOB + USED.replace("town", "bylaw")))
    (row,) = sources_table([], loaded.job.own_rules.values()).to_dict("records")
    raw = (tmp_path / "town.toml").read_bytes()
    assert (row["source"], row["role"], row["path"]) == ("bylaw", "rules", "../town.toml")
    assert row["sha256"] == hashlib.sha256(raw).hexdigest()
    assert row["version"]  # text of that column is never missing, and an empty cell of a workbook is
    assert (tmp_path / "town.toml").resolve() in job_files(loaded).paths


def test_what_is_in_force_is_said_and_loudly_where_it_is_not_verified(tmp_path):
    (told, rules), (other, _) = [(rules.in_force(kinds), rules) for rules, kinds in
                                 load(folder(tmp_path, HEAD + WALK)).job.rules_in_force()][::-1]  # fmt: skip
    assert told.startswith("rule set town holds for walk: Town code, 2nd, 2024-03-01; ../town.toml. NOT VERIFIED")
    assert "NOT VERIFIED" in other
    assert rules.file == "../town.toml"


@pytest.mark.parametrize(
    ("town", "said"),
    [
        (HEAD + '[walk]\ncross_slop = { limit = "2 %", clause = "4" }\n',
         r"town.toml, line 6, \[walk\], cross_slop: no check reads that under this kind; did you mean cross_slope\? "),
        (HEAD + '[walk]\ncross_slope = { limit = "2 ft", clause = "4" }\n', r"line 6, \[walk\], cross_slope: limit "),
        (HEAD + '[walk]\ncross_slope = "2 %"\n', r"line 6, \[walk\], cross_slope: takes \{ limit = …, clause"),
        (HEAD + '[walk]\ncross_slope = { limit = "2 %", clause = "" }\n', "clause must be text"),
        (HEAD + '[control]\ncross_slope = { limit = "2 %", clause = "4" }\n', "no check reads that under this kind"),
        (HEAD + "wide = 3\n" + WALK, "line 5, wide: not an option here; allowed: title, edition, date, verified"),
        (WALK, "town.toml has 4 problems: .*title: missing"),
        (HEAD.replace("2024-03-01", '"2024"') + WALK, "line 3, date: must be a date"),
        (HEAD.replace("false", '"no"') + WALK, "line 4, verified: must be true or false"),
        (HEAD, "limits nothing"),
        (HEAD + "[walk]\n", r"line 5, walk: limits nothing; allowed: .*cross_slope"),
        ('name = "ada-2010"\n' + HEAD + WALK, "line 1, name: 'ada-2010' is taken"),
        ('name = "a; b"\n' + HEAD + WALK, "must be a word of letters"),
        ("title = \n", "is not valid TOML"),
    ],
)  # fmt: skip
def test_what_is_wrong_in_it_is_said_with_file_line_and_place(tmp_path, town, said):
    with pytest.raises(JobError, match=said) as refused:
        load(folder(tmp_path, town))
    assert str(refused.value).startswith("job.toml has 1 problem:\n  [[rules]] 1 (../town.toml)")


def test_one_that_nothing_uses_or_that_is_not_there_is_refused(tmp_path):
    job = folder(tmp_path, HEAD + WALK, JOB)
    with pytest.raises(JobError, match=r'no tolerance takes its limits; it limits walk: write rules = "town" in \['):
        load(job)
    job.write_text(JOB + '[tolerance.curb-top]\nrules = "town"\n', encoding="utf-8")
    with pytest.raises(JobError, match="names the rule set 'town', which limits walk only"):
        load(job)
    job.write_text(JOB + '[tolerance.walk]\nrules = "village"\n', encoding="utf-8")
    with pytest.raises(JobError, match=r"no rule set 'village'; use one of .*, or of the job's \[\[rules\]\]: town"):
        load(job)
    job.write_text(JOB + '[[rules]]\nfile = "../town.toml"\n' + USED, encoding="utf-8")
    with pytest.raises(JobError, match="two files state a rule set of the same name"):
        load(job)
    (tmp_path / "town.toml").unlink()
    with pytest.raises(JobError, match=r"\.\./town.toml: there is no such file"):
        load(job)


@pytest.mark.parametrize("name", rule_sets())
def test_those_that_come_with_geoqa_are_rule_files_as_well(tmp_path, name):
    from importlib.resources import files

    text = (files("geoqa") / "presets" / "rules" / f"{name}.toml").read_text(encoding="utf-8")
    (tmp_path / "own.toml").write_text(text, encoding="utf-8")
    rules = rule_file(tmp_path / "own.toml", shown="own.toml")
    assert (rules.name, rules.verified) == ("own", False)
