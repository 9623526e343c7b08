"""A large LandXML surface, against walking over the same file with the library's own `iterparse`.

The library gives each element and forgets it; it makes no number of anything. Ours makes checked arrays of the points
and faces, and then the tables of a job. `GEOQA_LANDXML_MB` sets the size of the file; the bound on memory is for
500 MB, to which what a smaller file takes is scaled.
"""

import json
import os
import subprocess
import sys

import pytest

from bench.landxml import write_grid

pytestmark = [pytest.mark.benchmark, pytest.mark.timeout(1800)]

MEGABYTES = float(os.environ.get("GEOQA_LANDXML_MB", "40"))
WHOLE, MOST_MEMORY, MOST = 500.0, 1500.0, 2.5
CODE = """
import json, re, sys, time
from pathlib import Path
from xml.etree.ElementTree import iterparse
from geoqa.read.landxml.contents import surfaces_of
from geoqa.read.landxml.design import DesignLandXML
def peak_kb():  # of this process alone: what getrusage gives starts from the parent's
    return int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1])
what, path, small = sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3])
DesignLandXML(surfaces=("EG",)).read(small, source="d")  # what is imported is no part of it
before, begun, rows = peak_kb(), time.process_time(), [0, 0]
if what == "iterparse":
    for _, element in iterparse(path):
        element.clear()
elif what == "arrays":
    surface = surfaces_of(path)[0]
    rows = [len(surface.points), len(surface.faces)]
else:
    tables = DesignLandXML(surfaces=("EG",)).read(path, source="d").layers
    rows = [len(tables["surface_points"]), len(tables["surface_faces"])]
spent = time.process_time() - begun
print(json.dumps([spent, before / 1024, peak_kb() / 1024, rows]))
"""


def test_a_large_surface_fits_and_takes_little_longer_than_walking_over_it(tmp_path, measured):
    path = tmp_path / "surface.xml"
    side = write_grid(path, MEGABYTES)
    small = tmp_path / "small.xml"
    write_grid(small, 0.1)
    size = path.stat().st_size / 1e6
    found = {}
    for what in ("iterparse", "arrays", "tables"):
        call = [sys.executable, "-c", CODE, what, str(path), str(small)]
        found[what] = json.loads(subprocess.run(call, check=True, capture_output=True, text=True).stdout)
        if what != "iterparse":
            assert found[what][3] == [side**2, 2 * (side - 1) ** 2]
    plain = found["iterparse"][0]
    for what in ("arrays", "tables"):
        spent, before, peak, rows = found[what]
        scaled = before + (peak - before) * max(WHOLE / size, 1.0)
        measured.add(
            "landxml",
            __doc__,
            gives=what,
            megabytes=f"{size:.0f}",
            points=f"{rows[0]:,}",
            faces=f"{rows[1]:,}",
            iterparse_s=f"{plain:.1f}",
            ours_s=f"{spent:.1f}",
            ratio=f"{spent / plain:.2f}",
            peak_MB=f"{peak:.0f}",
            at_500_MB=f"{scaled:.0f}",
        )
        print(
            f"\n{size:.0f} MB, {what}: {spent:.1f} s, iterparse {plain:.1f} s, ratio {spent / plain:.2f}; peak "
            f"{peak:.0f} MB, {scaled:.0f} MB for {WHOLE:.0f} MB of file"
        )
        assert scaled < MOST_MEMORY
        assert spent / plain < MOST
