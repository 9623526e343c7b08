"""Elevations of design rasters: planes, another library's interpolator, the two feet, and what is refused."""

import geopandas
import geopandas.testing
import numpy as np
import pandas as pd
import pytest
import rasterio
import rasterio.shutil
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from rasterio import Affine
from scipy.interpolate import RegularGridInterpolator

import geoqa
from geoqa.errors import FrameError, GeometryInputError, LayerError, QuantityError, SourceError
from geoqa.library import rasters

ZONE, CORNER, CELL = "EPSG:6547", (2_228_000.0, 444_000.0), 2.0
INSIDE = np.add(CORNER, [3, -3])
STRAIGHT = Affine(CELL, 0, CORNER[0], 0, -CELL, CORNER[1])
DRAW = np.random.default_rng(3)


def centres(shape, transform=STRAIGHT):
    """Eastings and northings of the centres of cells, by the definition of the transform."""
    row, column = np.indices(shape)
    return transform @ (column + 0.5, row + 0.5)


def plane(east, north):
    return 1400.0 + 0.02 * (east - CORNER[0]) - 0.05 * (north - CORNER[1])


def written(folder, values, *, crs=ZONE, transform=STRAIGHT, nodata=None, name="design.tif", tags=None, **more):
    path = folder / name
    values = np.atleast_3d(values.T).T
    profile = {"driver": "GTiff", "height": values.shape[1], "width": values.shape[2], "count": len(values)}
    with rasterio.open(path, "w", **profile, dtype=values.dtype, crs=crs, transform=transform, nodata=nodata) as made:
        made.write(values)
        if tags:
            made.update_tags(**tags)
        for key, value in more.items():
            setattr(made, key, value)
    return path


def points(places, crs=ZONE, index=None):
    return geopandas.GeoSeries(shapely.points(np.asarray(places, dtype=float)), crs=crs, index=index)


def somewhere(count, shape=(40, 30)):
    high, wide = shape
    low = (CORNER[0] + CELL / 2, CORNER[1] - (high - 0.5) * CELL)
    return DRAW.uniform(low, (CORNER[0] + (wide - 0.5) * CELL, CORNER[1] - CELL / 2), (count, 2))


def test_a_plane_is_given_back_exactly(tmp_path):
    path = written(tmp_path, plane(*centres((40, 30))))
    places = somewhere(300)
    found = geoqa.design_elevation(points(places), path, vertical_unit="ft")
    np.testing.assert_allclose(found, plane(*places.T), rtol=0, atol=1e-9)
    assert found.name == "design_elevation"
    assert found.dtype == np.float64


@pytest.mark.parametrize("dtype", ["float32", "float64", "int16"])
def test_it_is_what_another_interpolator_gives_in_full_numbers(tmp_path, dtype):
    values = DRAW.normal(1400, 20, (40, 30)).astype(dtype)
    places = somewhere(300)
    east, north = centres((40, 30))
    other = RegularGridInterpolator((north[::-1, 0], east[0]), values[::-1].astype(float))
    found = geoqa.design_elevation(points(places), written(tmp_path, values), vertical_unit="ft")
    np.testing.assert_allclose(found, other(places[:, ::-1]), rtol=0, atol=1e-8)


@pytest.mark.parametrize("turn", [0.0, 17.0, -63.0, 180.0])
def test_a_grid_may_be_turned_and_sheared(tmp_path, turn):
    transform = Affine.translation(*CORNER) @ Affine.rotation(turn) @ Affine.shear(8, 0) @ Affine.scale(CELL, -CELL)
    path = written(tmp_path, plane(*centres((40, 30), transform)), transform=transform)
    places = np.column_stack(transform @ DRAW.uniform([0.5, 0.5], [29.5, 39.5], (200, 2)).T)
    found = geoqa.design_elevation(points(places), path, vertical_unit="ft")
    np.testing.assert_allclose(found, plane(*places.T), rtol=0, atol=1e-8)


def test_tiles_and_one_whole_read_are_one(tmp_path, monkeypatch):
    path, places = written(tmp_path, DRAW.normal(size=(40, 30))), points(somewhere(400))
    at_centres = points(np.column_stack([each.ravel() for each in centres((40, 30))]))
    whole = [geoqa.design_elevation(each, path, vertical_unit="ft") for each in (places, at_centres)]
    monkeypatch.setattr(rasters, "_TILE", 7)
    for each, before in zip((places, at_centres), whole, strict=True):
        after = geoqa.design_elevation(each, path, vertical_unit="ft")
        pd.testing.assert_series_equal(after, before)
        assert after.notna().all()


def test_a_cell_without_data_is_missing_round_about_and_not_at_its_neighbours_centres(tmp_path):
    values = plane(*centres((5, 5)))
    values[2, 2] = -9999.0
    path = written(tmp_path, values, nodata=-9999.0)
    east, north = centres((5, 5))
    at = [(east[2, 2], north[2, 2]), (east[2, 2] + 1.9, north[2, 2]), (east[2, 3], north[2, 3]),
          (east[1, 1] + 0.1, north[1, 1] - 0.1), (east[1, 1] - 0.1, north[1, 1] + 0.1),
          (east[1, 2] + 0.7, north[1, 2])]  # fmt: skip
    found = geoqa.design_elevation(points(at), path, vertical_unit="ft")
    assert found.isna().tolist() == [True, True, False, True, False, False]
    there = found.notna()
    np.testing.assert_allclose(found[there], plane(*np.array(at).T)[there], atol=1e-9)


@pytest.mark.parametrize("nodata", [None, np.nan, -3.4028234663852886e38])
def test_missing_cells_are_missing_however_they_are_written(tmp_path, nodata):
    values = np.full((3, 3), 5.0, dtype="float32")
    values[1, 1] = np.nan if nodata is None else nodata
    at = points(np.column_stack([each[1, 1:] for each in centres((3, 3))]))
    found = geoqa.design_elevation(at, written(tmp_path, values, nodata=nodata), vertical_unit="ft")
    np.testing.assert_array_equal(found, [np.nan, 5.0])


def test_nothing_is_known_beyond_the_outermost_centres_be_it_by_half_a_cell(tmp_path):
    path = written(tmp_path, plane(*centres((40, 30))))
    east, north = CORNER
    at = [(east + 1, north - 1), (east + 0.99, north - 1), (east + 0.5, north - 0.5), (east - 5, north - 1),
          (east + 59, north - 79), (east + 59.01, north - 79), (east + 59, north - 79.5), (1e9, 1e9)]  # fmt: skip
    found = geoqa.design_elevation(points(at), path, vertical_unit="ft")
    assert found.notna().tolist() == [True, False, False, False, True, False, False, False]


def test_a_raster_whose_values_stand_at_points_is_placed_by_its_centres(tmp_path):
    path = written(tmp_path, plane(*centres((4, 4))), tags={"AREA_OR_POINT": "Point"})
    places = somewhere(20, shape=(4, 4))
    found = geoqa.design_elevation(points(places), path, vertical_unit="ft")
    np.testing.assert_allclose(found, plane(*places.T), atol=1e-9)


@pytest.mark.parametrize(("suffix", "driver"), [("asc", "AAIGrid"), ("img", "HFA"), ("bil", "EHdr")])
def test_other_formats_of_grids_are_read_by_their_suffix(tmp_path, suffix, driver):
    first, other = written(tmp_path, plane(*centres((40, 30))).astype("float32")), tmp_path / f"design.{suffix}"
    rasterio.shutil.copy(first, other, driver=driver)
    at = points(somewhere(50))
    found, expected = (geoqa.design_elevation(at, path, vertical_unit="ft") for path in (other, first))
    assert found.notna().all()
    np.testing.assert_allclose(found, expected, atol=1e-3)


def test_the_two_feet_and_the_metre_are_kept_apart(tmp_path):
    path, at = written(tmp_path, np.full((3, 3), 10_000.0)), points([INSIDE])
    found = {unit: geoqa.design_elevation(at, path, vertical_unit=unit).iloc[0] for unit in ("ft", "ftUS", "m")}
    # 1 ft = 0.3048 m exactly (24 FR 5348), 1 ftUS = 1200/3937 m exactly (Mendenhall Order, 1893)
    assert found["ft"] == 10_000.0
    assert found["ftUS"] == pytest.approx(10_000 * 1200 / 3937 / 0.3048, abs=1e-9)
    assert found["ftUS"] - found["ft"] == pytest.approx(0.02, abs=1e-6)
    assert found["m"] == pytest.approx(10_000 / 0.3048, abs=1e-9)


def test_elevations_are_in_the_unit_of_those_of_the_points(tmp_path):
    path, place = written(tmp_path, np.full((3, 3), 100.0)), [INSIDE]
    metric = geoqa.design_elevation(points(place, crs="EPSG:6547+5703"), path, vertical_unit="ft")
    assert metric.iloc[0] == pytest.approx(30.48, abs=1e-12)
    heights = written(tmp_path, np.full((3, 3), 100.0), crs="EPSG:6547+5703", name="heights.tif")
    assert geoqa.design_elevation(points(place, crs="EPSG:6547+8228"), heights, vertical_unit="m").iloc[
        0
    ] == pytest.approx(100 / 0.3048, abs=1e-9)


def test_scale_and_offset_of_a_band_are_applied_and_bands_counted_from_one(tmp_path):
    values = np.stack([np.full((3, 3), 1), np.full((3, 3), 4512)]).astype("int32")
    path = written(tmp_path, values, scales=(1.0, 0.01), offsets=(0.0, 1400.0))
    at = points([INSIDE])
    assert geoqa.design_elevation(at, path, vertical_unit="ft", band=2).iloc[0] == pytest.approx(1445.12, abs=1e-12)
    assert geoqa.design_elevation(at, path, vertical_unit="ft").iloc[0] == 1.0


def test_index_rows_and_inputs_are_kept_and_an_open_dataset_stays_open(tmp_path):
    path = written(tmp_path, plane(*centres((40, 30))))
    place = INSIDE
    table = geopandas.GeoDataFrame(
        {"shot": [1, 2, 3, 4]}, geometry=[shapely.Point(place), None, shapely.Point(), shapely.Point(*place, 9.0)],
        crs=ZONE, index=["a", "b", "a", "c"],
    )  # fmt: skip
    before = table.copy(deep=True)
    with rasterio.open(path) as design:
        found = geoqa.design_elevation(table, design, vertical_unit="ft")
        assert not design.closed
    pd.testing.assert_index_equal(found.index, table.index)
    assert found.notna().tolist() == [True, False, False, True]
    geopandas.testing.assert_geodataframe_equal(table, before)
    pd.testing.assert_series_equal(geoqa.design_elevation(table, str(path), vertical_unit="ft"), found)
    assert len(geoqa.design_elevation(table.iloc[:0], path, vertical_unit="ft")) == 0


@pytest.fixture(scope="module")
def rough(tmp_path_factory):
    return written(tmp_path_factory.mktemp("rough"), np.random.default_rng(9).normal(1400, 1, (40, 30)))


@settings(max_examples=20)
@given(order=st.permutations(range(8)), share=st.floats(0, 1))
def test_order_does_not_matter_and_along_a_row_of_cells_it_is_straight(rough, order, share):
    east, north = centres((40, 30))
    one, other = [np.array([east[7, column], north[7, column]]) for column in (4, 5)]
    places = np.array([one, other, one + share * (other - one), *np.column_stack([east[9, :5], north[9, :5]])])
    found = geoqa.design_elevation(points(places), rough, vertical_unit="ft")
    assert found[2] == pytest.approx(found[0] + share * (found[1] - found[0]), abs=1e-6)
    shuffled = geoqa.design_elevation(points(places[order], index=order), rough, vertical_unit="ft")
    pd.testing.assert_series_equal(shuffled, found.loc[order])


HERE = [INSIDE]


def in_survey_feet():
    """The zone of the raster with the other foot, and all else the same."""
    text = geopandas.GeoSeries([], crs=ZONE).crs.to_wkt()
    return text.replace('LENGTHUNIT["foot",0.3048]', 'LENGTHUNIT["US survey foot",0.304800609601219]')


BAD_POINTS = {
    "no system": (lambda: points(HERE, crs=None), FrameError, "points have no coordinate system"),
    "degrees": (lambda: points([[-98, 47]], crs="EPSG:4326"), FrameError, "points are in degrees"),
    "the other foot": (
        lambda: points(HERE, crs=in_survey_feet()),
        FrameError,
        r"\(US survey foot\), design\.tif in .* \(international foot\); bring the points into",
    ),
    "another zone": (lambda: points(HERE, crs="EPSG:6546"), FrameError, r"points are in .* \(metre\), design.tif in"),
    "lines": (
        lambda: geopandas.GeoSeries([shapely.LineString([(0, 0), (1, 1)])], crs=ZONE),
        GeometryInputError,
        "points: 1 row is no point",
    ),
    "no geometry": (lambda: pd.DataFrame({"easting": [1.0]}), LayerError, "points are a DataFrame without geometry"),
}


@pytest.mark.parametrize("case", BAD_POINTS)
def test_points_that_cannot_be_held_against_it_are_refused_in_one_sentence(case, rough, tmp_path):
    path = written(tmp_path, plane(*centres((4, 4))))
    given_points, error, words = BAD_POINTS[case]
    with pytest.raises(error, match=words):
        geoqa.design_elevation(given_points(), path, vertical_unit="ft")


@pytest.mark.parametrize("unit", [None, "feet", "US-ft", "in", 0.3048])
def test_a_unit_that_is_none_of_three_is_refused(rough, unit):
    with pytest.raises(QuantityError, match=r"vertical_unit is .*; say in which unit"):
        geoqa.design_elevation(points(HERE), rough, vertical_unit=unit)


@pytest.mark.parametrize("band", [0, 2, -1, 1.0, True, None])
def test_a_band_that_is_not_there_is_refused(rough, band):
    with pytest.raises(LayerError, match=r"design\.tif has 1 of them, counted from 1"):
        geoqa.design_elevation(points(HERE), rough, vertical_unit="ft", band=band)


def test_rasters_that_cannot_be_held_against_are_refused_in_one_sentence(tmp_path):
    values, at = np.zeros((3, 3)), points(HERE)

    def refused(error, words, raster, **options):
        with pytest.raises(error, match=words) as caught:
            geoqa.design_elevation(at, raster, **({"vertical_unit": "ft"} | options))
        assert str(tmp_path) not in str(caught.value)

    refused(FrameError, "design.tif: has no coordinate system", written(tmp_path, values, crs=None))
    refused(FrameError, "geographic", written(tmp_path, values, crs="EPSG:6318"))
    refused(FrameError, "has heights in m .*, and vertical_unit is ft", written(tmp_path, values, crs="EPSG:6547+5703"))
    refused(LayerError, "holds complex numbers", written(tmp_path, values.astype("complex64")))
    refused(SourceError, "there is no file 'none.tif' there", tmp_path / "none.tif")
    refused(SourceError, "there is no file", "https://example.org/design.tif")
    refused(SourceError, "there is no file", "/vsicurl/https://example.org/design.tif")
    refused(SourceError, "raster is a ndarray", values)
    text = tmp_path / "notes.tif"
    text.write_text("no raster", encoding="utf-8")
    refused(SourceError, "notes.tif: cannot be read as a raster", text)
    with rasterio.open(written(tmp_path, values)) as design:
        pass
    refused(SourceError, "design.tif: is closed", design)
    with pytest.warns(rasterio.errors.NotGeoreferencedWarning):
        bare = written(tmp_path, values, transform=Affine.identity())
    refused(SourceError, "has no place on the ground", bare)


def test_a_raster_cut_short_is_refused_when_its_cells_are_read(tmp_path):
    path = written(tmp_path, DRAW.normal(size=(40, 30)))
    path.write_bytes(path.read_bytes()[:-4000])
    with pytest.raises(SourceError, match=r"design\.tif: cannot be read as a raster"):
        geoqa.design_elevation(points(somewhere(50)), path, vertical_unit="ft")


def test_heights_above_another_surface_are_refused(tmp_path):
    path = written(tmp_path, np.zeros((3, 3)), crs="EPSG:6547+8228")
    with pytest.raises(FrameError, match=r"points have elevations in NGVD29 height .*NAVD88"):
        geoqa.design_elevation(points(HERE, crs="EPSG:6547+5702"), path, vertical_unit="ft")
