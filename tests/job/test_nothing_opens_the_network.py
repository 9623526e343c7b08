"""Whatever a folder holds, nothing in it makes geoqa open an address, or a file that the job does not name."""

import socket
from contextlib import suppress

import fiona
import numpy as np
import pytest
import rasterio
from affine import Affine
from click.testing import CliRunner

from geoqa.cli import main

pytestmark = pytest.mark.long

EAST, NORTH = 2_228_000.0, 446_000.0
JOB = """\
[job]
name = "Corner"
[frame]
horizontal = "EPSG:6547"
[[shots]]
file = "shots.csv"
[[design]]
file = "design.shp"
[codes]
file = "codes.csv"
[tolerance.walk-front]
horizontal = "0.15 ft"
reference = "Drawing C-101"
[uncertainty.default]
horizontal_random = "0.02 ft"
reference = "invented"
[outputs]
layers = ["csv"]
"""
PICTURE = '[background]\nfile = "ortho.tif"\n'


@pytest.fixture
def listener(monkeypatch):
    """An address on this machine, and how many have called there since it was last asked."""
    # a library that waits for an answer lets no thread of this process give one; so it waits two seconds in vain
    monkeypatch.setenv("GDAL_HTTP_TIMEOUT", "2")
    door = socket.create_server(("127.0.0.1", 0), backlog=50)
    door.setblocking(False)

    def calls():
        count = 0
        with suppress(BlockingIOError):
            while True:
                door.accept()[0].close()
                count += 1
        return count

    yield f"http://127.0.0.1:{door.getsockname()[1]}", calls
    door.close()


def recipe(address):
    return f"""<OGRVRTDataSource><OGRVRTLayer name="a"><SrcDataSource>/vsicurl/{address}/a.geojson</SrcDataSource>
</OGRVRTLayer></OGRVRTDataSource>"""


def picture_recipe(address):
    return f"""<VRTDataset rasterXSize="8" rasterYSize="8"><VRTRasterBand dataType="Byte" band="1"><SimpleSource>
<SourceFilename>/vsicurl/{address}/a.tif</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>"""


def note(address):
    return f"""<PAMDataset><Metadata domain="OVERVIEWS">
<MDI key="OVERVIEW_FILE">/vsicurl/{address}/b.tif</MDI></Metadata></PAMDataset>"""


def write_job(folder, text):
    (folder / "job.toml").write_text(text, encoding="utf-8")
    rows = "".join(f"{n},{EAST + 5 * n:.2f},{NORTH + 0.02:.2f},900.00,WKF\n" for n in range(1, 9))
    (folder / "shots.csv").write_text("point,easting,northing,elevation,code\n" + rows, encoding="utf-8")
    (folder / "codes.csv").write_text("code,kind,geometry\nWKF,walk-front,line\n", encoding="utf-8")


def write_picture(path):
    place = Affine(10.0, 0, EAST - 100, 0, -10.0, NORTH + 200)
    shape = {"driver": "GTiff", "width": 64, "height": 64, "count": 1, "dtype": "uint8"}
    with rasterio.open(path, "w", crs="EPSG:6547", transform=place, **shape) as file:
        file.write(np.full((1, 64, 64), 200, np.uint8))


def commands(folder):
    job = folder / "job.toml"
    for words in (["check", job], ["run", job], ["day", job], ["day", folder / "shots.csv"]):
        yield CliRunner().invoke(main, [str(each) for each in words])
    job.unlink()
    yield CliRunner().invoke(main, ["init", str(folder)])


def test_a_recipe_in_a_file_that_is_called_a_shapefile_is_refused_by_every_command(tmp_path, listener):
    address, calls = listener
    write_job(tmp_path, JOB)
    (tmp_path / "design.shp").write_text(recipe(address), encoding="utf-8")
    with pytest.raises((fiona.errors.FionaError, OSError)), fiona.open(tmp_path / "design.shp") as file:
        list(file)
    assert calls(), "the bait does not work, so that nothing would be shown"
    ends = list(commands(tmp_path))
    assert calls() == 0
    assert all(each.exit_code != 4 for each in ends), [each.output for each in ends]
    assert "'design.shp' is no shapefile, whatever its name says" in ends[1].output


@pytest.mark.parametrize("beside", ["ortho.tif.ovr", "ortho.tif.aux.xml"])
def test_what_lies_beside_a_picture_leads_nowhere(tmp_path, listener, beside):
    address, calls = listener
    write_job(tmp_path, JOB.replace('[[design]]\nfile = "design.shp"\n', "") + PICTURE)
    write_picture(tmp_path / "ortho.tif")
    made = note if beside.endswith("xml") else picture_recipe
    (tmp_path / beside).write_text(made(address), encoding="utf-8")
    with rasterio.open(tmp_path / "ortho.tif") as file:
        file.overviews(1)
    assert calls(), "the bait does not work, so that nothing would be shown"
    ends = list(commands(tmp_path))
    assert calls() == 0
    assert all(each.exit_code != 4 for each in ends), [each.output for each in ends]
    assert f"'{beside}', beside 'ortho.tif'" in ends[1].output


@pytest.mark.parametrize("beside", ["ortho.tif.msk", "ORTHO.msk", "ortho.tif.ovr.ovr", "ortho.tif.ovr.aux.xml"])
def test_neither_do_masks_nor_what_lies_beside_what_lies_beside(tmp_path, listener, beside):
    address, calls = listener
    write_job(tmp_path, JOB.replace('[[design]]\nfile = "design.shp"\n', "") + PICTURE)
    write_picture(tmp_path / "ortho.tif")
    if ".ovr." in beside:
        write_picture(tmp_path / "ortho.tif.ovr")
    made = note if beside.endswith("xml") else picture_recipe
    (tmp_path / beside).write_text(made(address), encoding="utf-8")
    ends = list(commands(tmp_path))
    assert calls() == 0
    assert all(each.exit_code != 4 for each in ends), [each.output for each in ends]
    assert f"'{beside}', beside 'ortho.tif'" in ends[1].output


def test_a_picture_that_names_others_inside_itself_leads_nowhere(tmp_path, listener):
    address, calls = listener
    write_job(tmp_path, JOB.replace('[[design]]\nfile = "design.shp"\n', "") + PICTURE)
    write_picture(tmp_path / "ortho.tif")
    with rasterio.open(tmp_path / "ortho.tif", "r+") as file:
        file.update_tags(ns="OVERVIEWS", OVERVIEW_FILE=f"/vsicurl/{address}/b.tif")
    with rasterio.open(tmp_path / "ortho.tif") as file:
        file.overviews(1)
    assert calls(), "the bait does not work, so that nothing would be shown"
    ends = list(commands(tmp_path))
    assert calls() == 0
    assert all(each.exit_code != 4 for each in ends), [each.output for each in ends]
