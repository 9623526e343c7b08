"""One job in parts at several sizes: what a shot takes, and that the memory said before a run is kept.

Run by itself it measures the sizes that are asked for and prints the page:
``PYTHONPATH=tests python tests/benchmarks/test_parts_growth.py FOLDER SHOTS SHOTS ...``.
"""

import json
import os
import re
import resource
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from bench.extent import WRITES, extent
from bench.growing import line_of, page
from bench.season import CHECKS, SHOTS_OF_SESSION, SHOTS_OF_STREET, write_season

pytestmark = [
    pytest.mark.benchmark, pytest.mark.timeout(3600),
    pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read from /proc"),
]  # fmt: skip
SIZES = extent((32_000, 48_000, 96_000), of_a_change=(32_000,))
"""Shots: none smaller than a part, or what a part takes would grow too."""
STREETS_OF_FILE, STREETS_OF_PART = 2, 8
ROWS_OF_STREET = SHOTS_OF_STREET + SHOTS_OF_STREET // SHOTS_OF_SESSION * 2 * CHECKS
MOST = 1.15
"""Power of the size by which processor time may grow."""
TESTS = Path(__file__).parents[1]
PAGE = TESTS.parent / "docs" / "growth.md"


def held():
    """Bytes of this process that only memory can hold, and all that are in memory."""
    text = Path("/proc/self/status").read_text(encoding="ascii")
    return [1024 * int(re.search(rf"{name}:\s+(\d+)", text)[1]) for name in ("RssAnon", "VmRSS")]


def run(job, folder):
    """Judge a job in parts, in this process and two workers."""
    from geoqa.batch.cluster import Engine
    from geoqa.batch.cut.run import run_in_parts
    from geoqa.batch.cut.whole import Whole

    most, of_step, over = [0, 0], [0], threading.Event()
    steps = {}
    step_of = Whole._made

    def watch():
        while not over.wait(0.02):
            now = held()
            most[:] = map(max, most, now)
            of_step[0] = max(of_step[0], now[0])

    def one_step(self, number):
        before = of_step[0] = held()[0]
        made = step_of(self, number)
        steps[self._pieces.steps[number].name] = [before, max(of_step[0], held()[0])]
        return made

    Whole._made = one_step
    watching = threading.Thread(target=watch, daemon=True)
    watching.start()
    begun = time.perf_counter()
    made = run_in_parts(Path(job), Path(folder), most=STREETS_OF_PART * ROWS_OF_STREET, engine=Engine(workers=2))
    elapsed = time.perf_counter() - begun
    over.set()
    watching.join()
    own, others = (resource.getrusage(each) for each in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    seconds = own.ru_utime + own.ru_stime
    return {
        "shots": sum(made.shots), "parts": len(made.parts), "findings": sum(made.counts.values()), "own": seconds,
        "seconds": seconds + others.ru_utime + others.ru_stime, "elapsed": elapsed, "asks": most[0],
        "resident": most[1], "worker": others.ru_maxrss * 1024, "part": max(made.shots), "steps": steps,
        "disk": sum(each.stat().st_size for each in Path(folder).rglob("*") if each.is_file()),
    }  # fmt: skip


def measure(folder, shots):
    """What a season of a size takes, in processes of its own."""
    outputs = 'folder = "out"\nlayers = ["parquet"]\npages = []'
    job = write_season(folder / f"{shots}", shots, outputs=outputs, rows_of_file=STREETS_OF_FILE * ROWS_OF_STREET)
    environment = {**os.environ, "PYTHONPATH": str(TESTS), "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run([sys.executable, __file__, "run", str(job), str(folder / f"{shots}-parts")], check=False,
                          capture_output=True, text=True, env=environment)  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]
    print(done.stdout.splitlines()[-1], file=sys.stderr)
    return json.loads(done.stdout.splitlines()[-1])


def test_a_shot_takes_no_more_in_a_larger_job_and_memory_is_as_it_was_said(tmp_path):
    from geoqa.batch.cut.room import room

    rows = [measure(tmp_path, shots) for shots in SIZES]
    for row in rows:
        print("\n" + ", ".join(f"{name} {value:,.0f}" for name, value in row.items() if name != "steps"))
    for row in rows:
        said = room([row["shots"]], 1)
        assert row["asks"] < said.asks
        assert row["worker"] < room([row["part"]], 1).work
    if len(rows) > 1:
        assert line_of([row["shots"] for row in rows], [row["seconds"] for row in rows]).exponent < MOST
    if WRITES:
        from conftest import machine

        PAGE.write_text(page(machine(), rows), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    if sys.argv[1] == "run":
        print(json.dumps(run(*sys.argv[2:4])))
    else:
        from conftest import machine

        print(page(machine(), [measure(Path(sys.argv[1]), int(each)) for each in sys.argv[2:]]))
