"""The same job in other surroundings: hash seed, time zone, locale, umask, folder, threads; and two runs at once.

Kills at random moments and a disk that is full stand in ``test_whole_or_nothing``; a kill at every move of a file in
``test_placing``; writers by themselves in ``tests/write/test_same_bytes``.
"""

import hashlib
import json
import os
import stat
import subprocess
import sys

import pytest

from geoqa.job.deliver import MANIFEST
from tests.review import job_of_four

pytestmark = pytest.mark.long

OUTPUTS = 'layers = ["gpkg", "csv", "shp"]\npages = ["map"]\n'
USUAL = {"PYTHONHASHSEED": "1", "TZ": "UTC", "LC_ALL": "C.UTF-8", "OMP_NUM_THREADS": "1", "GEOQA_PROCESSES": "1"}
OTHER = {
    "PYTHONHASHSEED": "77", "TZ": "Asia/Kolkata", "LC_ALL": "tr_TR.UTF-8", "LANG": "C", "OMP_NUM_THREADS": "2",
    "COLUMNS": "40", "PYTHONIOENCODING": "ascii", "GEOQA_PROCESSES": "3",
}  # fmt: skip


def written(folder):
    """The small job, with every output that takes no seconds."""
    folder.mkdir(parents=True)
    job = job_of_four.write(folder)
    text = job.read_text("utf-8").replace('layers = ["csv", "summary"]\npages = []\n', OUTPUTS)
    assert OUTPUTS in text
    job.write_text(text, "utf-8")
    return job


def started(job, environment, mask=0o022):
    return subprocess.Popen(
        [sys.executable, "-m", "geoqa", "run", "--quiet", str(job)],
        env=os.environ | {"PYTHONDONTWRITEBYTECODE": ""} | environment,  # no process need compile the package anew
        umask=mask,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=job.parent if environment is USUAL else job.parent.parent,
    )


def modes(folder):
    return {path.name: stat.S_IMODE(path.stat().st_mode) for path in folder.rglob("*") if path.is_file()}


def hashes(folder):
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.fixture(scope="module")
def usual(tmp_path_factory):
    job = written(tmp_path_factory.mktemp("usual") / "job")
    said = started(job, USUAL)
    _, err = said.communicate(timeout=240)
    assert said.returncode == 1, err
    return job.parent / "out", hashes(job.parent / "out")


@pytest.mark.skipif(sys.platform == "win32", reason="has no umask")
def test_the_same_bytes_whatever_is_around_and_for_those_whom_the_umask_allows(tmp_path, usual):
    job = written(tmp_path / "a place with blanks é" / "job")
    said = started(job, OTHER, 0o077)
    _, err = said.communicate(timeout=240)
    assert said.returncode == 1, err
    assert b"Traceback" not in err
    assert len(usual[1]) > 9
    assert hashes(job.parent / "out") == usual[1]
    assert {name: oct(mode) for name, mode in modes(job.parent / "out").items() if mode & 0o077} == {}
    assert {name: oct(mode) for name, mode in modes(usual[0]).items() if mode & 0o444 != 0o444} == {}


@pytest.mark.skipif(sys.platform != "linux", reason="names are bytes only there")
def test_a_place_whose_name_the_locale_cannot_read_is_refused_before_anything_is_written(tmp_path):
    job = written(tmp_path / "é" / "job")
    said = started(job, {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"})
    _, err = said.communicate(timeout=240)
    assert said.returncode == 2, err
    assert b"the name of the folder \\udcc3\\udca9 has a sign" in err
    assert not (job.parent / "out").exists()


def test_two_runs_at_once_leave_one_whole_delivery(tmp_path, usual):
    """Both say the same, so whichever came last, each file is that of a single run and the record fits."""
    job = written(tmp_path / "job")
    both = [started(job, USUAL) for _ in range(2)]
    said = [each.communicate(timeout=280) for each in both]
    for each, (_, err) in zip(both, said, strict=True):
        assert each.returncode in (1, 3), err
        assert b"Traceback" not in err
    assert 1 in {each.returncode for each in both}
    found = hashes(job.parent / "out")
    record = json.loads((job.parent / "out" / MANIFEST).read_text("utf-8"))
    assert record["outputs"] == {name: value for name, value in found.items() if name != MANIFEST}
    assert {name: value for name, value in found.items() if value != usual[1].get(name)} == {}
