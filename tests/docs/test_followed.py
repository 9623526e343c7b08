"""A stranger in an empty folder does what a page says, from top to bottom, and sees what it shows."""

import shutil
import site
import sys
import venv

import geopandas
import pandas
import pytest

import geoqa
from bench.pages import ROOT, Reader, blocks, is_followed, pages

pytestmark = [pytest.mark.long, pytest.mark.timeout(900)]


def own_environment(folder):
    """The Python of an environment that has what this one has, so that a page may install a package into it."""
    place = folder / ".venv"
    venv.create(place, with_pip=False, symlinks=True)
    [packages] = (place / "lib").glob("python*/site-packages")
    shared = [each for each in [*site.getsitepackages(), *sys.path] if each.endswith("site-packages")]
    lines = [f"import site; site.addsitedir({each!r})" for each in dict.fromkeys(shared)]
    (packages / "shared.pth").write_text("\n".join(lines) + "\n", encoding="utf-8")
    command = place / "bin" / "geoqa"
    command.write_text('#!/bin/sh\nexec "$(dirname "$0")/python" -m geoqa "$@"\n', encoding="utf-8")
    command.chmod(0o755)
    return str(place / "bin" / "python")


@pytest.mark.parametrize("page", [page for page in pages() if is_followed(page)], ids=lambda page: page.stem)
def test_a_page_can_be_followed(page, tmp_path):
    reader = Reader(
        tmp_path, python=own_environment(tmp_path) if "pip install" in page.read_text("utf-8") else sys.executable
    )
    for block in blocks(page):
        reader.do(block)


def placed(table):
    points = geopandas.points_from_xy(table["easting"], table["northing"], table["elevation"])
    return geopandas.GeoDataFrame(table, geometry=points, crs="EPSG:6547")


def test_what_the_first_page_says_in_python_runs(tmp_path, monkeypatch):
    job = tmp_path / "sample_jobs" / "tannery_lane"
    shutil.copytree(ROOT / "sample_jobs" / "tannery_lane", job)
    monkeypatch.chdir(tmp_path)
    names = {"geoqa": geoqa, "shots": placed(pandas.read_csv(job / "shots" / "day1.csv"))}
    names["marks"] = placed(pandas.read_csv(job / "control.csv"))
    names["design"] = geopandas.read_file(job / "design.gpkg", layer="lines")
    for block in blocks(ROOT / "README.md"):
        if block.language == "python":
            exec(compile(block.text, block.name, "exec"), names)
    assert (tmp_path / "out" / "checked.dxf").is_file()
    assert (tmp_path / "map.html").is_file()
