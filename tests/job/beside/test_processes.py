"""Files written side by side are the files that one process writes; what another cannot do, this one does."""

import os
import sys
import warnings
from typing import ClassVar

import pytest

from bench.small_jobs import write_jobs
from geoqa.errors import OutputError
from geoqa.job.beside import processes
from geoqa.job.beside.processes import PAYS, Beside, as_many_as_pay, processors
from geoqa.job.document.load import load
from geoqa.job.run import run
from geoqa.model.output import Output
from geoqa.write.summary import Summary
from geoqa.write.tables import Tables

pytestmark = pytest.mark.long


class Local(Output):
    """Not to be had by another process: its module is that of the test."""

    name: ClassVar[str] = "local"

    def write(self, results, folder):
        (folder / "local.txt").write_text(str(os.getpid()), encoding="utf-8")
        return ("local.txt",)


class Loud(Local):
    """Found by another process, for the path of this one goes along."""

    name: ClassVar[str] = "loud"

    def write(self, results, folder):
        warnings.warn("a library speaks", stacklevel=1)
        return ()


class Refused(Local):
    name: ClassVar[str] = "refused"

    def write(self, results, folder):
        raise OSError(28, "No space left on device")


def pid_of(called):
    """Which process calls it, and that it may warn."""
    warnings.warn(f"{called} speaks", stacklevel=1)
    return os.getpid()


def refuses(called):
    raise OutputError(f"{called} is refused")


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    (path,) = write_jobs(tmp_path_factory.mktemp("small"), jobs=1)
    return run(load(path), write=False)


def held(folder):
    return {each.name: each.read_bytes() for each in folder.iterdir()}


def test_three_processes_write_what_one_writes(results, tmp_path):
    made = []
    for count in (1, 3):
        folder = tmp_path / str(count)
        folder.mkdir()
        with Beside(count) as beside:
            names = beside.write([Tables(), Summary(), Tables(), Tables()], results, folder)
        assert names[0] == names[2] == names[3]
        assert "findings.csv" in names[0]
        assert names[1] == ("summary.json",)
        made.append(held(folder))
    assert made[0] == made[1]


def test_the_second_process_writes_and_its_warnings_are_told(results, tmp_path, monkeypatch):
    monkeypatch.setattr(processes._Work, "done_here", lambda self, progress: None)
    with Beside(2) as beside, pytest.warns(UserWarning, match="a library speaks"):
        made = beside.write([Loud(), Tables()], results, tmp_path)
    assert made[0] == ()
    assert (tmp_path / "findings.csv").is_file()


def test_what_another_process_cannot_have_is_written_here(results, tmp_path):
    unknown = type("Unknown", (Local,), {"__module__": "nowhere"})
    with Beside(2) as beside:
        made = beside.write([Summary(), unknown()], results, tmp_path)
    assert made == [("summary.json",), ("local.txt",)]
    assert (tmp_path / "local.txt").read_text(encoding="utf-8") == str(os.getpid())


def test_a_process_that_dies_costs_nothing(results, tmp_path):
    with Beside(3) as beside:
        for other in beside._others:
            other.kill()
        made = beside.write([Summary(), Tables()], results, tmp_path)
    assert made[0] == ("summary.json",)
    assert (tmp_path / "findings.csv").is_file()


def test_what_cannot_be_written_is_refused_as_by_one_process_and_no_other_goes_on(results, tmp_path):
    said = []
    for count in (1, 2):
        with Beside(count) as beside:
            others = list(beside._others)
            with pytest.raises(OutputError, match="No space left") as caught:
                beside.write([Summary(), Tables(), Refused()], results, tmp_path)
            assert all(other.returncode is not None for other in others)
        said.append(str(caught.value))
    assert said[0] == said[1]


def test_a_function_is_called_by_another_process_and_its_warnings_are_told():
    with Beside(2) as beside:
        (other,) = beside._others
        gives = beside.call(pid_of, "somebody")
        with pytest.warns(UserWarning, match="somebody speaks"):
            assert gives() == other.pid


def test_what_another_process_cannot_call_is_called_here():
    with Beside(2) as beside:
        (other,) = beside._others
        assert beside.call(lambda: os.getpid())() == os.getpid()  # it has no name to be found by
        with pytest.raises(OutputError, match="nobody is refused"):
            beside.call(refuses, "nobody")()
        waiting = beside.call(pid_of, "one")
        other.kill()
        other.wait()
        with pytest.warns(UserWarning, match="one speaks"):
            assert waiting() in (os.getpid(), other.pid)  # it may have answered before it died
        with pytest.warns(UserWarning, match="another speaks"):
            assert beside.call(pid_of, "another")() == os.getpid()
    with Beside(1) as beside, pytest.warns(UserWarning, match="one speaks"):
        assert beside.call(pid_of, "one")() == os.getpid()


def test_the_longest_output_is_begun_first(results, tmp_path):
    work = processes._Work([Summary(), Tables(), type("Long", (Local,), {"effort": 5})()], results, tmp_path)
    assert list(work.waiting) == [2, 0, 1]


def test_no_process_outlives_the_run(results):
    with Beside(2) as beside:
        (other,) = beside._others
        assert other.poll() is None
    assert other.returncode is not None


def test_a_process_ends_when_the_run_is_killed():
    with Beside(2) as beside:
        (other,) = beside._others
        other.stdin.close()  # as the system does it to a process that is no more
        assert other.wait(timeout=60) == 0


def test_where_no_process_can_be_started_all_is_written_here(results, tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "executable", "")
    with Beside(4) as beside:
        assert beside._others == []
        assert beside.write([Summary()], results, tmp_path) == [("summary.json",)]


def test_small_jobs_and_huge_ones_are_written_by_one(tmp_path, monkeypatch):
    monkeypatch.setattr(processes, "processors", lambda: 16)
    file = tmp_path / "shots.csv"
    for size, count in ((PAYS[0] - 1, 1), (PAYS[0], processes.MOST), (PAYS[1] + 1, 1)):
        file.write_bytes(b"x" * size)
        assert as_many_as_pay([file, tmp_path / "not there"]) == count
    assert processors() >= 1
