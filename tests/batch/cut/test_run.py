"""One job in parts: the findings of a single run, whatever the cut and the number of workers, and whatever is lost."""

import os
import shutil
import signal
import sys
import threading
import time
from contextlib import contextmanager

import numpy as np
import pandas as pd
import pytest

from bench.extent import extent
from bench.streets import write_streets
from geoqa.batch.cluster import Engine
from geoqa.batch.cut import kept, work
from geoqa.batch.cut.run import presets, run_in_parts
from geoqa.errors import JobError, OutputError
from geoqa.job.discreet import discreet
from geoqa.job.execute import execute
from geoqa.job.inputs.intake import take_in
from geoqa.job.inputs.named_files import job_files
from geoqa.job.inputs.unframed import load_framed
from geoqa.job.plan import default_steps

pytest.importorskip("distributed", reason="the extra batch is not installed")
pytestmark = [pytest.mark.long, pytest.mark.timeout(1800)]
STREETS = extent(12, of_a_change=3)


class Here:
    """Engine without any other process."""

    def processes(self):
        return 1

    def memory(self):
        return 1e10

    @contextmanager
    def opened(self, most):
        yield lambda calls: ((key, of(*given)) for key, of, given in calls)


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch:
        return write_streets(tmp_path_factory.mktemp("streets") / "job", STREETS, monkeypatch=patch)


@pytest.fixture(scope="module")
def alone(job):
    """Tables of a single run."""
    loaded = load_framed(job)
    return dict(discreet(execute(take_in(loaded).layers, default_steps(loaded.job.steps))))


def tables_of(folder):
    """Every table of a job in parts, put together."""
    places = [*sorted(folder.glob("part-*")), folder / "whole"]
    made = {}
    for name in {each.stem for place in places for each in place.glob("*.parquet")}:
        files = [place / f"{name}.parquet" for place in places if (place / f"{name}.parquet").is_file()]
        tables = [pd.read_parquet(each) for each in files]
        made[name] = pd.concat([each for each in tables if len(each)] or tables[:1], ignore_index=True)
    return made


def rows_of(table):
    """Rows as texts of every digit, in an order of their own; shapes are told by the columns they are made of."""
    bare = pd.DataFrame(table.drop(columns=["geometry", "bbox"], errors="ignore"))

    def text(value):
        if isinstance(value, np.ndarray | list):
            return repr([str(each) for each in value])
        missing = value is None or value is pd.NA or value is pd.NaT or value != value
        return "" if missing else repr(value.item() if isinstance(value, np.generic) else value)

    return list(bare.columns), sorted(zip(*(bare[name].astype(object).map(text) for name in bare), strict=True))


def same(alone, folder):
    """Names of the tables that are not those of a single run; findings and evidence row by row, the rest as sets."""
    found = tables_of(folder)
    assert {"findings", "evidence", "flags", "shots", "notes", "items", "causes", "gaps", "runs"} <= set(found)
    return [name for name, table in sorted(found.items()) if rows_of(table) != rows_of(alone[name])]


def test_the_faults_are_there(alone):
    findings, flags = alone["findings"], set(alone["flags"]["flag"])
    assert {"OUT", "IN", "UNDECIDED"} <= set(findings["verdict"])
    assert {"survey-blunder"} <= set(alone["notes"]["note"])
    assert {"duplicate-name", "unknown-code", "row-twice"} <= flags
    assert (findings["check"] == "unknown-code").any()
    assert len(alone["runs"])


@pytest.mark.parametrize(("workers", "most"), extent([(1, 1), (2, 1700), (3, 1)], of_a_change=[(2, 1700)]))
def test_every_table_is_that_of_a_single_run(job, alone, tmp_path, workers, most):
    made = run_in_parts(job, tmp_path / "parts", most=most, engine=Engine(workers=workers))
    assert len(made.parts) > 1
    assert sum(made.shots) == len(alone["shots"])
    assert made.counts == alone["findings"]["verdict"].value_counts().to_dict()
    assert same(alone, tmp_path / "parts") == []


def test_tables_that_lie_in_files_are_those_of_a_single_run(job, alone, tmp_path, monkeypatch):
    monkeypatch.setattr("geoqa.batch.cut.gathered.SPOOLED", 1)
    monkeypatch.setattr("geoqa.batch.cut.kept.BATCH", 500)
    run_in_parts(job, tmp_path / "parts", most=1, engine=Here())
    assert same(alone, tmp_path / "parts") == []
    assert not list((tmp_path / "parts").rglob(".geoqa-unfinished-*"))


def test_a_job_that_memory_does_not_hold_is_refused_with_the_arithmetic(job, tmp_path, monkeypatch):
    monkeypatch.setattr(Here, "memory", lambda self: 1e9 / 2)
    heard = []
    with pytest.raises(JobError, match=r"that takes about 1 GB: .* bytes a shot\), .* GB in 1 worker.*and there are 0"):
        run_in_parts(job, tmp_path / "parts", engine=Here(), said=heard.append)
    assert len(heard) == 1
    run_in_parts(job, tmp_path / "parts", engine=Here(), at_once=10**6)


def test_a_worker_opens_the_job_once_whatever_the_number_of_its_files(job, tmp_path, monkeypatch):
    opened = []
    monkeypatch.setattr(work, "load_framed", lambda path: opened.append(path) or load_framed(path))
    sources = [each.source for each in job_files(load_framed(job)).tables if each.role == "shots"]
    for each in sources:
        work.look(str(job), str(tmp_path), each, 50.0)
    assert len(sources) > 2
    assert opened == [str(job)]


def test_again_nothing_is_judged_twice_and_a_part_that_cannot_be_read_is_named(job, alone, tmp_path):
    folder = tmp_path / "parts"
    run_in_parts(job, folder, most=1, engine=Here())
    [work] = folder.glob("work-*")
    before = {each: each.stat().st_mtime_ns for each in work.rglob("*.arrow")}
    run_in_parts(job, folder, most=1, engine=Here())
    assert {each: each.stat().st_mtime_ns for each in work.rglob("*.arrow")} == before
    [torn] = work.glob("part-0002/*-offsets")
    for each in torn.glob("*.arrow"):
        each.write_bytes(b"torn")
    with pytest.raises(OutputError, match=r"(?s)part-0002/\d+-offsets cannot be read.*run the same command again"):
        run_in_parts(job, folder, most=1, engine=Here())
    run_in_parts(job, folder, most=1, engine=Here())
    assert same(alone, folder) == []


def test_a_full_disk_names_the_part_and_costs_nothing(job, alone, tmp_path, monkeypatch):
    folder, write = tmp_path / "parts", kept.write_tables

    def full(tables, place):
        if place.parent.name == "part-0003" and place.name.endswith("-elevations"):
            raise OSError(28, "No space left on device")
        write(tables, place)

    monkeypatch.setattr("geoqa.batch.cut.work.write_tables", full)
    with pytest.raises(OutputError, match=r"^part-0003 \(week.*the disk is full"):
        run_in_parts(job, folder, most=1, engine=Here())
    assert not (folder / "summary.json").exists()
    monkeypatch.undo()
    run_in_parts(job, folder, most=1, engine=Here())
    assert same(alone, folder) == []


@pytest.mark.skipif(sys.platform == "win32", reason="processes are ended as POSIX does")
def test_a_worker_that_is_killed_in_the_middle_costs_nothing(job, alone, tmp_path):
    killed, folder = [], tmp_path / "parts"

    def killing():
        until = time.monotonic() + 900
        while not killed and time.monotonic() < until:
            for begun in folder.glob("work-*/part-0002/.geoqa-unfinished-*"):
                process = int(begun.name.split("-")[3])
                if process != os.getpid():
                    os.kill(process, signal.SIGKILL)
                    killed.append(process)
                    break
            time.sleep(0.001)

    watch = threading.Thread(target=killing, daemon=True)
    watch.start()
    run_in_parts(job, folder, most=1, engine=Engine(workers=2))
    watch.join(10)
    assert len(killed) == 1
    assert same(alone, folder) == []
    assert not list(folder.rglob(".geoqa-unfinished-*"))


def test_a_job_that_is_too_large_for_steps_of_the_whole_is_refused_with_their_names(job, tmp_path):
    with pytest.raises(
        JobError, match=r"steps look at all of them at once \(.*diagnosis.*runs.*\); that is done up to 5"
    ):
        run_in_parts(job, tmp_path / "parts", at_once=5, engine=Here())


def test_changed_inputs_are_judged_anew(job, tmp_path):
    moved = tmp_path / "job"
    shutil.copytree(job.parent, moved, ignore=shutil.ignore_patterns("parts"))
    run_in_parts(moved / job.name, tmp_path / "parts", most=1, engine=Here())
    [before] = (tmp_path / "parts").glob("work-*")
    path = moved / "shots" / "week01.csv"
    *rows, _ = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    run_in_parts(moved / job.name, tmp_path / "parts", most=1, engine=Here())
    [after] = (tmp_path / "parts").glob("work-*")
    assert after != before


def test_every_step_that_runs_in_parts_is_one_of_the_default_ones():
    names, reach = presets()
    assert names <= {step.name for step in default_steps()}
    assert reach == 60.0
