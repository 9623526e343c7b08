"""From a hundred thousand shots to ten million: the cost of a shot and the memory beside what goes in and comes out.

Each size is measured several times, in turn with the others, in processor time, and the best counts: what else runs on
the machine makes a time longer and never shorter. The index of the design is made once, as in a run.
"""

import json
import os
import re
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from bench.extent import extent
from geoqa.kernels.design.cells import index_elements
from geoqa.kernels.design.element_making import from_vertices
from geoqa.kernels.design.station import nearest

pytestmark = [pytest.mark.benchmark, pytest.mark.timeout(600)]

SIZES = (100_000, 1_000_000, extent(10_000_000, of_a_change=3_000_000))
CHORDS = 10_000
REACH = 10.0
ROUNDS = 5
GROWTH = 1.15
BENCH = {"PYTHONPATH": str(Path(__file__).parents[1])}
"""Where the package `bench` lies."""
FLAT = 60
"""Megabytes that the work may take beside coordinates and results, whatever the number of shots."""
CODE = (
    "import json, runpy, sys\n"
    "print(json.dumps(runpy.run_path(sys.argv[1])['working_memory'](sys.argv[2], int(sys.argv[3]))))\n"
)


def scene(shots):
    """Elements, index and points; the smaller scenes are the first shots of the larger ones."""
    import runpy

    bench = runpy.run_path(str(Path(__file__).with_name("test_station_offset_speed.py")))
    line = bench["design"](CHORDS)
    elements = from_vertices(*line)
    return elements, index_elements(elements, reach=REACH), bench["shots"](*line, shots)


def working_memory(folder, shots):
    """Megabytes at the peak beside points and results; the points come from a file, so that no draft of them counts."""
    line = np.load(Path(folder, "line.npy")), np.load(Path(folder, "index.npy"))
    elements = from_vertices(*line)
    index = index_elements(elements, reach=REACH)
    points = np.fromfile(Path(folder, "points.bin"), dtype=float, count=2 * shots).reshape(-1, 2)
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")  # the high-water mark starts here
    before = _status("VmRSS")
    found = nearest(points, elements, reach=REACH, index=index)
    results = sum(values.nbytes for values in vars(found).values()) / 2**20
    return _status("VmHWM") - before - results


def _status(name):
    return int(re.search(rf"{name}:\s+(\d+) kB", Path("/proc/self/status").read_text(encoding="ascii"))[1]) / 1024


def test_a_shot_costs_the_same_among_millions(measured):
    elements, index, points = scene(SIZES[-1])
    best = dict.fromkeys(SIZES, np.inf)
    for _ in range(ROUNDS):
        for shots in SIZES:
            again = max(1, min(10, SIZES[1] // shots))
            begun = time.process_time()
            for _ in range(again):
                nearest(points[:shots], elements, reach=REACH, index=index)
            best[shots] = min(best[shots], (time.process_time() - begun) / again / shots)
    for shots, seconds in best.items():
        measured.add(
            "growth",
            "Station and offset in plain numpy, 10,000 chords, index made once: "
            + __doc__.partition("\n\n")[2].strip(),
            shots=f"{shots:,}",
            microseconds_a_shot=f"{seconds * 1e6:.3f}",
            to_the_smallest=f"{seconds / best[SIZES[0]]:.2f}",
        )
    print("\n" + ", ".join(f"{shots:,}: {seconds * 1e6:.3f} us" for shots, seconds in best.items()))
    assert max(best.values()) <= GROWTH * min(best.values())


@pytest.mark.skipif(not Path("/proc/self/clear_refs").exists(), reason="the high-water mark is reset through /proc")
def test_memory_beside_points_and_results_stays_flat(tmp_path, measured):
    import runpy

    bench = runpy.run_path(str(Path(__file__).with_name("test_station_offset_speed.py")))
    line = bench["design"](CHORDS)
    np.save(tmp_path / "line.npy", line[0])
    np.save(tmp_path / "index.npy", line[1])
    bench["shots"](*line, SIZES[-1]).tofile(tmp_path / "points.bin")
    found = {}
    for shots in SIZES:
        command = [sys.executable, "-c", CODE, __file__, str(tmp_path), str(shots)]
        done = subprocess.run(command, capture_output=True, text=True, check=False, env=os.environ | BENCH)
        assert done.returncode == 0, done.stderr[-2000:]
        found[shots] = json.loads(done.stdout)
    told = ", ".join(f"{shots:,}: {megabytes:.0f} MB" for shots, megabytes in found.items())
    print(f"\n{told} beside points and results")
    for shots, megabytes in found.items():
        measured.note("growth", shots=f"{shots:,}", working_memory=f"{megabytes:.0f} MB")
    assert max(found.values()) <= FLAT
