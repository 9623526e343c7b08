"""Pictures under the map: every pixel where rasterio and pyproj put it, and refusals that say what to do."""

import math
import time

import numpy as np
import pyproj
import pytest
import rasterio
from affine import Affine
from rasterio.enums import ColorInterp
from rasterio.io import MemoryFile

from geoqa.errors import FrameError, SourceError
from geoqa.frames.systems.resolve import resolve
from geoqa.read import background
from geoqa.read.background import MOST_BYTES, MOST_PIXELS, BackgroundRaster

pytestmark = pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")

JOB = resolve("EPSG:6547")  # NAD83(2011) / North Dakota South, international foot
EAST, NORTH = 2_228_000.0, 446_000.0
BOX = (EAST, NORTH, EAST + 400.0, NORTH + 300.0)


def write(path, bands, transform, crs, **more):
    bands = np.atleast_3d(bands) if bands.ndim == 3 else bands[None]
    profile = {"count": len(bands), "height": bands.shape[1], "width": bands.shape[2], "dtype": bands.dtype.name}
    with rasterio.open(path, "w", **({"driver": "GTiff"} | profile | more), transform=transform, crs=crs) as out:
        out.write(bands)
    return path


def shown(path, *, box=BOX, frame=JOB, declared=None, accept=False):
    return BackgroundRaster().picture(path, frame=frame, box=box, declared=declared, accept=accept, what=path.name)


def pixels_of(picture):
    with MemoryFile(picture.data) as memory, memory.open() as raster:
        return raster.read()


def ground(shape=(3, 300, 400), value=110):
    return np.full(shape, value, np.uint8)


def marks(bands, spots, size=2):
    for row, column in spots:
        bands[:, row - size : row + size + 1, column - size : column + size + 1] = 255
    return bands


def bright(picture):
    """Easting and northing of the centre of each bright spot, by the picture's own place and pixel."""
    from scipy.ndimage import center_of_mass, label

    grey = pixels_of(picture)[:3].mean(axis=0)
    spots, count = label(grey > 180)
    centres = np.array(center_of_mass(np.where(grey > 180, grey - 110, 0), spots, range(1, count + 1)))
    return np.column_stack(
        [picture.west + (centres[:, 1] + 0.5) * picture.pixel, picture.north - (centres[:, 0] + 0.5) * picture.pixel]
    )


def nearest(found, expected):
    """Distance from each expected place to the nearest found one."""
    return np.hypot(*(found[None, :, :] - np.asarray(expected)[:, None, :]).transpose(2, 0, 1)).min(axis=1)


SPOTS = ((20, 30), (150, 200), (280, 370), (40, 350))


@pytest.mark.parametrize("pixel", [1.0, 0.37, 2.5])
def test_a_picture_in_the_jobs_grid_lies_where_rasterio_says(tmp_path, pixel):
    transform = Affine(pixel, 0, EAST + 3.21, 0, -pixel, NORTH + 300.4)
    path = write(tmp_path / "o.tif", marks(ground(), SPOTS), transform, "EPSG:6547")
    wide = (EAST - 100.0, NORTH - 1000.0, EAST + 1100.0, NORTH + 500.0)
    picture = shown(path, box=wide)
    expected = [rasterio.transform.xy(transform, row, column) for row, column in SPOTS]
    assert picture.pixel == pytest.approx(pixel, rel=1e-9)
    assert picture.own_pixel == pytest.approx(pixel, rel=1e-9)
    assert nearest(bright(picture), expected).max() < 0.5 * pixel
    assert len(bright(picture)) == len(SPOTS)


def test_a_picture_that_is_turned_is_laid_straight(tmp_path):
    transform = Affine.translation(EAST + 100, NORTH + 320) @ Affine.rotation(-31.0) @ Affine.scale(0.9, -0.9)
    path = write(tmp_path / "o.tif", marks(ground(), SPOTS, size=3), transform, "EPSG:6547")
    picture = shown(path, box=(EAST - 1000, NORTH - 1000, EAST + 1000, NORTH + 1000))
    expected = [rasterio.transform.xy(transform, row, column) for row, column in SPOTS]
    assert nearest(bright(picture), expected).max() < 0.45
    assert pixels_of(picture).shape[0] == 4  # its corners are transparent


@pytest.mark.parametrize(
    ("code", "pixel", "unit"),
    [
        ("EPSG:6343", 0.3, 0.3048),  # UTM zone 14N, metres
        ("EPSG:6344", 0.3, 0.3048),  # the next zone: turned by six degrees of convergence and more
        ("EPSG:6545", 1.0, 1.0),  # the zone to the north, feet
        ("EPSG:6546", 0.3, 0.3048),  # the job's own zone in metres
    ],
)
def test_a_picture_of_another_projection_is_warped_to_where_pyproj_puts_it(tmp_path, code, pixel, unit):
    there = pyproj.Transformer.from_crs("EPSG:6547", code, always_xy=True)
    back = pyproj.Transformer.from_crs(code, "EPSG:6547", always_xy=True)
    x, y = there.transform(EAST + 200, NORTH + 150)
    transform = Affine(pixel, 0, x - 200 * pixel, 0, -pixel, y + 150 * pixel)
    path = write(tmp_path / "o.tif", marks(ground(), SPOTS, size=3), transform, code)
    picture = shown(path, box=(EAST - 500, NORTH - 500, EAST + 900, NORTH + 800))
    expected = [back.transform(*rasterio.transform.xy(transform, row, column)) for row, column in SPOTS]
    assert nearest(bright(picture), expected).max() < 0.5 * picture.own_pixel
    assert picture.own_pixel == pytest.approx(pixel / unit, rel=0.005)  # scale of the projection
    assert any("picture" in each.what for each in picture.evidence)


def test_the_other_foot_is_told_and_taken_into_account(tmp_path):
    head, axes = pyproj.CRS("EPSG:6546").to_wkt().split("CS[Cartesian,2]")  # the job's zone, in metres
    axes = axes.replace('LENGTHUNIT["metre",1]', 'LENGTHUNIT["US survey foot",0.304800609601219]')
    other = f"{head}CS[Cartesian,2]{axes.rsplit(',ID[', 1)[0]}]".replace("North Dakota South", "site, other foot")
    there = pyproj.Transformer.from_crs("EPSG:6547", other, always_xy=True)
    back = pyproj.Transformer.from_crs(other, "EPSG:6547", always_xy=True)
    x, y = there.transform(EAST + 200, NORTH + 150)
    assert EAST + 200 - x == pytest.approx(4.456, abs=0.01)  # two parts in a million: several pixels here
    transform = Affine(1, 0, x - 200, 0, -1, y + 150)
    path = write(tmp_path / "o.tif", marks(ground(), SPOTS, size=3), transform, rasterio.CRS.from_wkt(other))
    picture = shown(path, box=(EAST - 300, NORTH - 300, EAST + 700, NORTH + 600))
    expected = [back.transform(*rasterio.transform.xy(transform, row, column)) for row, column in SPOTS]
    assert nearest(bright(picture), expected).max() < 0.5
    told = next(each for each in picture.evidence if each.what == "unit of the picture")
    assert "US survey foot" in told.answer
    assert "international foot" in told.answer


def test_nothing_is_said_of_elevations_which_a_picture_has_not(tmp_path):
    job = resolve("EPSG:6547", "EPSG:5703")  # feet, with heights in metres
    path = write(tmp_path / "o.tif", ground(), Affine(1, 0, EAST, 0, -1, NORTH + 300), "EPSG:6547+5703")
    assert not any("elevation" in str(each) for each in shown(path, frame=job).evidence)


@pytest.mark.long
def test_only_the_box_is_shown_and_no_finer_than_the_ceiling(tmp_path):
    transform = Affine(0.05, 0, EAST - 50, 0, -0.05, NORTH + 350)
    path = write(tmp_path / "o.tif", np.full((8000, 10000), 90, np.uint8), transform, "EPSG:6547", tiled=True)
    picture = shown(path)
    assert picture.width * picture.height <= 1.002 * MOST_PIXELS
    assert picture.own_pixel == pytest.approx(0.05)
    assert picture.pixel == pytest.approx(math.sqrt(400 * 300 / MOST_PIXELS), rel=0.01)
    assert BOX[0] - picture.pixel < picture.west <= BOX[0]
    assert BOX[3] <= picture.north < BOX[3] + picture.pixel


def test_what_does_not_fit_into_the_page_is_made_coarser(tmp_path, monkeypatch):
    assert MOST_BYTES * 4 / 3 <= 3e6
    monkeypatch.setattr(background, "MOST_BYTES", 40_000)
    noise = np.random.default_rng(3).integers(0, 256, (3, 300, 400), np.uint8)
    path = write(tmp_path / "o.tif", noise, Affine(1, 0, EAST, 0, -1, NORTH + 300), "EPSG:6547")
    picture = shown(path)
    assert len(picture.data) <= 40_000
    assert picture.pixel > 1.2 * picture.own_pixel


@pytest.mark.long
def test_a_hundred_million_pixels_are_read_coarsely(tmp_path):
    import tracemalloc

    path, size = tmp_path / "huge.tif", 10_000
    profile = {"driver": "GTiff", "count": 3, "dtype": "uint8", "width": size, "height": size, "crs": "EPSG:6547"}
    transform = Affine(0.1, 0, EAST, 0, -0.1, NORTH + 1000)
    with rasterio.open(path, "w", **profile, transform=transform, tiled=True, compress="lzw") as out:
        row = np.full((3, 1000, size), 110, np.uint8)
        for top in range(0, size, 1000):
            row[:, :, :] = 110
            row[:, 500:540, 5000:5040] = 255
            out.write(row, window=rasterio.windows.Window(0, top, size, 1000))
    tracemalloc.start()
    begun = time.process_time()
    picture = shown(path, box=(EAST, NORTH, EAST + 1000, NORTH + 1000))
    took, (_, peak) = time.process_time() - begun, tracemalloc.get_traced_memory()
    tracemalloc.stop()
    expected = [rasterio.transform.xy(transform, top + 519.5, 5019.5) for top in range(0, size, 1000)]
    assert nearest(bright(picture), expected).max() < 0.5 * picture.pixel
    assert peak < 150e6  # three bands of the file alone are 300 MB
    assert took < 60


def test_no_data_and_alpha_are_transparent_without_dark_rims(tmp_path):
    grey = ground((1, 300, 400), 200)
    grey[0, :, :200] = 0
    place = Affine(1, 0, EAST, 0, -1, NORTH + 300)
    by_value = pixels_of(shown(write(tmp_path / "a.tif", grey, place, "EPSG:6547", nodata=0)))
    alpha = np.concatenate([ground((3, 300, 400), 200), np.where(grey == 0, 0, 255).astype(np.uint8)])
    path = write(tmp_path / "b.tif", alpha, place, "EPSG:6547", photometric="RGB", alpha="YES")
    for made in (by_value, pixels_of(shown(path))):
        assert made.shape[0] == 4
        assert (made[3, :, :190] == 0).all()
        assert (made[3, :, 210:] == 255).all()
        assert (np.abs(made[:3, :, 201:].astype(int) - 200) <= 6).all()


def test_sixteen_bits_are_stretched_and_the_stretch_is_said(tmp_path):
    ramp = np.tile(np.linspace(1000, 3000, 400).astype(np.uint16), (300, 1))
    picture = shown(write(tmp_path / "o.tif", ramp, Affine(1, 0, EAST, 0, -1, NORTH + 300), "EPSG:6547"))
    low, high = np.percentile(ramp, [2, 98])
    assert picture.remarks == (f"values {low:.5g} to {high:.5g} are drawn from black to white",)
    made = pixels_of(picture)[0, 150].astype(int)
    assert made[:5].max() <= 6
    assert made[-5:].min() >= 249
    assert made[200] == pytest.approx(127.5, abs=5)


def test_a_surface_with_missing_cells_is_drawn_with_holes(tmp_path):
    cells = np.tile(np.linspace(1450.0, 1460.0, 400, dtype=np.float32), (300, 1))
    cells[100:200, 100:200] = np.nan
    made = pixels_of(shown(write(tmp_path / "o.tif", cells, Affine(1, 0, EAST, 0, -1, NORTH + 300), "EPSG:6547")))
    assert (made[3, 110:190, 110:190] == 0).all()
    assert (made[3, :90] == 255).all()


def test_a_palette_is_shown_and_averaged_as_colours(tmp_path, monkeypatch):
    values = np.zeros((3000, 4000), np.uint8)
    values[:, ::2] = 1
    path = tmp_path / "o.tif"
    place = Affine(0.1, 0, EAST, 0, -0.1, NORTH + 300)
    profile = {"driver": "GTiff", "count": 1, "dtype": "uint8", "width": 4000, "height": 3000, "crs": "EPSG:6547"}
    with rasterio.open(path, "w", **profile, transform=place, photometric="palette") as out:
        out.write(values, 1)
        out.write_colormap(1, {0: (200, 0, 0, 255), 1: (0, 0, 200, 255)})
    monkeypatch.setattr(background, "MOST_PIXELS", 100_000)
    coarse = pixels_of(shown(path))[:3, 20:-20, 20:-20].reshape(3, -1).astype(int)
    # every number is one of two, and their mean would be one of them
    assert np.abs(coarse.mean(axis=1) - [100, 0, 100]).max() < 8
    assert coarse[0].min() > 60
    assert coarse[0].max() < 140


def test_a_scanned_drawing_of_one_bit_keeps_its_thin_lines(tmp_path, monkeypatch):
    monkeypatch.setattr(background, "MOST_PIXELS", 100_000)
    paper = np.ones((1600, 2100), np.uint8)
    paper[::40] = 0
    path = write(tmp_path / "o.tif", paper, Affine(0.2, 0, EAST - 10, 0, -0.2, NORTH + 310), "EPSG:6547", nbits=1)
    made = pixels_of(shown(path)).astype(int)
    assert made.shape[0] == 3
    rows = made[0, 30:-30, 200]
    assert rows.max() > 235
    assert rows.min() < 225  # one row in five or six: a fifth as dark, not gone


def test_red_is_found_by_its_name_and_what_is_not_shown_is_said(tmp_path):
    bands = np.stack([np.full((300, 400), value, np.uint8) for value in (10, 60, 120, 240)])
    path = write(tmp_path / "o.tif", bands, Affine(1, 0, EAST, 0, -1, NORTH + 300), "EPSG:6547")
    with rasterio.open(path, "r+") as raster:
        raster.colorinterp = (ColorInterp.undefined, ColorInterp.blue, ColorInterp.green, ColorInterp.red)
    picture = shown(path)
    assert picture.remarks == ("band 1 not shown",)
    assert np.abs(pixels_of(picture)[:3, 150, 200].astype(int) - [240, 120, 60]).max() <= 6


def test_a_world_file_needs_a_system_from_the_job(tmp_path):
    path = tmp_path / "o.png"
    bands = marks(ground(), SPOTS)
    with rasterio.open(path, "w", driver="PNG", count=3, height=300, width=400, dtype="uint8") as out:
        out.write(bands)
    with pytest.raises(SourceError, match="no place on the ground"):
        shown(path)
    (tmp_path / "o.pgw").write_text(f"1\n0\n0\n-1\n{EAST + 0.5}\n{NORTH + 299.5}\n")
    with pytest.raises(FrameError, match=r'states no coordinate system.*frame = "EPSG:6547"'):
        shown(path)
    picture = shown(path, declared="EPSG:6547")
    expected = [(EAST + column + 0.5, NORTH + 300 - row - 0.5) for row, column in SPOTS]
    assert nearest(bright(picture), expected).max() < 0.5
    assert [each.name for each in BackgroundRaster().beside(path)] == ["o.pgw"]


def test_another_datum_is_refused_unless_the_label_is_said_to_be_wrong(tmp_path):
    there = pyproj.Transformer.from_crs("EPSG:6547", "EPSG:6343", always_xy=True)
    x, y = there.transform(EAST + 200, NORTH + 150)
    place = Affine(0.3, 0, x - 60, 0, -0.3, y + 45)
    path = write(tmp_path / "o.tif", ground(), place, "EPSG:32614")
    with pytest.raises(FrameError, match=r"another datum than the job .*off by up to metres"):
        shown(path)
    with pytest.raises(FrameError, match="conflict"):
        shown(path, declared="EPSG:6343")
    accepted = shown(path, declared="EPSG:6343", accept=True)
    right = shown(write(tmp_path / "p.tif", ground(), place, "EPSG:6343"))
    assert (accepted.west, accepted.north, accepted.data) == (right.west, right.north, right.data)


def test_degrees_are_refused_with_the_reason(tmp_path):
    path = write(tmp_path / "o.tif", ground(), Affine(1e-5, 0, -99.46, 0, -1e-5, 46.885), "EPSG:6318")
    with pytest.raises(FrameError, match="geographic"):
        shown(path)


def test_a_picture_of_another_place_is_refused_with_both_places(tmp_path):
    path = write(tmp_path / "o.tif", ground(), Affine(1, 0, EAST + 9000, 0, -1, NORTH + 300), "EPSG:6547")
    with pytest.raises(SourceError, match="shows nothing of this job: it covers E 2237000 to 2237400"):
        shown(path)


def test_a_picture_that_is_empty_at_the_job_is_refused(tmp_path):
    path = write(
        tmp_path / "o.tif",
        np.zeros((300, 400), np.uint8),
        Affine(1, 0, EAST, 0, -1, NORTH + 300),
        "EPSG:6547",
        nodata=0,
    )
    with pytest.raises(SourceError, match="holds no data where the job lies"):
        shown(path)


@pytest.mark.parametrize("how", ["cut", "text", "empty", "recipe"])
def test_a_damaged_file_is_refused_by_its_name(tmp_path, how):
    rng = np.random.default_rng(1)
    path = write(
        tmp_path / "o.tif",
        rng.integers(0, 255, (3, 300, 400), np.uint8),
        Affine(1, 0, EAST, 0, -1, NORTH + 300),
        "EPSG:6547",
    )
    whole = path.read_bytes()
    recipe = b'<VRTDataset rasterXSize="4" rasterYSize="4"><VRTRasterBand dataType="Byte" band="1"/></VRTDataset>'
    path.write_bytes({"cut": whole[: len(whole) // 2], "text": b"point,easting\n", "empty": b"", "recipe": recipe}[how])
    with pytest.raises(SourceError, match=r"o\.tif: cannot be read as a picture") as caught:
        shown(path)
    assert str(tmp_path) not in str(caught.value)


def test_the_same_file_gives_the_same_bytes(tmp_path):
    rng = np.random.default_rng(2)
    path = write(
        tmp_path / "o.tif",
        rng.integers(0, 255, (3, 300, 400), np.uint8),
        Affine(1, 0.1, EAST, 0.1, -1, NORTH + 300),
        "EPSG:6547",
    )
    assert shown(path) == shown(path)
