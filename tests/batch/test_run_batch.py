"""A batch without its engine: what became of each job, what is kept, and how the command ends."""

import builtins
import errno
import json
import sys

import pytest
from click.testing import CliRunner

from batch.seasons import season_of
from geoqa.batch import cluster, one
from geoqa.batch import run as batch_run
from geoqa.batch.cluster import Engine
from geoqa.batch.part import FACTS, _exchange
from geoqa.batch.run import run_batch
from geoqa.cli import main
from geoqa.errors import JobError, SourceError

GOOD = {"trouble": "", "kind": "", "again": True}


@pytest.fixture
def three(tmp_path, monkeypatch):
    """Three job files, and an engine that keeps hand-made parts of them."""
    for nth in range(3):
        (tmp_path / "jobs" / f"j{nth}").mkdir(parents=True)
        (tmp_path / "jobs" / f"j{nth}" / "job.toml").write_text(f'[job]\nname = "{nth}"\n', encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    made, ran = season_of(1, jobs=3), []

    def engine(jobs):
        for nth, (job, part) in enumerate(jobs):
            ran.append(job.label)
            keep(tmp_path / "batch" / "parts" / job.key, made[nth])
            assert part.endswith(job.key)
            yield job, GOOD

    engine.ran = ran
    return engine


def keep(place, made):
    place.mkdir(parents=True, exist_ok=True)
    (place / FACTS).write_text(json.dumps({"told": made[1]}), encoding="utf-8")
    made[2].to_parquet(place / "checks.parquet")


def test_every_job_is_a_row_and_the_files_stand_in_the_folder(three, tmp_path):
    said = []
    made = run_batch([tmp_path / "jobs"], tmp_path / "batch", engine=three, told=lambda *told: said.append(told[1:]))
    assert made.season.jobs["job"].tolist() == [f"jobs/j{nth}/job.toml" for nth in range(3)]
    assert set(made.season.jobs["state"]) == {"judged"}
    assert said == [(1, 3), (2, 3), (3, 3)]
    assert made.files[-1].name == "season.html"
    assert all(each.is_file() for each in made.files)


def test_a_refused_job_is_a_row_with_its_sentence_and_the_others_go_on(three, tmp_path):
    def engine(jobs):
        for (job, _), (_, told) in zip(jobs, list(three(jobs)), strict=True):
            trouble = {"trouble": "there is no file shots.csv", "kind": "SourceError", "again": True}
            yield job, trouble if "j1" in job.label else told

    made = run_batch([tmp_path / "jobs"], tmp_path / "batch", engine=engine)
    rows = made.season.jobs.set_index("job")
    assert rows["state"].tolist() == ["judged", "refused", "judged"]
    assert rows.loc["jobs/j1/job.toml", "trouble"] == "there is no file shots.csv"
    assert "there is no file shots.csv" in made.files[-1].read_text(encoding="utf-8")
    assert (made.season.achieved["jobs"].iloc[0]) == 2


def test_a_part_that_cannot_be_read_is_refused_by_the_name_of_its_job(three, tmp_path):
    def engine(jobs):
        for job, told in three(jobs):
            if "j2" in job.label:
                (tmp_path / "batch" / "parts" / job.key / "checks.parquet").write_bytes(b"PAR1 torn")
            yield job, told

    rows = run_batch([tmp_path / "jobs"], tmp_path / "batch", engine=engine).season.jobs.set_index("job")
    assert rows.loc["jobs/j2/job.toml", "state"] == "refused"
    assert "checks.parquet cannot be read" in rows.loc["jobs/j2/job.toml", "trouble"]
    assert (rows["state"] == "judged").sum() == 2


def test_a_part_that_a_worker_wrote_elsewhere_is_missed(tmp_path, three):
    made = run_batch([tmp_path / "jobs"], tmp_path / "batch", engine=lambda jobs: ((job, GOOD) for job, _ in jobs))
    assert set(made.season.jobs["state"]) == {"refused"}
    assert "must see the same folders" in made.season.jobs["trouble"].iloc[0]


def ended(monkeypatch, engine, *words):
    monkeypatch.setattr(batch_run, "Engine", lambda: engine)
    monkeypatch.setattr(cluster, "Engine", lambda **_: engine)
    return CliRunner().invoke(main, ["batch", "jobs", *words])


def test_the_command_ends_with_the_highest_code_of_any_job(three, monkeypatch):
    said = ended(monkeypatch, three)
    assert said.exit_code == 1, said.output
    assert "1 of 3  jobs/j0/job.toml: 1 out, 2 undecided" in said.output
    assert "3 judged, 0 refused; open batch/season.html" in said.output.replace("\\", "/")
    assert ended(monkeypatch, three, "--exit-zero", "--quiet").exit_code == 0


@pytest.mark.parametrize(("kind", "code"), [("JobError", 2), ("SourceError", 3), ("OutputError", 3), ("Exception", 4)])
def test_a_refused_job_ends_the_command_as_it_ends_a_run(three, monkeypatch, kind, code):
    def engine(jobs):
        yield from (
            (job, told if nth else {"trouble": "no", "kind": kind, "again": True})
            for nth, (job, told) in enumerate(three(jobs))
        )

    said = ended(monkeypatch, engine, "--exit-zero")
    assert said.exit_code == code
    assert "refused: jobs/j0/job.toml: no" in said.output


def test_without_dask_it_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(JobError, match=r"Install it with: pip install 'geoqa-survey\[batch\]'"):
        next(iter(Engine()([("job", "part")])))


@pytest.mark.parametrize(
    ("error", "kind", "said"),
    [
        (SourceError("no file"), "SourceError", "no file"),
        (OSError(errno.ENOSPC, "No space left on device"), "OutputError", "the disk is full"),
        (MemoryError(), "OutputError", "not enough memory"),
        (KeyError("x"), "Exception", "KeyError"),
    ],
)
def test_what_stops_a_job_is_a_sentence(monkeypatch, tmp_path, error, kind, said):
    def fails(*_, **__):
        raise error

    monkeypatch.setattr(one, "load_framed", fails)
    told = one.judge_one(str(tmp_path / "job.toml"), str(tmp_path / "part"))
    assert told["kind"] == kind
    assert said in told["trouble"]


def test_a_folder_goes_into_its_place_though_another_worker_was_there_first(tmp_path):
    for name, text in (("old", "1"), ("new", "2")):
        (tmp_path / name).mkdir()
        (tmp_path / name / "file").write_text(text, encoding="utf-8")
    _exchange(tmp_path / "new", tmp_path / "old")
    assert (tmp_path / "old" / "file").read_text(encoding="utf-8") == "2"
    assert [each.name for each in tmp_path.iterdir()] == ["old"]


def test_dask_is_asked_for_only_when_jobs_are_run(three, tmp_path, monkeypatch):
    real = builtins.__import__

    def without(name, *rest, **more):
        assert name.split(".")[0] not in ("dask", "distributed")
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    assert run_batch([tmp_path / "jobs"], tmp_path / "batch", engine=three).files
