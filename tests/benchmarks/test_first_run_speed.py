"""The first job of a newcomer: the demo, run by the command line in a process of its own.

Against a process that only loads the libraries a run needs: what a small job costs is nearly all paid for many small
tables and for what is loaded, and both are slowed alike by whatever else the machine does. Seconds of processor time,
best of a few.
"""

import os
import resource
import subprocess
import sys
import time

import pytest

from bench.extent import extent
from geoqa.job.beside.processes import processors

pytestmark = [pytest.mark.benchmark, pytest.mark.timeout(900)]

ROUNDS = extent(3, of_a_change=2)
MOST = 11.0
"""Times what loading the libraries takes."""
SOONER = 0.85
"""Of the time one process takes, where several may judge and write."""
LIBRARIES = [
    "folium",
    "geopandas",
    "pandas",
    "pydantic",
    "pyogrio",
    "pyproj",
    "rasterio",
    "scipy.linalg",
    "scipy.optimize",
    "scipy.sparse.csgraph",
    "scipy.spatial",
    "scipy.special",
    "shapely",
]


def spent(*command, folder):
    """Processor seconds and elapsed seconds of a process."""
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run([sys.executable, *command], cwd=folder, check=False, stdout=subprocess.DEVNULL, env=os.environ)
    after, ended = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, ended - begun


def test_the_demo_runs_in_a_few_times_what_loading_its_libraries_takes(tmp_path, measured):
    from geoqa import simulate

    job = simulate.write(simulate.make(), tmp_path / "demo")
    run, load, elapsed, alone, whole_demo = (float("inf") for _ in range(5))
    for number in range(ROUNDS):
        load = min(load, spent("-c", f"import {', '.join(LIBRARIES)}", folder=job.parent)[0])
        seconds, whole = spent("-m", "geoqa", "run", "--processes", "1", job.name, folder=job.parent)
        run, alone = min(run, seconds), min(alone, whole)
        elapsed = min(elapsed, spent("-m", "geoqa", "run", job.name, folder=job.parent)[1])
        made = ("-m", "geoqa", "demo", f"made-{number}", "--run")
        whole_demo = min(whole_demo, spent(*made, folder=tmp_path)[1])
    assert (tmp_path / f"made-{ROUNDS - 1}" / "out" / "record.json").exists()
    assert (job.parent / "out" / "record.json").exists()
    measured.add(
        "first run",
        __doc__.replace("\n", " ", 1).strip() + f" At most {MOST} times.",
        libraries_alone=f"{load:.2f}",
        run=f"{run:.2f}",
        ratio=f"{run / load:.2f}",
        elapsed=f"{elapsed:.1f} s on {processors()} processors, {alone:.1f} s by one process",
        demo_and_run=f"{whole_demo:.1f} s elapsed",
    )
    print(
        f"\nthe demo: {run:.2f} s of processor time, libraries alone {load:.2f} s, ratio {run / load:.2f}; "
        f"elapsed {elapsed:.1f} s, {alone:.1f} s by one process; geoqa demo --run {whole_demo:.1f} s elapsed"
    )
    assert run / load <= MOST
    assert processors() == 1 or elapsed <= SOONER * alone
    assert processors() == 1 or whole_demo <= SOONER * alone  # its files are made while it gets ready
