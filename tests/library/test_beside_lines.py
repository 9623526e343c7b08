"""Station and offset of tables of points, against the geometry library, and under moves that change nothing."""

import geopandas
import geopandas.testing
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

import geoqa
from geoqa.errors import FrameError, GeometryInputError, GeoqaError, LayerError, QuantityError

ZONE = "EPSG:6547"
NUMBERS = ["station", "offset", "along", "distance", "azimuth"]


with np.errstate(invalid="ignore"):  # a vertex without a place can be made, with a warning
    PLACELESS = shapely.LineString([(0, 0), (np.nan, 1)])


def table(shapes, crs=ZONE, index=None, **columns):
    return geopandas.GeoDataFrame(columns, geometry=list(shapes), crs=crs, index=index)


def winding(rng, vertices, elevated=False):
    step = np.column_stack([rng.uniform(2, 9, vertices), rng.normal(0, 3, vertices)])
    places = np.cumsum(step, axis=0) + np.array([2_228_000.0, 444_000.0])
    return shapely.LineString(np.column_stack([places, rng.normal(1450, 1, vertices)]) if elevated else places)


def design(seed=1, lines=4, elevated=False):
    rng = np.random.default_rng(seed)
    shapes = [shapely.affinity.translate(winding(rng, 12, elevated), 0, 25.0 * row) for row in range(lines)]
    return table(shapes, index=[f"L{row}" for row in range(lines)])


def shots(seed=2, count=200):
    rng = np.random.default_rng(seed)
    places = rng.uniform([2_227_980, 443_960], [2_228_090, 444_120], (count, 2))
    return table(shapely.points(places), index=rng.permutation(count) + 1000, code=["EC"] * count)


def by_shapely(points, lines):
    """Nearest line, station and distance by trying every line."""
    distance = shapely.distance(points.geometry.to_numpy()[:, None], lines.geometry.to_numpy()[None, :])
    nearest = distance.argmin(axis=1)
    on = lines.geometry.to_numpy()[nearest]
    station = shapely.line_locate_point(on, points.geometry.to_numpy())
    return lines.index.to_numpy()[nearest], station, distance.min(axis=1), on


def test_line_station_and_distance_are_those_of_the_geometry_library():
    points, lines = shots(), design(elevated=True)
    found = geoqa.station_offset(points, lines)
    line, station, distance, on = by_shapely(points, lines)
    assert found["line"].tolist() == line.tolist()
    np.testing.assert_allclose(found["station"], station, atol=1e-7)
    np.testing.assert_allclose(found["distance"], distance, atol=1e-9)
    np.testing.assert_allclose(np.hypot(found["offset"], found["along"]), distance, atol=1e-9)
    elevation = shapely.get_z(shapely.line_interpolate_point(on, station))
    np.testing.assert_allclose(found["design_elevation"], elevation, atol=1e-7)


def test_right_of_the_direction_is_positive_and_the_azimuth_counts_from_north():
    east = table([shapely.LineString([(0, 0), (100, 0)])])
    found = geoqa.station_offset(table(shapely.points([[40, -2], [40, 2], [103, -4], [-3, 4]])), east)
    assert found["offset"].tolist() == [2, -2, 4, -4]
    assert found["along"].tolist() == [0, 0, 3, -3]
    assert found["distance"].tolist() == [2, 2, 5, 5]
    assert found["azimuth"].tolist() == [90.0] * 4


def test_without_a_bound_the_nearest_line_counts_however_far_and_with_one_it_does_not():
    lines = design()
    points = table(shapely.points([[2_228_000, 443_000], [2_900_000, 500_000], [2_228_050, 444_000]]))
    found = geoqa.station_offset(points, lines)
    line, station, distance, _ = by_shapely(points, lines)
    assert found["line"].tolist() == line.tolist()
    np.testing.assert_allclose(found[["station", "distance"]], np.column_stack([station, distance]), atol=1e-6)
    near = geoqa.station_offset(points, lines, max_distance="60 ft")
    assert near["line"].isna().tolist() == (distance > 60).tolist() == [True, True, False]
    assert near[NUMBERS].isna().all(axis=1).tolist() == [True, True, False]


def test_the_bound_is_in_its_own_unit():
    line, points = table([shapely.LineString([(0, 0), (100, 0)])]), table(shapely.points([[50, 3.2], [50, 3.3]]))
    assert geoqa.station_offset(points, line, max_distance="1 m")["line"].isna().tolist() == [False, True]
    assert geoqa.station_offset(points, line, max_distance=geoqa.Length.parse("1 m"))["line"].notna().sum() == 1


def test_the_index_is_kept_rows_stay_and_inputs_are_never_changed():
    points, lines = shots(count=6), design()
    points.index = ["a", "b", "a", "c", "d", "e"]
    points.loc["c", "geometry"], points.loc["d", "geometry"] = None, shapely.Point()
    before = points.copy(deep=True), lines.copy(deep=True)
    found = geoqa.station_offset(points, lines)
    pd.testing.assert_index_equal(found.index, points.index)
    assert found["offset"].isna().tolist() == [False, False, False, True, True, False]
    geopandas.testing.assert_geodataframe_equal(points, before[0])
    geopandas.testing.assert_geodataframe_equal(lines, before[1])


def test_arrays_and_series_give_what_tables_give():
    points, lines = shots(), design()
    found = geoqa.station_offset(points, lines)
    pd.testing.assert_frame_equal(geoqa.station_offset(points.geometry, lines.geometry), found)
    places = shapely.get_coordinates(points.geometry)
    pd.testing.assert_frame_equal(geoqa.station_offset(places, lines), found.reset_index(drop=True))
    elevated = np.column_stack([places, np.full(len(places), 1450.0)])
    pd.testing.assert_frame_equal(geoqa.station_offset(elevated, lines), found.reset_index(drop=True))
    pd.testing.assert_frame_equal(geoqa.station_offset(places.tolist(), lines), found.reset_index(drop=True))


def test_a_column_may_name_the_lines_and_whole_numbers_stay_whole():
    lines = design().assign(number=[40, 10, 30, 20])
    points = pd.concat([shots(count=5), table([None], index=[1])])
    found = geoqa.station_offset(points, lines, line_id="number")
    by_index = geoqa.station_offset(points, lines)["line"].map(lines["number"])
    assert found["line"].dtype == "Int64"
    assert found["line"].tolist()[:5] == by_index.tolist()[:5]
    assert found["line"].isna().tolist() == [False] * 5 + [True]


def test_points_with_elevations_lie_where_points_without_lie():
    points, lines = shots(), design(elevated=True)
    pd.testing.assert_frame_equal(
        geoqa.station_offset(points.set_geometry(shapely.force_3d(points.geometry, 9.0)), lines),
        geoqa.station_offset(points, lines),
    )


def test_flat_and_elevated_lines_in_one_table():
    flat, elevated = design(seed=1, lines=1), design(seed=1, lines=2, elevated=True).iloc[1:]
    found = geoqa.station_offset(shots(), pd.concat([flat, elevated]))
    assert found["design_elevation"].notna().equals(found["line"].eq("L1"))
    assert "design_elevation" not in geoqa.station_offset(shots(), flat)


def test_a_multilinestring_of_one_part_is_that_line():
    lines = design()
    single = lines.set_geometry([shapely.MultiLineString([shape]) for shape in lines.geometry])
    pd.testing.assert_frame_equal(geoqa.station_offset(shots(), single), geoqa.station_offset(shots(), lines))


def test_missing_and_empty_lines_are_nobodys_nearest():
    lines = design()
    more = pd.concat([table([None, shapely.LineString()], index=["none", "empty"]), lines])
    pd.testing.assert_frame_equal(geoqa.station_offset(shots(), more), geoqa.station_offset(shots(), lines))
    for nothing in (more.iloc[:2], lines.iloc[:0]):
        found = geoqa.station_offset(shots(), nothing)
        assert len(found) == 200
        assert found[["line", *NUMBERS]].isna().all(axis=None)
    assert len(geoqa.station_offset(shots().iloc[:0], lines)) == 0


def test_a_vertical_part_of_the_system_changes_nothing_in_plan():
    lines = design()
    compound = table(lines.geometry.to_list(), crs="EPSG:6547+8228", index=lines.index)
    pd.testing.assert_frame_equal(geoqa.station_offset(shots(), compound), geoqa.station_offset(shots(), lines))


PLACES = arrays(np.float64, (7, 2), elements=st.floats(-50, 150, width=32))
FEW = settings(max_examples=40)


def beside(places, turn=0.0, shift=(0.0, 0.0), reverse=False):
    shape = np.array([[0, 0], [60, 10], [80, 70], [140, 75]], dtype=float)
    cos, sin = np.cos(turn), np.sin(turn)

    def moved(xy):
        return np.column_stack([xy @ [cos, -sin], xy @ [sin, cos]]) + shift

    vertices = moved(shape)[::-1] if reverse else moved(shape)
    return geoqa.station_offset(table(shapely.points(moved(places))), table([shapely.LineString(vertices)]))


def away_from_ties(places, gap=1e-3):
    """Rows whose nearest place is not at a bend's mirror line, where rounding may choose another leg."""
    legs = np.array([[[0, 0], [60, 10]], [[60, 10], [80, 70]], [[80, 70], [140, 75]]], dtype=float)
    near = np.sort(shapely.distance(shapely.points(places)[:, None], shapely.linestrings(legs)[None, :]), axis=1)
    station = shapely.line_locate_point(
        shapely.LineString([[0, 0], [60, 10], [80, 70], [140, 75]]), shapely.points(places)
    )
    vertices = np.cumsum([0.0, np.hypot(60, 10), np.hypot(20, 60), np.hypot(60, 5)])
    at_vertex = np.abs(station[:, None] - vertices[None, 1:3]).min(axis=1) < gap
    return (near[:, 1] - near[:, 0] > gap) & ~at_vertex


@pytest.mark.long
@FEW
@given(places=PLACES, turn=st.floats(-3, 3), east=st.floats(-1e5, 1e5), north=st.floats(-1e5, 1e5))
def test_translation_and_rotation_do_not_matter(places, turn, east, north):
    clear = away_from_ties(places)
    found, moved = beside(places)[clear], beside(places, turn, (east, north))[clear]
    names = ["station", "offset", "along", "distance"]
    np.testing.assert_allclose(moved[names], found[names], atol=1e-7)
    turned = np.degrees(turn)
    np.testing.assert_allclose(np.cos(np.radians(moved["azimuth"] - found["azimuth"] + turned)), 1, atol=1e-9)


@pytest.mark.long
@FEW
@given(places=PLACES)
def test_reversing_a_line_flips_the_sign(places):
    clear = away_from_ties(places)
    found, back = beside(places)[clear], beside(places, reverse=True)[clear]
    np.testing.assert_allclose(back[["offset", "along"]], -found[["offset", "along"]], atol=1e-9)
    np.testing.assert_allclose(back["distance"], found["distance"], atol=1e-9)
    whole = np.hypot(60, 10) + np.hypot(20, 60) + np.hypot(60, 5)
    np.testing.assert_allclose(back["station"], whole - found["station"], atol=1e-9)


@pytest.mark.long
@FEW
@given(order=st.permutations(range(12)))
def test_the_order_of_rows_does_not_matter(order):
    points, lines = shots(count=12), design()
    found = geoqa.station_offset(points, lines)
    shuffled = geoqa.station_offset(points.iloc[order], lines.iloc[::-1])
    pd.testing.assert_frame_equal(shuffled, found.iloc[order])


ONE = [shapely.LineString([(0, 0), (9, 0)])]
BAD = {
    "points without a system": (
        lambda: (shots().set_crs(None, allow_override=True), design()),
        {},
        FrameError,
        "points have no coordinate system",
    ),
    "lines without a system": (
        lambda: (shots(), design().set_crs(None, allow_override=True)),
        {},
        FrameError,
        r"lines have no coordinate system.*set_crs\('EPSG:6547'\) only names it",
    ),
    "an array beside lines without a system": (
        lambda: (np.zeros((1, 2)), table(ONE, crs=None)),
        {},
        FrameError,
        "lines have no coordinate system",
    ),
    "the other foot": (
        lambda: (shots().set_crs("EPSG:6565", allow_override=True), design()),
        {},
        FrameError,
        r"points are in .*, lines in .*\(international foot\); bring one of the two",
    ),
    "degrees": (
        lambda: (table([shapely.Point(-100, 46)], crs="EPSG:4326"), table(ONE, crs="EPSG:4326")),
        {},
        FrameError,
        r"points are in degrees \(WGS 84\); lengths, offsets and tolerances need a projected system",
    ),
    "web map": (
        lambda: (table([shapely.Point(0, 0)], crs="EPSG:3857"), table(ONE, crs="EPSG:3857")),
        {},
        FrameError,
        "points is WGS 84 / Pseudo-Mercator, made for web maps",
    ),
    "several parts": (
        lambda: (shots(), table([shapely.MultiLineString([[(0, 0), (1, 0)], [(2, 0), (3, 0)]])])),
        {},
        GeometryInputError,
        r"1 MultiLineStrings of several parts, the first in row 0; .*lines.explode\(",
    ),
    "polygons as lines": (
        lambda: (shots(), table([shapely.box(0, 0, 1, 1)])),
        {},
        GeometryInputError,
        "1 row is no line, the first is a Polygon",
    ),
    "lines as points": (
        lambda: (design(), design()),
        {},
        GeometryInputError,
        "4 rows are no points, the first is a Line",
    ),
    "a vertex without a place": (
        lambda: (shots(), table([PLACELESS])),
        {},
        GeometryInputError,
        "a vertex of row 0 has no place",
    ),
    "a table without geometry": (
        lambda: (pd.DataFrame({"x": [1]}), design()),
        {},
        LayerError,
        r"points are a DataFrame without geometry; give a GeoDataFrame.*points_from_xy",
    ),
    "text for points": (lambda: ([["a", "b"]], design()), {}, GeometryInputError, "no number"),
    "numbers in a row": (lambda: ([1.0, 2.0, 3.0], design()), {}, GeometryInputError, r"points have shape \(3,\)"),
    "two lines of one name": (
        lambda: (shots(), pd.concat([design(), design()])),
        {},
        LayerError,
        "two of them are called 'L0' in the index",
    ),
    "two lines of one name in a column": (
        lambda: (shots(), design().assign(n=1)),
        {"line_id": "n"},
        LayerError,
        "two of them are called 1 in the column 'n'",
    ),
    "a line without a name": (
        lambda: (shots(), design().assign(n=["a", "b", "c", None])),
        {"line_id": "n"},
        LayerError,
        "one of them has no name in the column 'n'",
    ),
    "no such column": (
        lambda: (shots(), design()),
        {"line_id": "string"},
        LayerError,
        "no column 'string' for line_id; they have geometry",
    ),
    "a bare number": (
        lambda: (shots(), design()),
        {"max_distance": 10},
        QuantityError,
        r'max_distance is 10, a number without a unit; write it as text, for example "10 ft"',
    ),
    "a negative length": (
        lambda: (shots(), design()),
        {"max_distance": "-1 ft"},
        QuantityError,
        "max_distance is -1 ft",
    ),
    "a length of nothing": (lambda: (shots(), design()), {"max_distance": "0 ft"}, QuantityError, "max_distance is 0"),
    "no length": (
        lambda: (shots(), design()),
        {"max_distance": "ten feet"},
        QuantityError,
        "'ten feet' is not a length",
    ),
    "a list for a length": (lambda: (shots(), design()), {"max_distance": [1]}, QuantityError, "is no length"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_one_sentence_that_says_what_next(case):
    make, options, error, words = BAD[case]
    points, lines = make()
    with pytest.raises(error, match=words) as caught:
        geoqa.station_offset(points, lines, **options)
    assert isinstance(caught.value, GeoqaError)
    assert "[frame]" not in str(caught.value)
