"""The delivery campaign: killed at a hundred moments, on a full disk, in a folder that may not be written to."""

import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import time

import pytest

from bench.extent import extent
from geoqa.errors import OutputError
from geoqa.job.deliver import MANIFEST, deliver
from geoqa.job.document.load import load
from geoqa.job.placing import MARKER
from geoqa.job.run import run
from geoqa.simulate import make, write

pytestmark = pytest.mark.long

KILLS = extent(200, of_a_change=12)


@pytest.fixture(scope="module")
def judged(tmp_path_factory):
    """A judged demo job and its outputs."""
    loaded = load(write(make(seed=5), tmp_path_factory.mktemp("campaign") / "job"))
    # workbook and drawing take seconds to write, and go into place like every other file
    quick = [each for each in loaded.job.outputs.every if each.name not in ("sheets", "dxf")]
    return run(loaded, write=False), quick


def hashes(folder):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir() if path.is_file()}


@pytest.mark.score
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_a_kill_at_any_moment_leaves_every_file_whole(judged, tmp_path):
    """Each child delivers the same results and is killed at a random moment; every file is the old or the new one."""
    results, outputs = judged
    folder = tmp_path / "out"
    began = time.perf_counter()
    deliver(results, folder, outputs)
    whole = time.perf_counter() - began
    good = hashes(folder)
    moments = random.Random(11)
    killed = told = 0
    for _ in range(KILLS):
        child = os.fork()
        if child == 0:
            deliver(results, folder, outputs)
            os._exit(0)
        time.sleep(moments.uniform(0, whole))
        try:
            os.kill(child, signal.SIGKILL)
        except ProcessLookupError:
            continue
        _, status = os.waitpid(child, 0)
        killed += os.WIFSIGNALED(status)
        held = hashes(folder)
        told += held.pop(MARKER, None) is not None
        assert held == good
        record = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        assert record["outputs"] == {name: value for name, value in good.items() if name != MANIFEST}
    print(f"\nkilled {killed} of {KILLS} deliveries, {told} of them between two files; every file whole after each")
    assert killed >= KILLS // 2
    deliver(results, folder, outputs)
    assert hashes(folder) == good
    assert [path.name for path in folder.iterdir() if path.name.startswith(".")] == []


@pytest.mark.skipif(sys.platform != "linux" or os.geteuid() != 0, reason="needs a small disk of its own")
def test_a_disk_that_fills_up_leaves_the_previous_output_whole(judged, tmp_path):
    results, outputs = judged
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=16m", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("a small disk cannot be mounted here")
    try:
        deliver(results, disk / "out", outputs)
        before = hashes(disk / "out")
        (disk / "ballast").write_bytes(b"x" * 500_000)
        with pytest.raises(OutputError, match="previous output is still whole"):
            deliver(results, disk / "out", outputs)
        assert hashes(disk / "out") == before
        assert [path.name for path in (disk / "out").iterdir() if path.is_dir()] == []
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_a_folder_that_may_not_be_written_to_is_told(judged, tmp_path):
    results, outputs = judged
    folder = tmp_path / "locked"
    folder.mkdir(mode=0o500)
    if os.access(folder, os.W_OK):
        folder.rmdir()
        folder = tmp_path / "locked"
        folder.write_text("a file where the folder should be", encoding="utf-8")
    with pytest.raises(OutputError, match=r"output folder locked cannot be written to"):
        deliver(results, folder, outputs)


def test_a_file_that_cannot_be_replaced_is_named_and_the_rest_is_whole(judged, tmp_path, monkeypatch):
    """As on systems that lock a file another program holds open."""
    results, outputs = judged
    folder = tmp_path / "out"
    deliver(results, folder, outputs)
    before = hashes(folder)
    real = os.replace

    def held(source, target):
        if str(target).endswith("checked.gpkg"):
            raise PermissionError(13, "The process cannot access the file because it is being used by another process")
        real(source, target)

    monkeypatch.setattr(os, "replace", held)
    with pytest.raises(OutputError, match=r"checked\.gpkg cannot be replaced.*open in another program"):
        deliver(results, folder, outputs)
    assert hashes(folder) == before
