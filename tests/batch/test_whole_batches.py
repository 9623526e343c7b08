"""Small jobs run whole: alone and in batches, with workers and schedulers that are lost, and again."""

import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pandas as pd
import pytest

from bench.extent import extent
from bench.small_jobs import JOB, write_jobs
from geoqa.batch.cluster import Engine, _client
from geoqa.batch.one import judge_one
from geoqa.batch.part import kept_part
from geoqa.batch.run import run_batch
from geoqa.job.run import run

pytest.importorskip("distributed", reason="the extra batch is not installed")
pytestmark = [pytest.mark.long, pytest.mark.timeout(900)]
HERE = Path(__file__).parents[1]


def in_this_process(jobs):
    """Engine without any other process."""
    for job, part in jobs:
        yield job, judge_one(str(job.path), part)


def content(folder):
    """Every file below a folder by its bytes."""
    return {each.relative_to(folder).as_posix(): each.read_bytes() for each in folder.rglob("*") if each.is_file()}


@pytest.fixture(scope="module")
def alone(tmp_path_factory):
    """Three small jobs, each run by itself."""
    folder = tmp_path_factory.mktemp("alone") / "jobs"
    for job in write_jobs(folder, jobs=3):
        run(job)
    return folder


@pytest.fixture
def three(alone, tmp_path):
    """The same jobs, not run."""
    shutil.copytree(alone, tmp_path / "jobs", ignore=shutil.ignore_patterns("out"))
    return tmp_path / "jobs"


def same_as_alone(alone, jobs, names=("part01", "part02", "part03")):
    return all(content(jobs / name / "out") == content(alone / name / "out") for name in names)


def test_a_batch_writes_what_single_runs_write_and_again_runs_only_what_changed(alone, three, tmp_path):
    shutil.copy(three / "part01" / JOB, three / "part03" / "gone.toml")
    text = (three / "part03" / "gone.toml").read_text(encoding="utf-8")
    text = text.replace('"control.csv"', '"nowhere.csv"').replace("[outputs]", '[outputs]\nfolder = "gone"')
    (three / "part03" / "gone.toml").write_text(text, encoding="utf-8")
    made = run_batch([three], tmp_path / "batch", engine=Engine(workers=2), crews=True)
    rows = made.season.jobs.set_index("job")
    assert rows["state"].to_dict() == {
        "jobs/part01/job.toml": "judged", "jobs/part02/job.toml": "judged", "jobs/part03/gone.toml": "refused",
        "jobs/part03/job.toml": "judged",
    }  # fmt: skip
    assert "nowhere.csv" in rows.loc["jobs/part03/gone.toml", "trouble"]
    assert rows.loc["jobs/part03/gone.toml", "kind_of_trouble"] == "SourceError"
    assert same_as_alone(alone, three)
    assert set(made.season.achieved["name"][made.season.achieved["by"] == "crew"]) == {"crew 1", "crew 2", "crew 3"}
    first = content(tmp_path / "batch")
    assert not any(b"crew 1" in text for name, text in first.items() if name.startswith("parts/"))
    shots = [name for name in first if name.endswith("geoparquet/shots.parquet")]
    assert len(shots) == 3

    (three / "part03" / "gone.toml").unlink()
    ran = []

    def watched(jobs):
        ran.extend(job.label for job, _ in jobs)
        return in_this_process(jobs)

    again = run_batch([three], tmp_path / "batch", engine=watched)
    assert ran == []
    assert set(again.season.jobs["state"]) == {"kept"}
    (three / "part02" / "session1.csv").write_text(
        (three / "part02" / "session1.csv").read_text(encoding="utf-8").replace("Z,A", "Z,C"), encoding="utf-8"
    )
    (three / "part01" / "out" / "findings.csv").unlink()
    [torn] = [each for each in (tmp_path / "batch" / "parts").iterdir() if "part03" in each.name]
    (torn / "checks.parquet").write_bytes(b"torn")
    run_batch([three], tmp_path / "batch", engine=watched)
    assert ran == ["jobs/part01/job.toml", "jobs/part02/job.toml", "jobs/part03/job.toml"]
    assert same_as_alone(alone, three, ("part01", "part03"))
    left = content(tmp_path / "batch")
    part = next(name for name in left if "part01" in name and name.endswith("part.json"))
    assert left[part] == first[part]
    assert not [name for name in left if "unfinished" in name]


def test_a_new_decision_or_package_makes_a_part_old(three, tmp_path):
    job, place = three / "part01" / JOB, tmp_path / "part"
    assert judge_one(str(job), str(place))["again"]
    assert kept_part(place, job) is not None
    assert judge_one(str(job), str(place)) == {"trouble": "", "kind": "", "again": False}
    facts = json.loads((place / "part.json").read_text(encoding="utf-8"))
    (place / "part.json").write_text(json.dumps({**facts, "versions": {**facts["versions"], "numpy": "0"}}), "utf-8")
    assert kept_part(place, job) is None
    (place / "part.json").write_text(json.dumps(facts), "utf-8")
    assert kept_part(place, job) is not None
    (job.parent / "job.decisions.json").write_text("{}", encoding="utf-8")
    assert kept_part(place, job) is None


def test_a_full_disk_leaves_the_part_as_it_was(three, tmp_path, monkeypatch):
    from geoqa.batch import part

    def full(*_):
        raise OSError(28, "No space left on device")

    job, place = three / "part01" / JOB, tmp_path / "parts" / "part"
    monkeypatch.setattr(part, "_exchange", full)
    told = judge_one(str(job), str(place))
    assert told["kind"] == "OutputError"
    assert "the disk is full" in told["trouble"]
    assert list((tmp_path / "parts").iterdir()) == []


def killing(folder, times, killed):
    """End, `times` over, the process that writes into an output folder: its folder of unfinished files tells it."""
    until, seen = time.monotonic() + 600, set()
    while len(killed) < times and time.monotonic() < until:
        for begun in folder.glob(".geoqa-unfinished-*"):
            process = int(begun.name.split("-")[3])
            if process not in seen:
                seen.add(process)
                os.kill(process, signal.SIGKILL)
                killed.append(process)
        time.sleep(0.002)


@pytest.mark.skipif(sys.platform == "win32", reason="processes are ended as POSIX does")
@pytest.mark.parametrize("times", extent([1, 2], of_a_change=[2]))
def test_a_worker_that_is_killed_in_the_middle_costs_nothing_or_the_name_of_its_job(alone, three, tmp_path, times):
    killed = []
    (three / "part02" / "out").mkdir()
    watch = threading.Thread(target=killing, args=(three / "part02" / "out", times, killed), daemon=True)
    watch.start()
    rows = run_batch([three], tmp_path / "batch", engine=Engine(workers=2)).season.jobs.set_index("job")
    watch.join(10)
    assert len(killed) == times
    assert rows.loc[["jobs/part01/job.toml", "jobs/part03/job.toml"], "state"].tolist() == ["judged", "judged"]
    if times == 1:
        assert rows.loc["jobs/part02/job.toml", "state"] == "judged"
    else:
        assert rows.loc["jobs/part02/job.toml", "state"] == "refused"
        assert "its worker was lost 2 times" in rows.loc["jobs/part02/job.toml", "trouble"]
        rows = run_batch([three], tmp_path / "batch", engine=in_this_process).season.jobs
        assert rows["state"].tolist() == ["kept", "judged", "kept"]
    assert same_as_alone(alone, three)
    assert len(list((tmp_path / "batch" / "parts").iterdir())) == 3


def test_a_scheduler_that_is_lost_costs_what_was_not_done_and_no_more(alone, three, tmp_path):
    address, scheduler = tmp_path / "scheduler.json", [sys.executable, "-m", "distributed.cli.dask_scheduler"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    options = ["--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", str(address)]
    environment = {**os.environ, "PYTHONPATH": str(HERE)}
    one = subprocess.Popen([*scheduler, *options], **quiet, env=environment)
    worker = None
    try:
        until = time.monotonic() + 120
        while not address.exists() and time.monotonic() < until:
            time.sleep(0.1)
        time.sleep(0.5)
        where = json.loads(address.read_text(encoding="utf-8"))["address"]
        worker = subprocess.Popen(
            [sys.executable, "-m", "distributed.cli.dask_worker", where, "--nthreads", "1", "--no-dashboard",
             "--host", "127.0.0.1", "--local-directory", str(tmp_path), "--death-timeout", "20"],
            **quiet, env=environment,
        )  # fmt: skip

        def lose(row, done, of):
            if done == 1:
                one.kill()

        rows = run_batch([three], tmp_path / "batch", engine=Engine(scheduler=where), told=lose).season.jobs
    finally:
        for each in (one, worker):
            if each is not None:
                each.kill()
                each.wait()
    lost = rows[rows["state"] == "refused"]
    assert len(lost) >= 1
    assert lost["trouble"].str.contains("the scheduler was lost").all()
    assert rows["state"].iloc[0] == "judged"
    again = run_batch([three], tmp_path / "batch", engine=in_this_process).season.jobs
    assert set(again["state"]) <= {"judged", "kept"}
    assert same_as_alone(alone, three)


def test_a_scheduler_that_is_not_there_is_said_at_once(three, tmp_path):
    from geoqa.errors import OutputError

    with pytest.raises(OutputError, match=r"tcp://127\.0\.0\.1:9 cannot be reached"):
        run_batch([three], tmp_path / "batch", engine=Engine(scheduler="tcp://127.0.0.1:9"))


def test_processes_of_this_machine_listen_to_nobody_beyond_it():
    psutil = pytest.importorskip("psutil")
    with _client(1, "", 2):
        mine = psutil.Process()
        ends = [
            end.laddr.ip
            for process in (mine, *mine.children(recursive=True))
            for end in process.net_connections()
            if end.status == psutil.CONN_LISTEN
        ]
    assert set(ends) == {"127.0.0.1"}


def test_twelve_jobs_tell_the_mark_that_moved_and_the_rod_that_is_too_long(tmp_path):
    write_jobs(tmp_path / "jobs", moved=(2, 6, 0.05), rods={"R2": 0.03})
    season = run_batch([tmp_path / "jobs"], tmp_path / "batch", engine=in_this_process).season
    moved = season.marks[season.marks["state"] == "moved"]
    assert moved[["mark", "axis"]].to_numpy().tolist() == [["CP-3", "elevation"]]
    assert moved["size"].iloc[0] == pytest.approx(-0.05, abs=0.01)
    assert moved["after"].iloc[0] < pd.Timestamp("2026-04-26", tz="UTC") < moved["before"].iloc[0]
    off = season.receivers[season.receivers["state"] == "off"]
    assert off[["receiver", "axis"]].to_numpy().tolist() == [["R2", "elevation"]]
    assert off["low"].iloc[0] < 0.03 < off["high"].iloc[0]
    assert set(season.shares["owner"]) == {"Town of Larkmere", "Larkmere Water District"}
