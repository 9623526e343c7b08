"""One job in parts at several sizes: what a shot takes, and that the memory said before a run is kept.

Run by itself it measures a size once, which may take hours, and keeps it:

* ``PYTHONPATH=tests python tests/benchmarks/test_parts_growth.py once FOLDER SHOTS`` writes FOLDER/SHOTS.json, and a
  line for each stage with its time and memory into FOLDER/SHOTS.log while it runs;
* ``PYTHONPATH=tests python tests/benchmarks/test_parts_growth.py keep FOLDER/SHOTS.json`` puts that among what stands
  in growth.json, and makes the page anew.
"""

import json
import os
import re
import resource
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import nullcontext, suppress
from dataclasses import replace
from pathlib import Path

import pytest

from bench.extent import WRITES, extent
from bench.growing import line_of, page
from bench.season import CHECKS, SEASON_FILE, SHOTS_OF_SESSION, SHOTS_OF_STREET, write_season

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
TOLD = ("shots", "parts", "findings", "seconds", "own", "asks", "resident", "worker", "disk", "disk_most")
ONCE = ("read", "write", "date", "commit", "machine")
KEPT = Path(__file__).with_name("growth.json")
"""What was measured last by the benchmark, and what once: the page is made of it alone."""
SHARE = 10
"""Of so many parts one is read and written by itself, where there are so many."""


def held():
    """Bytes of this process that only memory can hold, and all that are in memory."""
    text = Path("/proc/self/status").read_text(encoding="ascii")
    return [1024 * int(re.search(rf"{name}:\s+(\d+)", text)[1]) for name in ("RssAnon", "VmRSS")]


def run(job, folder):
    """Judge a job in parts, in this process and two workers."""
    from geoqa.batch.cluster import Engine
    from geoqa.batch.cut.run import run_in_parts
    from geoqa.batch.cut.whole import Whole

    begun = time.perf_counter()

    def told(what, done, of):
        now, spent = held(), time.process_time()
        said = f"{time.perf_counter() - begun:.0f} s, {what} {done}/{of}: {now[0] / 1e6:.0f} MB, {now[1] / 1e6:.0f} MB"
        print(f"{said} with files, {spent:.0f} s of processor", file=sys.stderr, flush=True)

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
    made = run_in_parts(
        Path(job), Path(folder), most=STREETS_OF_PART * ROWS_OF_STREET, engine=Engine(workers=2), told=told
    )
    elapsed = time.perf_counter() - begun
    over.set()
    watching.join()
    own, others = (resource.getrusage(each) for each in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    seconds = own.ru_utime + own.ru_stime
    return {
        "shots": sum(made.shots), "parts": len(made.parts), "findings": sum(made.counts.values()), "own": seconds,
        "seconds": seconds + others.ru_utime + others.ru_stime, "elapsed": elapsed, "asks": most[0],
        "resident": most[1], "worker": others.ru_maxrss * 1024, "part": max(made.shots), "steps": steps,
    }  # fmt: skip


def same(job, folder):
    """Processor seconds of reading the files of a job that was judged in parts, and of writing its tables, no more."""
    import geopandas
    import pandas as pd
    import pyarrow.parquet as pq

    from geoqa.batch.cut.work import BESIDE, written
    from geoqa.job.inputs.intake import take_in_files
    from geoqa.job.inputs.named_files import job_files, read_frame
    from geoqa.job.inputs.unframed import load_framed
    from geoqa.model.tables.layer import Layers

    loaded, folder = load_framed(job), Path(folder)
    files, frame = job_files(loaded), read_frame(loaded)
    parts = json.loads((folder / "summary.json").read_text(encoding="utf-8"))["parts"]
    chosen = parts[:: SHARE if len(parts) > SHARE * 2 else 1]
    scale = sum(part["shots"] for part in parts) / sum(part["shots"] for part in chosen)

    def read(sources):
        roles = BESIDE if sources else {each.role for each in files.tables} - {"shots"}
        mine = tuple(each for each in files.tables if each.role in roles or each.source in sources)
        begun = time.process_time()
        take_in_files(loaded, frame, replace(files, tables=mine, background=None))
        return time.process_time() - begun

    def write(name):
        tables = {}
        for path in sorted((folder / name).glob("*.parquet")):
            lies = b"geo" in (pq.read_schema(path).metadata or {})
            tables[path.stem] = (geopandas if lies else pd).read_parquet(path)
        begun = time.process_time()
        with tempfile.TemporaryDirectory() as made:
            written(Layers(tables, frame=frame), Path(made) / name, list(tables), personal=True)
        return time.process_time() - begun

    reading = [sum(read([source]) for source in part["files"]) for part in chosen]
    writing = [write(part["part"]) for part in chosen]
    return {"read": read([]) + scale * sum(reading), "write": write("whole") + scale * sum(writing)}


def apart(what, *given, log=None):
    """What a function of this file gives in a process of its own."""
    beside = os.pathsep.join(map(str, (TESTS, TESTS.parent)))  # the code that these tests lie beside, and no other
    environment = {**os.environ, "PYTHONPATH": beside, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    with open(log, "w", encoding="utf-8") if log else nullcontext(subprocess.PIPE) as errors:
        done = subprocess.run([sys.executable, __file__, what, *map(str, given)], check=False, stdout=subprocess.PIPE,
                              stderr=errors, text=True, env=environment)  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:] if log is None else f"see {log}"
    return json.loads(done.stdout.splitlines()[-1])


def size_of(folder):
    """Bytes of all files of a folder, from which some may be taken away meanwhile."""
    total = 0
    for place, _, names in os.walk(folder):
        for name in names:
            with suppress(FileNotFoundError):
                total += os.stat(os.path.join(place, name)).st_size
    return total


def measure(folder, shots, *, log=None):
    """What a season of a size takes, in processes of its own."""
    outputs = 'folder = "out"\nlayers = ["parquet"]\npages = []'
    job = folder / f"{shots}" / SEASON_FILE
    if not job.is_file():  # written last
        write_season(folder / f"{shots}", shots, outputs=outputs, rows_of_file=STREETS_OF_FILE * ROWS_OF_STREET)
    parts = folder / f"{shots}-parts"
    most, over = [0], threading.Event()

    def watch():
        pause = 1.0
        while not over.wait(pause):
            begun = time.perf_counter()
            most[0] = max(most[0], size_of(parts))
            pause = max(1.0, 20 * (time.perf_counter() - begun))

    watching = threading.Thread(target=watch, daemon=True)
    watching.start()
    row = apart("run", job, parts, log=log)
    over.set()
    watching.join()
    row |= {"disk": size_of(parts), "disk_most": max(most[0], size_of(parts))}
    print(json.dumps(row), file=sys.stderr)
    return row


def once(folder, shots):
    """Measure a size, with the day, the commit and the machine, and write it down."""
    from conftest import machine

    asked = ["git", "-C", str(TESTS), "describe", "--always", "--dirty", "--abbrev=12", "--exclude=*"]
    commit = subprocess.run(asked, check=True, capture_output=True, text=True).stdout.strip()
    day = time.strftime("%Y-%m-%d")
    row = measure(folder, shots, log=folder / f"{shots}.log")
    row |= {"date": day, "commit": commit, "machine": machine()}
    kept = folder / f"{shots}.json"
    kept.write_text(json.dumps(row, indent=1) + "\n", encoding="utf-8")  # hours of work, whatever comes now
    row |= apart("same", folder / f"{shots}" / SEASON_FILE, folder / f"{shots}-parts")
    kept.write_text(json.dumps(row, indent=1) + "\n", encoding="utf-8")
    return kept


def keep(*, rows=None, row=None):
    """Put what was measured among what is kept, and make the page of it."""
    from conftest import machine

    kept = json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.is_file() else {"every": {}, "once": []}
    if rows is not None:
        kept["every"] = {"machine": machine(), "rows": [{name: each[name] for name in TOLD} for each in rows]}
    if row is not None:
        others = [each for each in kept["once"] if each["shots"] != row["shots"]]
        kept["once"] = sorted([*others, {name: row[name] for name in (*TOLD, *ONCE)}], key=lambda each: each["shots"])
    KEPT.write_text(json.dumps(kept, indent=1, ensure_ascii=False) + "\n", encoding="utf-8", newline="\n")
    PAGE.write_text(page(kept["every"]["machine"], kept["every"]["rows"], kept["once"]), encoding="utf-8", newline="\n")


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
        keep(rows=rows)


if __name__ == "__main__":
    command, *given = sys.argv[1:]
    if command in ("run", "same"):
        print(json.dumps({"run": run, "same": same}[command](*given)))
    elif command == "once":
        print(once(Path(given[0]), int(given[1])))
    elif command == "keep":
        keep(row=json.loads(Path(given[0]).read_text(encoding="utf-8")))
