"""Which files are jobs, what they are called, and which of them would write over each other."""

import sys

import pytest

from geoqa.batch.found import find_jobs, key_of
from geoqa.errors import JobError

JOB = '[job]\nname = "A"\n'


def job(place, text=JOB):
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(text, encoding="utf-8")
    return place


def test_every_job_below_a_folder_is_found_once_and_called_from_where_the_batch_stands(tmp_path):
    north = job(tmp_path / "jobs" / "north" / "job.toml")
    job(tmp_path / "jobs" / "south" / "job.toml")
    job(tmp_path / "jobs" / "rules.toml", "[rules]\n")
    job(tmp_path / "jobs" / ".hidden" / "job.toml")
    job(tmp_path / "season" / "parts" / "x.toml")
    found = find_jobs([tmp_path / "jobs", north, tmp_path], tmp_path / "season")
    assert [each.label for each in found.jobs] == ["jobs/north/job.toml", "jobs/south/job.toml"]
    assert found.others == ("jobs/rules.toml",)
    assert len({each.key for each in found.jobs}) == 2
    assert not any(each.refused for each in found.jobs)


def test_a_file_that_cannot_be_read_as_toml_is_a_job_and_told_when_it_is_run(tmp_path):
    job(tmp_path / "jobs" / "broken.toml", "[job\n")
    assert [each.label for each in find_jobs([tmp_path / "jobs"], tmp_path / "b").jobs] == ["jobs/broken.toml"]


def test_two_jobs_that_write_into_one_folder_are_never_both_run(tmp_path):
    job(tmp_path / "jobs" / "a.toml")
    job(tmp_path / "jobs" / "b.toml")
    job(tmp_path / "jobs" / "c.toml", JOB + '[outputs]\nfolder = "c"\n')
    first, second, third = find_jobs([tmp_path / "jobs"], tmp_path / "batch").jobs
    assert (first.refused, third.refused) == ("", "")
    assert "writes into the same folder as jobs/a.toml" in second.refused


def test_nothing_to_run_is_refused_with_what_was_looked_at(tmp_path):
    job(tmp_path / "jobs" / "rules.toml", "[rules]\n")
    with pytest.raises(JobError, match=r"No job file was found \(jobs/rules\.toml: no table \[job\]\)"):
        find_jobs([tmp_path / "jobs"], tmp_path / "batch")
    with pytest.raises(JobError, match="no job file or folder nowhere"):
        find_jobs([tmp_path / "nowhere"], tmp_path / "batch")


def test_names_of_folders_are_harmless_and_different():
    hostile = key_of("../../etc/=cmd|' /C calc'!A0 \u202e/job.toml")
    assert hostile.replace("-", "").replace("_", "").isalnum()
    assert key_of("a b.toml") != key_of("a-b.toml")
    assert len(key_of("x" * 4000)) < 80


@pytest.mark.skipif(sys.platform != "linux", reason="names are bytes only there")
def test_a_folder_whose_name_is_no_text_has_a_label_that_can_be_written_down(tmp_path):
    job(tmp_path / "jobs" / "sub\udce4" / "job.toml")
    (found,) = find_jobs([tmp_path / "jobs"], tmp_path / "batch").jobs
    assert found.label == "jobs/sub\\udce4/job.toml"
