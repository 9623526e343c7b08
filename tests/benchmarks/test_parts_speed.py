"""One job in parts, against the same job judged whole: processor time, memory of a worker and of the one that asks.

Run by itself it judges one season of as many shots as are asked for, and prints what it took:
``PYTHONPATH=tests python tests/benchmarks/test_parts_speed.py FOLDER SHOTS``.
"""

import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import pytest

from bench.extent import extent
from bench.season import CHECKS, SHOTS_OF_SESSION, SHOTS_OF_STREET, write_season

pytestmark = [pytest.mark.benchmark, pytest.mark.timeout(3000)]

SIZES = extent((96_000, 960_000), of_a_change=(16_000,))
STREETS = extent(12, of_a_change=2)
"""Streets of a file of shots."""
ROWS_OF_STREET = SHOTS_OF_STREET + SHOTS_OF_STREET // SHOTS_OF_SESSION * 2 * CHECKS
MOST = 5.0
"""Times the processor time of a single run without its pages: what lies between two steps is written and read, and
processes are started. Measured 4.0 for 16,000 shots, where these weigh most.
"""
TESTS = Path(__file__).parents[1]


def took():
    """Processor seconds of this process and of those that it waited for, and the peak of either in MB."""
    own, others = (resource.getrusage(each) for each in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    seconds = own.ru_utime + own.ru_stime + others.ru_utime + others.ru_stime
    return {"seconds": seconds, "asks": own.ru_maxrss / 1024, "worker": others.ru_maxrss / 1024}


def in_parts(job, folder):
    from geoqa.batch.cluster import Engine
    from geoqa.batch.cut.run import run_in_parts

    begun = time.perf_counter()
    made = run_in_parts(Path(job), Path(folder), most=STREETS * ROWS_OF_STREET, engine=Engine(workers=2))
    said = {"parts": len(made.parts), "shots": sum(made.shots), "findings": sum(made.counts.values())}
    return said | took() | {"elapsed": time.perf_counter() - begun}


def whole(job, folder):
    from geoqa.job.run import run

    begun = time.perf_counter()
    made = run(job)
    return {"findings": len(made.findings)} | took() | {"elapsed": time.perf_counter() - begun}


def measure(way, job, folder):
    """What a way takes, in a process of its own."""
    environment = {**os.environ, "PYTHONPATH": str(TESTS), "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run([sys.executable, __file__, way, str(job), str(folder)], capture_output=True, text=True,
                          env=environment, check=False)  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout.splitlines()[-1])


def season_of(folder, shots):
    """A season whose files end with a street."""
    outputs = 'folder = "out"\nlayers = ["parquet"]\npages = []'
    return write_season(folder, shots, outputs=outputs, rows_of_file=STREETS * ROWS_OF_STREET)


@pytest.mark.parametrize("shots", SIZES)
def test_a_job_in_parts_takes_a_bounded_multiple_of_a_single_run(shots, tmp_path, measured):
    job = season_of(tmp_path / "job", shots)
    alone, cut = measure("whole", job, "-"), measure("parts", job, tmp_path / "parts")
    assert cut["findings"] == alone["findings"]
    ratio = cut["seconds"] / alone["seconds"]
    measured.add(
        "parts",
        "The same files to judged GeoParquet, by one process and by `geoqa parts` on two workers. Seconds of processor "
        "time; the memory is that of the largest process of its kind.",
        shots=f"{cut['shots']:,}", parts=cut["parts"], whole=f"{alone['seconds']:.0f}",
        in_parts=f"{cut['seconds']:.0f}", ratio=f"{ratio:.2f}",
        elapsed=f"{alone['elapsed']:.0f} and {cut['elapsed']:.0f} s",
        memory_of_the_whole=f"{alone['asks']:.0f} MB", of_the_one_that_asks=f"{cut['asks']:.0f} MB",
        of_a_worker=f"{cut['worker']:.0f} MB",
    )  # fmt: skip
    assert ratio < MOST


if __name__ == "__main__":
    if sys.argv[1] in ("whole", "parts"):
        print(json.dumps({"whole": whole, "parts": in_parts}[sys.argv[1]](sys.argv[2], sys.argv[3])))
    else:
        at = Path(sys.argv[1])
        print(json.dumps(measure("parts", season_of(at / "job", int(sys.argv[2])), at / "parts")))
