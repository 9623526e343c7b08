"""Two processes, two hash seeds, two seconds, other row orders: the same bytes."""

import hashlib
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from geoqa.model.results import Results
from geoqa.model.tables.layer import Layers
from geoqa.write.cad.dxf import Drawing
from geoqa.write.cad.landxml import LandXML
from geoqa.write.gis.geojson import GeoJSON
from geoqa.write.gis.geopackage import GeoPackage
from geoqa.write.gis.geoparquet import GeoParquet
from geoqa.write.gis.shapefile import Shapefile
from geoqa.write.sheets.sheets import Sheets
from geoqa.write.summary import Summary
from geoqa.write.tables import Tables

pytestmark = pytest.mark.long

WRITERS = {
    "gpkg": "geoqa.write.gis.geopackage:GeoPackage",
    "geojson": "geoqa.write.gis.geojson:GeoJSON",
    "csv": "geoqa.write.tables:Tables",
    "summary": "geoqa.write.summary:Summary",
    "dxf": "geoqa.write.cad.dxf:Drawing",
    "sheets": "geoqa.write.sheets.sheets:Sheets",
    "shp": "geoqa.write.gis.shapefile:Shapefile",
    "parquet": "geoqa.write.gis.geoparquet:GeoParquet",
    "landxml": "geoqa.write.cad.landxml:LandXML",
}

WRITE_ALL = """
import importlib, importlib.util, sys
spec = importlib.util.spec_from_file_location("small_result", sys.argv[1])
small = importlib.util.module_from_spec(spec)
spec.loader.exec_module(small)
results = small.make_results()
for place in sys.argv[3:]:
    module, name = place.split(":")
    getattr(importlib.import_module(module), name)().write(results, sys.argv[2])
"""


def _hashes(folder):
    files = sorted(path for path in Path(folder).rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def _in_another_process(folder, seed):
    folder.mkdir()
    made_by = [sys.executable, "-c", WRITE_ALL, str(Path(__file__).with_name("conftest.py")), str(folder)]
    environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": "UTC" if seed == "1" else "America/Denver"}
    subprocess.run([*made_by, *WRITERS.values()], check=True, env=environment, timeout=240)
    return _hashes(folder)


def test_two_processes_a_second_apart_write_the_same_bytes(tmp_path):
    first = _in_another_process(tmp_path / "first", "1")
    time.sleep(1.1)
    second = _in_another_process(tmp_path / "second", "2")
    assert len(first) >= 9
    assert first == second


@pytest.mark.parametrize(
    "writer",
    [GeoPackage, GeoJSON, Tables, Summary, Drawing, Sheets, Shapefile, GeoParquet, LandXML],
    ids=lambda each: each.name,
)
def test_rows_in_another_order_give_the_same_bytes(results, tmp_path, writer):
    turned = {name: table.iloc[::-1] for name, table in results.layers.items()}
    other = Results(
        title=results.title,
        layers=Layers(turned, frame=results.layers.frame),
        summary=results.summary,
        record=results.record,
        notes=results.notes,
    )
    for folder, each in (("a", results), ("b", other)):
        (tmp_path / folder).mkdir()
        writer().write(each, tmp_path / folder)
    assert _hashes(tmp_path / "a") == _hashes(tmp_path / "b")
