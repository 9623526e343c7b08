"""Photos made small: upright, and of their pixels alone; the tags are written by another library."""

from io import BytesIO

import numpy as np
import pytest

from geoqa.errors import SourceError
from geoqa.read.photo import PhotoFile

Image = pytest.importorskip("PIL.Image", reason="Pillow is not installed")
ImageOps = pytest.importorskip("PIL.ImageOps", reason="Pillow is not installed")
ORIENTATION, CAMERA, PLACE = 0x0112, 0x0110, 0x8825  # tags of Exif 2.32, 4.6
SIDE = 100


def photo(path, turned=1):
    """400 by 200 pixels, red at the upper left corner as it is stored, with a place and a camera."""
    colours = np.full((200, 400, 3), 200, dtype=np.uint8)
    colours[:50, :50] = (250, 0, 0)
    exif = Image.Exif()
    exif[ORIENTATION], exif[CAMERA] = turned, "PLACEWORD"
    exif.get_ifd(PLACE).update({1: "N", 2: (46.0, 52.0, 30.0), 3: "W", 4: (96.0, 47.0, 0.0)})
    Image.fromarray(colours).save(path, exif=exif, quality=95)
    return path


@pytest.mark.parametrize("turned", range(1, 9))
def test_a_small_copy_is_upright_and_tells_neither_place_nor_camera(tmp_path, turned):
    path = photo(tmp_path / "a.jpg", turned)
    before = path.read_bytes()
    assert b"PLACEWORD" in before
    made = PhotoFile().small(path, side=SIDE)
    small = Image.open(BytesIO(made))
    upright = ImageOps.exif_transpose(Image.open(path))  # what the other library shows
    assert small.size == ((100, 50) if turned < 5 else (50, 100))
    apart = np.abs(np.asarray(small, dtype=int) - np.asarray(upright.resize(small.size), dtype=int))
    assert apart.mean() < 4
    assert dict(small.getexif()) == {}
    for word in (b"Exif", b"GPS", b"PLACEWORD", b"adobe"):
        assert word not in made
    assert path.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == ["a.jpg"]


def test_the_same_photo_gives_the_same_bytes_and_a_grey_one_is_grey(tmp_path):
    path = tmp_path / "grey.png"
    Image.fromarray(np.full((30, 40), 90, dtype=np.uint8)).save(path)
    first, second = (PhotoFile().small(path, side=SIDE) for _ in range(2))
    assert first == second
    assert Image.open(BytesIO(first)).size == (40, 30)
    assert PhotoFile().peek(path).evidence[0].answer == "40 by 30 pixels"


@pytest.mark.parametrize("content", [b"", b"no picture", b"<VRTDataset></VRTDataset>"])
def test_what_is_no_photo_is_refused_by_its_name(tmp_path, content):
    path = tmp_path / "b.jpg"
    path.write_bytes(content)
    with pytest.raises(SourceError, match=r"b\.jpg"):
        PhotoFile().small(path, side=SIDE)
