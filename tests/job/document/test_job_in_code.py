"""A job made or changed in code: the same text, the same checks, the same results as its file."""

import shutil
import tomllib
from pathlib import Path

import pandas as pd
import pytest

import geoqa
from geoqa.errors import JobError, SourceError
from geoqa.job.document.load import load, parse
from geoqa.job.document.toml_text import toml_text

SAMPLES = sorted((Path(__file__).resolve().parents[3] / "sample_jobs").glob("*/*.toml"))
LOG = pd.DataFrame({"shot": ["1"], "easting": [2228000.0], "northing": [444000.0], "code": ["WKF"]})
FULL = """
[job]
name = "A \\"B\\" C"
date = 2026-05-15
[review]
by = "N. N."
on = 2026-05-20
[frame]
horizontal = "EPSG:6547"
combined_factor = 0.9999
ground_origin = [2228000.0, 444000.0]
ground_reference = "C-001"
[[shots]]
file = "day 1.csv"
id = "one"
columns = { easting = "E", northing = "N" }
null_elevation = ["", -9999.0]
[[shots]]
file = "day2.log"
use = "shots.csv"
skip = 2
[control]
file = "control.csv"
accuracy = "0.05 m"
[[design]]
file = "design.gpkg"
layers = { "walk lines" = "walk-front", "*" = "" }
[tolerance.rim]
horizontal = "0.2 ft"
vertical = { low = "1/4 in", high = "15 mm" }
reference = "C-101"
[tolerance.walk-front]
vertical = { high = "0.1 ft" }
spacing = "30 ft"
reference = "C-101"
verified = true
[uncertainty.default]
horizontal_random = "0.02 ft"
reference = "repeats"
[tilt]
heading_deg = 1.5
angle_deg = 0.5
up_to_deg = 30
reference = "tilt test"
[decision]
rule = "guard 0.5"
[[steps]]
use = "runs"
off = true
[[steps]]
use = "kinds"
likeness = 0.7
[outputs]
layers = ["gpkg", "csv"]
pages = []
"""


@pytest.mark.parametrize("file", SAMPLES, ids=lambda file: file.stem)
def test_a_sample_job_written_again_is_the_same_job(file):
    job = load(file).job
    again = parse(job.to_toml())
    assert again == job
    assert again.to_toml() == job.to_toml()


def test_all_that_may_be_said_is_said_again():
    job = parse(FULL)
    assert tomllib.loads(job.to_toml()) == tomllib.loads(FULL)
    assert parse(job.to_toml()) == job


def test_texts_with_anything_in_them_come_back():
    tables = {"a b": {"ä": 'say "no"\n\\', "x.y": {"z": [1, 2.5, True]}, "none": None}, "list": [{"k": "\x7f\t"}]}
    assert tomllib.loads(toml_text(tables)) == {
        "a b": {"ä": 'say "no"\n\\', "x.y": {"z": [1, 2.5, True]}},
        "list": [{"k": "\x7f\t"}],
    }


@pytest.mark.long
def test_a_job_made_in_code_runs_over_tables():
    job = geoqa.Job(job={"name": "A"}, frame={"horizontal": "EPSG:6547"}, shots=[LOG])
    results = geoqa.run(job, write=False)
    assert results.shots["shot_key"].tolist() == ["shots/1"]
    assert results.record["job"]["text"] == job.to_toml()
    assert results.record["inputs"][0]["reader"] == "table.shots"


def test_the_text_of_tables_cannot_stand_for_them():
    job = geoqa.Job(job={"name": "A"}, frame={"horizontal": "EPSG:6547"}, shots=[LOG])
    with pytest.raises(JobError, match=r"table\.shots\), held, line \d+: missing"):
        parse(job.to_toml())


def test_two_tables_of_one_name_are_refused():
    with pytest.raises(ValueError, match="two \\[\\[shots\\]\\] tables are called shots"):
        geoqa.Job(job={"name": "A"}, frame={"horizontal": "EPSG:6547"}, shots=[LOG, LOG])


@pytest.fixture
def sample(tmp_path):
    shutil.copytree(SAMPLES[0].parents[1] / "tilt_test", tmp_path / "tilt_test")
    return load(tmp_path / "tilt_test" / "tilt_test.toml")


@pytest.mark.long
def test_a_job_changed_in_code_is_the_file_with_that_change(sample):
    other = sample.changed(tolerance={"control": {"horizontal": "0.01 ft"}}, outputs={"folder": "other"})
    by_hand = sample.path.with_name("by_hand.toml")
    by_hand.write_text(other.text, encoding="utf-8")
    one, two, before = (geoqa.run(job, write=False) for job in (other, by_hand, sample))
    pd.testing.assert_frame_equal(pd.DataFrame(one.findings), pd.DataFrame(two.findings))
    assert (one.summary["reported"], one.record["job"]["file"]) != (
        before.summary["reported"],
        before.record["job"]["file"],
    )
    assert one.record["job"]["file"] == "tilt_test.toml, changed in code"
    assert other.job.tolerance["control"].vertical == sample.job.tolerance["control"].vertical


def test_inputs_are_replaced_and_taken_out(sample):
    assert sample.changed(control=None).job.control is None
    shots = sample.changed(shots=[LOG]).job.shots
    assert [each.source for each in shots] == ["shots"]
    with pytest.raises(SourceError, match=r"nope\.csv: there is no such file"):
        geoqa.run(sample.changed(shots=[{"file": "nope.csv"}]), write=False)


def test_a_change_is_checked_like_a_file(sample):
    with pytest.raises(JobError, match=r"tilt_test\.toml, changed in code, has 1 problem:\n.*0.1 has no unit"):
        sample.changed(tolerance={"control": {"horizontal": 0.1}})
