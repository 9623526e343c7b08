"""Photos that shots name: those that are there, with links that tell no folder of this computer."""

import hashlib

import pandas as pd
import pytest

from geoqa.errors import JobError
from geoqa.job.document.load import load
from geoqa.job.inputs.photos import take_photos

JOB = """
[job]
name = "Invented"
[frame]
horizontal = "EPSG:6547"
[[shots]]
file = "log.csv"
[outputs]
folder = "result/of today"
"""
SHOTS = pd.DataFrame({"photo": ["a b.jpg; c.jpg", "a b.jpg", None, "gone.jpg", "../log.csv"]})


def job(folder, *lines, outputs=""):
    (folder / "log.csv").write_text("point,easting,northing,elevation,code\n1,2,3,4,A\n", "utf-8")
    path = folder / "job.toml"
    path.write_text(JOB + outputs + "\n" + "\n".join(lines), "utf-8")
    return load(path)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "job" / "photos of day 1").mkdir(parents=True)
    for name in ("a b.jpg", "c.jpg", "unnamed.jpg"):
        (tmp_path / "job" / "photos of day 1" / name).write_bytes(b"no picture")
    return tmp_path / "job"


def test_without_a_folder_there_are_none(folder):
    assert take_photos(job(folder), SHOTS) is None


@pytest.mark.parametrize("small", ["", "thumbnails = true"])
def test_those_that_are_there_are_linked_from_the_outputs(folder, small):
    found = take_photos(job(folder, "[photos]", 'folder = "photos of day 1"', small), SHOTS)
    assert found.folder == "../../photos%20of%20day%201/"
    assert found.small == {"a b.jpg": b"", "c.jpg": b""}  # what cannot be made small is linked all the same


def test_a_folder_that_is_not_there_or_would_tell_of_this_computer_is_refused(folder):
    (folder.parent / "elsewhere").mkdir()
    with pytest.raises(JobError, match="there is no such folder beside"):
        take_photos(job(folder, "[photos]", 'folder = "none"'), SHOTS)
    outside = ("[photos]", 'folder = "../elsewhere"')
    with pytest.raises(JobError, match="personal = true"):
        take_photos(job(folder, *outside), SHOTS)
    assert take_photos(job(folder, *outside, outputs="personal = true"), SHOTS).folder == "../../../elsewhere/"


def test_every_photo_that_is_linked_has_its_hash(folder):
    found = take_photos(job(folder, "[photos]", 'folder = "photos of day 1/"'), SHOTS)
    same = hashlib.sha256(b"no picture").hexdigest()
    assert found.hashes == {"photos of day 1/a b.jpg": same, "photos of day 1/c.jpg": same}
