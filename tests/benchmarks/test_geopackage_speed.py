"""Writing a GeoPackage, against the library alone: the same table, with its default settings, in turn.

The library is given the same points with their elevations and every column. Ours has a fixed clock, names what the
layer is, keeps elevations only where they are, and is what the job's writer calls; checking the columns for text that
breaks formats, sorting rows, and opening everything again are measured apart.
"""

import time

import numpy as np
import pytest

from bench.extent import extent

pytestmark = [pytest.mark.benchmark, pytest.mark.timeout(600)]

ROWS = extent(200_000, of_a_change=80_000)
ROUNDS = 3
MOST = 1.3


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    """A judged job, in memory."""
    from bench.season import write_season
    from geoqa.job.run import run

    return run(write_season(tmp_path_factory.mktemp("gpkg"), ROWS // 2), write=False)


def test_a_geopackage_is_written_nearly_as_fast_as_the_library_can(results, tmp_path, measured):
    import pyogrio

    from geoqa.write.dates import job_day, steady_clock
    from geoqa.write.gis import geopackage
    from geoqa.write.gis.elevated import elevated
    from geoqa.write.rows import on_disk

    table = elevated(on_disk("findings", results.layers["findings"]))
    spent = {"ours": np.inf, "library": np.inf, "ready": np.inf}
    for turn in range(ROUNDS):
        alone, mine = tmp_path / f"alone{turn}.gpkg", tmp_path / f"ours{turn}.gpkg"
        begun = time.process_time()
        pyogrio.write_dataframe(table, alone, layer="findings", driver="GPKG")
        spent["library"] = min(spent["library"], time.process_time() - begun)
        begun = time.process_time()
        with steady_clock(job_day(results)):
            geopackage._put(mine, "findings", table, "one row per judged number")
        spent["ours"] = min(spent["ours"], time.process_time() - begun)
        begun = time.process_time()
        elevated(on_disk("findings", results.layers["findings"]))
        spent["ready"] = min(spent["ready"], time.process_time() - begun)
    back = {name: pyogrio.read_dataframe(path, use_arrow=True) for name, path in (("ours", mine), ("library", alone))}
    assert len(back["ours"]) == len(back["library"]) == len(table)
    np.testing.assert_array_equal(back["ours"].geometry.x, back["library"].geometry.x)
    writer = geopackage.GeoPackage()
    begun = time.process_time()
    writer.write(results, tmp_path)
    whole = time.process_time() - begun
    begun = time.process_time()
    writer.read_back(results, tmp_path)
    again = time.process_time() - begun
    ratio = spent["ours"] / spent["library"]
    measured.add(
        "geopackage",
        __doc__.partition("\n\n")[0] + f"\n\n{__doc__.partition(chr(10) * 2)[2].strip()} Seconds of processor time.",
        rows=f"{len(table):,}",
        columns=str(table.shape[1]),
        library=f"{spent['library']:.2f}",
        ours=f"{spent['ours']:.2f}",
        ratio=f"{ratio:.2f}",
        table_made_ready=f"{spent['ready']:.2f}",
        whole_file_of_the_job=f"{whole:.2f}",
        opened_again_and_compared=f"{again:.2f}",
    )
    print(
        f"\n{len(table):,} rows: library {spent['library']:.2f} s, ours {spent['ours']:.2f} s, ratio {ratio:.2f}; made "
        f"ready {spent['ready']:.2f} s; the job's file whole {whole:.2f} s, opened again and compared {again:.2f} s"
    )
    assert ratio <= MOST
