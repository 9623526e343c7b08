"""A job with a picture under its map: on record, the same every time, and without a word in any verdict."""

import hashlib
import json

import numpy as np
import pyproj
import pytest
import rasterio
from affine import Affine

from geoqa.errors import FrameError, JobError, OutputError, SourceError
from geoqa.job.check import check
from geoqa.job.document.load import load
from geoqa.job.inputs.intake import take_in
from geoqa.job.run import run

pytestmark = [pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning"), pytest.mark.long]

EAST, NORTH = 2_228_000.0, 446_000.0

JOB = """\
[job]
name = "Corner"
[frame]
horizontal = "EPSG:6547"
[[shots]]
file = "shots.csv"
[control]
file = "control.csv"
[codes]
file = "codes.csv"
[tolerance.control]
horizontal = "0.07 ft"
reference = "Drawing C-101, note 4"
[uncertainty.default]
horizontal_random = "0.02 ft"
reference = "invented"
[outputs]
layers = ["csv"]
"""
PICTURE = '[background]\nfile = "pictures/ortho.tif"\ncaption = "Flight of 2026-05"\nopacity = 0.4\n'


@pytest.fixture
def job(tmp_path):
    return write_job(tmp_path)


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    """Two runs of the job with the picture: its findings, and the files of each run."""
    job = write_job(tmp_path_factory.mktemp("job"))
    files = []
    for _ in range(2):
        results = run(job)
        files.append({path.name: path.read_bytes() for path in (job.parent / "out").iterdir()})
    return results, files, job


@pytest.fixture(scope="module")
def bare(tmp_path_factory):
    """The same job without the picture."""
    job = write_job(tmp_path_factory.mktemp("bare"))
    change(job, PICTURE, "")
    return run(job), (job.parent / "out" / "map.html").read_text(encoding="utf-8")


def write_job(tmp_path):
    marks = [("CP-1", EAST + 20, NORTH + 30), ("CP-2", EAST + 380, NORTH + 270)]
    rows = [f"{name},{east:.3f},{north:.3f},1460.000" for name, east, north in marks]
    (tmp_path / "control.csv").write_text("\n".join(["mark,easting,northing,elevation", *rows]) + "\n")
    shots = [f"{i},{east + 0.03:.3f},{north:.3f},1460.01,CHK,{name}" for i, (name, east, north) in enumerate(marks, 1)]
    (tmp_path / "shots.csv").write_text("\n".join(["point,easting,northing,elevation,code,line_id", *shots]) + "\n")
    (tmp_path / "codes.csv").write_text("code,kind,geometry,role\nCHK,control,point,check\n")
    (tmp_path / "pictures").mkdir()
    x, y = pyproj.Transformer.from_crs("EPSG:6547", "EPSG:6343", always_xy=True).transform(EAST + 200, NORTH + 150)
    bands = np.random.default_rng(1).integers(80, 160, (3, 500, 600), np.uint8)
    profile = {"driver": "GTiff", "count": 3, "dtype": "uint8", "width": 600, "height": 500, "crs": "EPSG:6343"}
    with rasterio.open(
        tmp_path / "pictures" / "ortho.tif", "w", **profile, transform=Affine(0.3, 0, x - 90, 0, -0.3, y + 75)
    ) as out:
        out.write(bands)
    (tmp_path / "job.toml").write_text(JOB + PICTURE)
    return tmp_path / "job.toml"


def change(job, old, new):
    text = job.read_text()
    assert old in text
    job.write_text(text.replace(old, new))


def test_the_picture_is_in_the_map_and_on_record_with_its_hash(ran):
    _, (files, _), job = ran
    record = json.loads(files["record.json"])
    held = next(each for each in record["inputs"] if each["role"] == "background")
    data = (job.parent / "pictures" / "ortho.tif").read_bytes()
    assert held["path"] == "pictures/ortho.tif"
    assert held["sha256"] == hashlib.sha256(data).hexdigest()
    assert held["reader"] == "background.tif"
    assert any(each.startswith("pictures/ortho.tif: unit of the picture: metre") for each in record["evidence"])
    page = files["map.html"].decode("utf-8")
    assert "Flight of 2026-05 (ortho.tif), pixel 0.98" in page
    assert "Picture only: nothing is measured on it." in page


def test_the_same_job_gives_the_same_map_and_record(ran):
    _, (first, second), _ = ran
    assert first == second


def test_verdicts_do_not_know_of_the_picture(ran, bare):
    with_picture, without = ran[0], bare[0]
    assert len(with_picture.findings)
    assert with_picture.findings.drop(columns="geometry").equals(without.findings.drop(columns="geometry"))
    assert without.background is None


def test_a_job_without_a_picture_has_nothing_of_it_in_its_map(bare):
    page = bare[1]
    assert "createImageBitmap" not in page
    assert 'id="geoqa-background"' not in page
    about = json.loads(page.split('id="geoqa-about">')[1].split("</script>")[0])
    assert "background" not in about


def test_the_picture_covers_the_job_and_a_margin(job):
    picture = take_in(load(job)).background.picture
    box = (EAST + 20 - 60, NORTH + 30 - 60, EAST + 380 + 60, NORTH + 270 + 60)
    assert picture.west == pytest.approx(box[0], abs=picture.pixel)
    assert picture.north == pytest.approx(box[3], abs=picture.pixel)
    assert picture.west + picture.width * picture.pixel == pytest.approx(box[2], abs=picture.pixel)


def test_a_world_file_is_on_record_too(job):
    folder = job.parent / "pictures"
    with rasterio.open(folder / "ortho.tif") as raster:
        bands, place = raster.read(), raster.transform
    with rasterio.open(folder / "ortho.png", "w", driver="PNG", count=3, width=600, height=500, dtype="uint8") as out:
        out.write(bands)
    lines = (place.a, 0, 0, place.e, place.c + place.a / 2, place.f + place.e / 2)
    (folder / "ortho.pgw").write_text("\n".join(f"{each:.6f}" for each in lines) + "\n")
    change(job, 'ortho.tif"', 'ortho.png"\nframe = "EPSG:6343"')
    sources = take_in(load(job)).layers["sources"]
    held = sources[sources["role"] == "background"]
    assert held["path"].tolist() == ["pictures/ortho.png", "pictures/ortho.pgw"]
    assert held["sha256"].str.len().eq(64).all()


def test_what_is_wrong_with_a_picture_is_told_by_check_and_stops_the_run(job):
    (job.parent / "pictures" / "ortho.tif").write_bytes(b"II*\0")
    (job.parent / "control.csv").unlink()
    problems = check(job).problems
    assert [each.split(":")[0] for each in problems] == ["control.csv", "ortho.tif"]
    (job.parent / "pictures" / "ortho.tif").unlink()
    assert any("pictures/ortho.tif: there is no such file" in each for each in check(job).problems)
    (job.parent / "control.csv").write_text(f"mark,easting,northing,elevation\nCP-1,{EAST},{NORTH},1460\n")
    with pytest.raises(SourceError, match=r"pictures/ortho.tif: there is no such file"):
        run(job)


def test_another_datum_stops_the_run_with_the_way_out(job):
    with rasterio.open(job.parent / "pictures" / "ortho.tif", "r+") as raster:
        raster.crs = "EPSG:32614"
    assert any("another datum" in each for each in check(job).problems)
    with pytest.raises(FrameError, match="accept = true"):
        run(job)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("opacity = 0.4", "opacity = 4", "less than or equal to 1"),
        ("opacity", "opacty", "did you mean opacity?"),
        ("ortho.tif", "ortho.vrt", r"no reader for background files that end in .vrt; known: .*\.tif"),
    ],
)
def test_a_slip_in_the_job_file_is_told_with_its_line(job, old, new, said):
    change(job, old, new)
    with pytest.raises(JobError, match=said):
        load(job)


def test_no_output_replaces_the_picture(job):
    (job.parent / "out").mkdir()
    change(job, "pictures/ortho.tif", "out/map.html")
    change(job, "[background]", '[background]\nuse = "background.tif"')
    (job.parent / "pictures" / "ortho.tif").rename(job.parent / "out" / "map.html")
    with pytest.raises(OutputError, match=r"map.html would replace map.html, which was read"):
        run(job)
