"""Frames of tables, against the coordinate library's own transformers and factors."""

import geopandas
import geopandas.testing
import numpy as np
import pandas as pd
import pyproj
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import geoqa
from geoqa.errors import AreaError, FrameError, LayerError, QuantityError

FEET, METRES, UTM = "EPSG:6547", "EPSG:6546", "EPSG:6343"  # one zone in international feet and metres; a zone beside it
PLACES = np.array([[2_228_000.0, 444_000.0], [2_229_000.5, 445_321.25], [2_230_123.0, 443_210.0]])


def table(places=PLACES, crs=FEET, **columns):
    return geopandas.GeoDataFrame(columns, geometry=shapely.points(places), crs=crs)


def coordinates(made):
    return shapely.get_coordinates(made.geometry, include_z=bool(made.geometry.has_z.any()))


def test_a_change_of_unit_is_a_plain_factor_and_says_so():
    made = geoqa.convert(table(), to=METRES)
    # the false easting stands in the database as 600000 m and as 1968503.937 ft, and the two differ by 2.4 µm
    false = [600_000 - 1_968_503.937 * 0.3048, 0.0]
    np.testing.assert_allclose(coordinates(made.table), PLACES * 0.3048 + false, rtol=1e-15, atol=1e-9)
    assert [each.answer for each in made.evidence] == ["ft to m, times 381/1250"]
    assert made.table.crs == METRES
    assert made.frame.unit.name == "m"


def test_another_projection_of_the_datum_is_that_of_the_coordinate_library():
    made = geoqa.convert(table(), to=UTM)
    expected = pyproj.Transformer.from_crs(FEET, UTM, always_xy=True).transform(*PLACES.T)
    np.testing.assert_allclose(coordinates(made.table), np.column_stack(expected), atol=1e-6)
    assert any("EPSG" in str(each) or "North Dakota" in str(each) for each in made.evidence)
    back = geoqa.convert(made.table, to=FEET).table
    np.testing.assert_allclose(coordinates(back), PLACES, atol=1e-5)


def test_the_foot_the_numbers_are_in_may_be_another_than_the_systems():
    survey = PLACES * (0.3048 / (1200 / 3937))
    made = geoqa.convert(table(survey), to=FEET, unit="ftUS")
    np.testing.assert_allclose(coordinates(made.table), PLACES, rtol=1e-15)
    apart = np.hypot(*(coordinates(geoqa.convert(table(survey), to=FEET).table) - PLACES).T)
    assert (apart > 4.4).all()  # two parts in a million of two million feet
    assert any("US survey foot" in str(each) for each in made.evidence)


def test_elevations_are_scaled_by_their_own_unit_and_never_by_that_of_the_plan():
    high = np.column_stack([PLACES, [1450.0, np.nan, 1460.0]])
    in_metres = geoqa.convert(table(high), to=METRES, elevation_unit="ft").table
    np.testing.assert_allclose(coordinates(in_metres)[:, 2], high[:, 2] * 0.3048, rtol=1e-15)
    same = geoqa.convert(table(high), to=METRES, elevation_unit="m").table
    np.testing.assert_array_equal(coordinates(same)[:, 2], high[:, 2])
    compound = geoqa.convert(table(high, crs="EPSG:6547+8228"), to="EPSG:6546+5703")
    np.testing.assert_allclose(coordinates(compound.table)[:, 2], high[:, 2] * 0.3048, rtol=1e-15)
    assert compound.table.crs.is_compound


def test_rows_columns_and_index_are_kept_and_inputs_are_never_changed():
    points = table(code=["a", "b", "c"]).set_index(pd.Index(["p", "q", "p"]))
    points = pd.concat([points, table([[1.0, 1.0]], code=["d"]).set_geometry([None], crs=FEET)])
    points = points.rename_geometry("place")
    before = points.copy(deep=True)
    made = geoqa.convert(points, to=METRES).table
    pd.testing.assert_index_equal(made.index, points.index)
    assert list(made.columns) == list(points.columns)
    assert made["code"].tolist() == ["a", "b", "c", "d"]
    assert made.geometry.isna().tolist() == [False, False, False, True]
    geopandas.testing.assert_geodataframe_equal(points, before)
    assert points.crs == FEET


def test_lines_and_areas_flat_and_elevated_keep_their_shape():
    shapes = [
        shapely.LineString(PLACES),
        shapely.LineString(np.column_stack([PLACES, [1, 2, 3]])),
        shapely.Point(PLACES[0]).buffer(50),
        shapely.LineString(),
    ]
    made = geoqa.convert(geopandas.GeoSeries(shapes, crs=FEET), to=METRES, elevation_unit="ft").table
    assert made.has_z.tolist() == [False, True, False, False]
    assert made.length.tolist() == pytest.approx([shape.length * 0.3048 for shape in shapes])
    assert made.geom_type.tolist() == ["LineString", "LineString", "Polygon", "LineString"]


@settings(max_examples=20)
@given(order=st.permutations(range(3)))
def test_the_order_of_rows_does_not_matter(order):
    made = geoqa.convert(table(), to=UTM).table
    geopandas.testing.assert_geodataframe_equal(geoqa.convert(table().iloc[order], to=UTM).table, made.iloc[order])


@settings(max_examples=15)
@given(
    east=st.floats(-5e4, 5e4), north=st.floats(-5e4, 5e4), labels=st.lists(st.integers(), min_size=3, max_size=3),
    to=st.sampled_from([METRES, UTM]),
)  # fmt: skip
def test_there_and_back_is_where_it_was_on_the_same_index(east, north, labels, to):
    places = PLACES + np.array([east, north])
    there = geoqa.convert(table(places).set_axis(labels), to=to).table
    assert there.index.tolist() == labels
    back = geoqa.convert(there, to=FEET).table
    assert back.index.tolist() == labels
    np.testing.assert_allclose(coordinates(back), places, atol=1e-5, rtol=0)


@settings(max_examples=15)
@given(east=st.floats(-5e4, 5e4), north=st.floats(-5e4, 5e4))
def test_a_change_of_unit_moves_and_turns_nothing(east, north):
    made, moved = (geoqa.convert(table(PLACES + shift), to=METRES).table for shift in ([0, 0], [east, north]))
    np.testing.assert_allclose(
        coordinates(moved) - coordinates(made), np.tile(np.multiply([east, north], 0.3048), (3, 1)), atol=1e-6
    )


HIGH = np.column_stack([PLACES, [1.0, 2.0, 3.0]])
BAD = {
    "no system": (lambda: table(crs=None), {"to": FEET}, FrameError, "points have no coordinate system"),
    "degrees": (lambda: table(crs="EPSG:4326"), {"to": FEET}, FrameError, "points are in degrees"),
    "to degrees": (table, {"to": "EPSG:4326"}, FrameError, "to 'EPSG:4326' is WGS 84, a geographic 2D system"),
    "to a web map": (table, {"to": "EPSG:3857"}, FrameError, "to is WGS 84 / Pseudo-Mercator, made for web maps"),
    "to an unknown code": (
        table,
        {"to": "EPSG:999999"},
        FrameError,
        "to 'EPSG:999999' is not in the coordinate-system",
    ),
    "to two units": (table, {"to": "EPSG:6547+5703"}, FrameError, "a table here has one unit"),
    "a missing grid": (
        lambda: table(PLACES * 0.3048, crs="EPSG:32121"),
        {"to": FEET},
        FrameError,
        "no known operation can be used; missing are the grids",
    ),
    "elevations without a unit": (
        lambda: table(HIGH),
        {"to": METRES},
        QuantityError,
        "nothing says their unit; state elev",
    ),
    "elevations in two units": (
        lambda: table(HIGH, crs="EPSG:6547+8228"),
        {"to": METRES, "elevation_unit": "m"},
        QuantityError,
        "elevation_unit is m, and the system of points says ft",
    ),
    "an unknown unit": (table, {"to": METRES, "unit": "feet"}, QuantityError, "No unit of length named 'feet'"),
    "a bare limit": (
        table,
        {"to": UTM, "accuracy_limit": 0.05},
        QuantityError,
        "accuracy_limit is 0.05, a number without",
    ),
    "another place": (lambda: table(PLACES + 3e7), {"to": METRES}, AreaError, "lie outside the area of use"),
    "no geometry": (
        lambda: pd.DataFrame({"a": [1]}),
        {"to": FEET},
        LayerError,
        "points are a DataFrame without geometry",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_one_sentence_that_says_what_next(case):
    points, options, error, words = BAD[case]
    with pytest.raises(error, match=words) as caught:
        geoqa.convert(points(), **options)
    assert "[frame]" not in str(caught.value)


def test_control_tells_zone_and_foot_of_unlabelled_points_by_the_labels_they_share():
    marks = table(code=["1", "2", "3"]).set_index(pd.Index(["M1", "M2", "M3"]))
    shown = PLACES * (0.3048 / (1200 / 3937)) + np.random.default_rng(4).normal(0, 0.03, PLACES.shape)
    shots = table(np.vstack([shown[::-1], [[2_228_500.0, 444_100.0]]]), crs=None).set_index(
        pd.Index(["M3", "M2", "M1", "x"])
    )
    found = geoqa.frame_candidates(shots, marks=marks)
    assert found.settled == {
        "zone": "North Dakota South",
        "unit": "ftUS",
        "order": "easting first",
        "datum": "NAD83",
    }
    assert found.readings["probability"].is_monotonic_decreasing
    assert found.readings["unit"].iloc[0] == "ftUS"
    assert found.readings["misfit"].iloc[0] < 0.05
    as_array = geoqa.frame_candidates(shapely.get_coordinates(shots.geometry), marks=marks.set_axis([2, 1, 0]))
    assert as_array.settled == found.settled


@pytest.mark.long
def test_a_neighbourhood_settles_the_zone_and_not_the_foot_and_nothing_settles_nothing():
    near = geoqa.frame_candidates(PLACES + 10, near=table())
    assert near.settled["zone"] == "North Dakota South"
    assert "unit" not in near.settled
    alone = geoqa.frame_candidates(PLACES)
    assert "zone" not in alone.settled
    assert "Cannot tell zone" in alone.recommendation


def test_candidates_refuse_marks_that_are_not_shared_or_are_in_doubt_themselves():
    with pytest.raises(LayerError, match="no label of theirs is one of points"):
        geoqa.frame_candidates(table(), marks=table().set_axis(["a", "b", "c"]))
    with pytest.raises(LayerError, match="two of them have the same label"):
        geoqa.frame_candidates(table(), marks=table().set_axis(["a", "b", "a"]))
    with pytest.raises(FrameError, match="marks have no coordinate system"):
        geoqa.frame_candidates(table(), marks=table(crs=None))
    with pytest.raises(FrameError, match="No row has both plan coordinates"):
        geoqa.frame_candidates(np.full((2, 2), np.nan))


def test_the_combined_factor_is_scale_of_the_projection_times_radius_over_radius_and_height():
    found = geoqa.combined_factor(table(), ellipsoid_height="1360 ft")
    geographic = pyproj.Transformer.from_crs(FEET, "EPSG:6318", always_xy=True).transform(*PLACES.T)
    scale = pyproj.Proj(METRES).get_factors(*geographic).meridional_scale
    a, f = 6_378_137.0, 1 / 298.257222101  # GRS 80
    squared, sine = f * (2 - f), np.sin(np.radians(geographic[1]))
    meridian = a * (1 - squared) / (1 - squared * sine**2) ** 1.5
    radius = np.sqrt(meridian * a / np.sqrt(1 - squared * sine**2))
    np.testing.assert_allclose(found, scale * radius / (radius + 1360 * 0.3048), rtol=1e-12)
    assert found.name == "combined_factor"


def test_heights_may_be_numbers_beside_a_unit_and_what_is_missing_stays_missing():
    points = pd.concat([table(), table([[0.0, 0.0]]).set_geometry([None], crs=FEET)], ignore_index=True)
    points.index = ["a", "b", "c", "d"]
    heights = pd.Series([400.0, np.nan, 410.0, 400.0], index=points.index)
    found = geoqa.combined_factor(points, ellipsoid_height=heights, unit="m")
    assert found.isna().tolist() == [False, True, False, True]
    text = geoqa.combined_factor(points, ellipsoid_height="400 m")
    assert found["a"] == pytest.approx(text["a"], rel=1e-15)
    with pytest.raises(QuantityError, match="ellipsoid_height holds numbers without a unit"):
        geoqa.combined_factor(points, ellipsoid_height=heights)
    with pytest.raises(LayerError, match="ellipsoid_height stands on another index"):
        geoqa.combined_factor(points, ellipsoid_height=heights.reset_index(drop=True), unit="m")
    with pytest.raises(FrameError, match="points are in degrees"):
        geoqa.combined_factor(table(crs="EPSG:4326"), ellipsoid_height="1 m")
