"""An output folder against its record, its inputs, and the run made once more."""

import csv
import json
import os
import platform
import re
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest
from click.testing import CliRunner

from geoqa.cli import main
from geoqa.errors import OutputError
from geoqa.job.earlier import RECORD
from geoqa.job.run import run
from geoqa.review.last_digits import SAID, only_last_digits
from geoqa.review.recorded import recorded
from geoqa.review.verify import _rows_apart, verify
from tests.review import job_of_four


@pytest.fixture
def job(judged, tmp_path):
    """A copy of the job with its outputs, to be spoilt."""
    shutil.copytree(judged[0].parent, tmp_path / "job")
    return tmp_path / "job" / judged[0].name


@pytest.mark.long
def test_what_nobody_touched_is_identical_and_says_how_many_files_that_are(job):
    told = CliRunner().invoke(main, ["verify", str(job.parent / "out")])
    assert told.exit_code == 0, told.output
    count = len(json.loads((job.parent / "out" / RECORD).read_text("utf-8"))["outputs"])
    assert told.output.startswith(f"Identical: {count} files of out are what the record says")


@pytest.mark.long
def test_an_output_that_was_changed_and_one_that_is_gone_are_named(job):
    out = job.parent / "out"
    (out / "findings.csv").write_text((out / "findings.csv").read_text("utf-8").replace("OUT", "IN"), "utf-8")
    (out / "shots.csv").unlink()
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    told = CliRunner().invoke(main, ["verify", str(out)])
    assert told.exit_code == 1
    assert "findings.csv: changed" in told.output
    assert "shots.csv: missing" in told.output
    assert "Made otherwise" not in told.output  # the job itself makes what it made
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


def test_ids_with_fewer_digits_are_told_and_rows_are_still_known_by_them(judged, tmp_path):
    now, then = judged[0].parent / "out" / "findings.csv", tmp_path / "findings.csv"
    text = re.sub(r"(F[0-9a-f]{12})[0-9a-f]{4}\b", r"\1", now.read_text("utf-8"))
    then.write_text(text, "utf-8")
    count = len(text.splitlines()) - 1
    assert _rows_apart(then, now, "finding") == f"ids with fewer digits: {count}"
    then.write_text("".join(text.splitlines(keepends=True)[:-1]), "utf-8")
    assert _rows_apart(then, now, "finding") == f"ids with fewer digits: {count - 1}; new rows: 1"


@pytest.mark.long
def test_a_shot_that_was_moved_since_names_its_file_and_the_number_that_differs(job):
    log = job.parent / "log.csv"
    log.write_text(log.read_text("utf-8").replace("500020.350", "500020.050"), "utf-8")
    found = verify(job.parent / "out")
    assert found.inputs == {"log.csv": "changed"}
    assert found.outputs == {}
    assert not found.identical
    rows = list(csv.DictReader((job.parent / "out" / "findings.csv").open(encoding="utf-8")))
    moved = next(row["finding"] for row in rows if row["subject"] == "V-2")
    assert moved in found.differing["findings.csv"]


@pytest.mark.long
def test_a_photo_that_was_changed_since_is_named_and_one_that_no_shot_names_is_not(job):
    folder, log = job.parent / "photos", job.parent / "log.csv"
    folder.mkdir()
    for name in ("valve.jpg", "gone.jpg", "other.jpg"):
        (folder / name).write_bytes(b"as it was")
    names = ("photo", "", "valve.jpg", "gone.jpg", "")
    rows = zip(log.read_text("utf-8").splitlines(), names, strict=True)
    log.write_text("\n".join(f"{row},{name}" for row, name in rows), "utf-8")
    job.write_text(job.read_text("utf-8") + '[photos]\nfolder = "photos"\n', "utf-8")
    run(job)
    assert verify(job.parent / "out").identical
    (folder / "valve.jpg").write_bytes(b"as it is")
    (folder / "gone.jpg").unlink()
    (folder / "other.jpg").write_bytes(b"as it is")
    found = verify(job.parent / "out")
    assert found.inputs == {"photos/gone.jpg": "not read any more", "photos/valve.jpg": "changed"}
    assert not found.identical


@pytest.mark.long
def test_a_limit_that_was_changed_since_is_a_changed_job_file(job):
    job.write_text(job.read_text("utf-8").replace("0.10 m", "0.50 m"), "utf-8")
    found = verify(job.parent / "out")
    assert found.inputs == {"four.toml": "changed"}
    assert "findings.csv" in found.differing


@pytest.mark.long
def test_another_version_is_said_and_is_no_difference_by_itself(job):
    record = job.parent / "out" / RECORD
    facts = json.loads(record.read_text("utf-8"))
    facts["versions"]["numpy"] = "1.0"
    record.write_text(json.dumps(facts), "utf-8")
    found = verify(job.parent / "out")
    assert found.identical
    assert found.versions["numpy"][0] == "1.0"


@pytest.mark.parametrize(
    ("record", "told"),
    [
        (None, r"holds no record.json"),
        ("{", "cannot be read as the record"),
        ("[]", "cannot be read as the record"),
        ('{"versions": {}, "geoqa": "1", "inputs": [], "job": {}, "outputs": {}}', "cannot be read as the record"),
        (
            '{"versions": {}, "geoqa": "1", "inputs": [], "job": {"file": "j", "sha256": ""},'
            ' "outputs": {"../../x": "0"}}',
            "outside its folder",
        ),
    ],
)
def test_a_folder_without_an_honest_record_is_refused(tmp_path, record, told):
    if record is not None:
        (tmp_path / RECORD).write_text(record, "utf-8")
    with pytest.raises(OutputError, match=told):
        recorded(tmp_path)


@pytest.mark.long
def test_a_folder_that_was_sent_alone_asks_for_its_job_file(job, tmp_path):
    alone = tmp_path / "a" / "b" / "c" / "d" / "sent"
    shutil.copytree(job.parent / "out", alone)
    with pytest.raises(OutputError, match=r"four.toml .* Name it with --job"):
        verify(alone)
    assert verify(alone, job=job).identical


@pytest.mark.long
@pytest.mark.skipif(platform.machine() not in ("x86_64", "AMD64"), reason="names a kernel of that processor")
def test_what_another_processor_makes_otherwise_is_told_as_last_digits_and_the_record_says_that_it_may_be(tmp_path):
    """The linear algebra of an older processor, in place of one: kernels are chosen by what it has."""
    job = job_of_four.write(tmp_path)
    job.write_text(job.read_text("utf-8").replace('layers = ["csv", "summary"]', 'layers = ["csv", "gpkg"]'), "utf-8")
    older = {"OPENBLAS_CORETYPE": "Prescott", "NPY_DISABLE_CPU_FEATURES": "X86_V3 X86_V4"}
    said = subprocess.run(
        [sys.executable, "-m", "geoqa", "run", "--quiet", str(job)],
        env=os.environ | older,
        capture_output=True,
        check=False,
        timeout=240,
    )
    assert said.returncode == 1, said.stderr
    found = verify(tmp_path / "out")
    assert set(found.differing.values()) <= {SAID}
    assert set(found.differing) <= {"checked.gpkg", "audit.gpkg"}
    assert "another processor" in json.loads((tmp_path / "out" / RECORD).read_text("utf-8"))["last_digits"]


@pytest.fixture
def package(tmp_path):
    """Writes a GeoPackage of two numbers, a name and a shape."""
    import geopandas
    import shapely

    def make(name, *, value=0.1, text="a", east=500000.0):
        path = tmp_path / name
        shapes = [shapely.Point(east, 2.0), shapely.Point(3.0, 4.0)]
        geopandas.GeoDataFrame({"v": [value, 2.0], "t": [text, "b"]}, geometry=shapes, crs="EPSG:32614").to_file(
            path, layer="t"
        )
        with closing(sqlite3.connect(path)) as file:
            file.execute("UPDATE gpkg_contents SET last_change = '2026-01-01T00:00:00.000Z'")
            file.commit()
        return path

    return make


@pytest.mark.parametrize(
    ("other", "same"),
    [
        ({}, True),
        ({"value": 0.1 + 1e-15}, True),
        ({"east": 500000.0 + 1e-10}, True),
        ({"value": 0.1 + 1e-6}, False),
        ({"value": float("nan")}, False),
        ({"east": 500000.001}, False),
        ({"text": "c"}, False),
    ],
)
def test_last_digits_are_no_more_than_that(package, other, same):
    assert only_last_digits(package("a.gpkg"), package("b.gpkg", **other)) is same


def test_a_file_that_was_damaged_differs_in_more_than_last_digits(package, tmp_path):
    first, other = package("a.gpkg"), package("b.gpkg")
    other.write_bytes(other.read_bytes()[:2000])
    assert not only_last_digits(first, other)
    assert not only_last_digits(tmp_path / "gone.gpkg", first)
    assert not only_last_digits(tmp_path / "a.csv", first)
