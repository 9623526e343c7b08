"""Residuals on control and site fits of tables, against moves that were put in and formulas worked out by hand."""

import geopandas
import geopandas.testing
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import geoqa
from geoqa.errors import FrameError, GeometryInputError, LayerError, QuantityError, StepError

ZONE = "EPSG:6547"
PLACES = np.array(
    [[0, 0, 50], [1000, 0, 52], [1000, 1000, 54], [0, 1000, 51], [500, 0, 50], [500, 1000, 53]], dtype=float
)
PLACES += [2_228_000, 444_000, 1400]
NAMES = [f"CP-{row}" for row in range(1, 7)]
U = {"mark": "on", "u_h": "0.02 ft", "u_v": "0.03 ft"}


def marks(crs=ZONE, places=PLACES, index=NAMES):
    return geopandas.GeoDataFrame(geometry=shapely.points(places), crs=crs, index=index)


def shots(off=(0.0, 0.0, 0.0), crs=ZONE, **columns):
    """A shot on each mark, measured minus published as given."""
    places = PLACES + np.asarray(off, dtype=float)
    columns = {"on": NAMES} | columns
    return geopandas.GeoDataFrame(columns, geometry=shapely.points(places), crs=crs, index=list("abcdef"))


OFF = np.random.default_rng(8).normal(0, 0.02, (6, 3))


def test_residuals_are_measured_minus_published_on_the_index_of_the_shots():
    points = shots(OFF).iloc[[3, 0, 5, 1, 2, 4]]
    points.loc["b", "on"] = None
    points.loc["c", "on"] = "TEMP"
    before = points.copy(deep=True)
    found = geoqa.control_residuals(points, marks(), **U)
    expected = pd.DataFrame(OFF, columns=["easting", "northing", "elevation"], index=list("abcdef")).loc[points.index]
    expected.loc[["b", "c"]] = np.nan
    pd.testing.assert_frame_equal(found.residuals[["easting", "northing", "elevation"]], expected, atol=1e-9, rtol=0)
    np.testing.assert_allclose(found.residuals["horizontal"], np.hypot(*expected[["easting", "northing"]].T.to_numpy()))
    assert found.residuals["mark"].tolist()[:3] == ["CP-4", "CP-1", "CP-6"]
    assert found.residuals["mark"].isna().tolist() == [False, False, False, True, True, False]
    geopandas.testing.assert_geodataframe_equal(points, before)


def test_sums_by_session_are_means_and_root_mean_squares():
    found = geoqa.control_residuals(shots(OFF, day=[1, 1, 1, 2, 2, 2]), marks(), session="day", **U).sessions
    assert found["session"].tolist() == ["1", "2", "all"]
    assert found["shots"].tolist() == [3, 3, 6]
    np.testing.assert_allclose(
        found["mean_easting"], [OFF[:3, 0].mean(), OFF[3:, 0].mean(), OFF[:, 0].mean()], atol=1e-9
    )
    np.testing.assert_allclose(found["rmse_elevation"].iloc[2], np.sqrt((OFF[:, 2] ** 2).mean()), atol=1e-9)
    assert found["horizontal_says"].iloc[2] == "6 marks agree"


def test_a_mark_that_does_not_fit_the_others_is_named():
    off = np.zeros((6, 3))
    off[3] = [0.4, 0.0, 0.0]
    found = geoqa.control_residuals(shots(off), marks(), **U).sessions.iloc[0]
    assert found["outlying"] == "CP-4"
    assert "CP-4 by 0.400 ft" in found["horizontal_says"]


def test_marks_in_2d_have_no_residual_in_elevation_and_shots_without_a_place_none_at_all():
    points = shots(OFF)
    points.loc["a", "geometry"] = None
    found = geoqa.control_residuals(points, marks(places=PLACES[:, :2]), **U).residuals
    assert found["elevation"].isna().all()
    assert found["easting"].isna().tolist() == [True, *[False] * 5]
    nobody = geoqa.control_residuals(points.assign(on="x"), marks(), **U).residuals
    assert nobody.isna().all(axis=None)
    assert len(geoqa.control_residuals(points.iloc[:0], marks(), **U).residuals) == 0


def test_names_may_be_whole_numbers_also_where_some_are_missing():
    points = shots(OFF).assign(on=[1.0, 2.0, np.nan, 4.0, 5.0, 6.0])
    found = geoqa.control_residuals(points, marks(index=range(1, 7)), **U).residuals
    assert found["mark"].dtype == "Int64"
    assert found["mark"].dropna().tolist() == [1, 2, 4, 5, 6]


def test_a_shift_a_turn_and_a_scale_are_found_as_put_in():
    turn, scale, shift = np.radians(30 / 3600), 1 + 200e-6, np.array([0.15, -0.08])
    centre = PLACES[:, :2].mean(axis=0)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    # from published to measured the other way round
    measured = (PLACES[:, :2] - centre) @ rotation / scale + centre - shift
    off = np.column_stack([measured - PLACES[:, :2], np.full(6, 0.04)])
    found = geoqa.site_fit(shots(off), marks(), **U)
    value = found.parameters.set_index("parameter")["value"]
    assert value[["shift east", "shift north", "shift up"]].tolist() == pytest.approx([*shift, -0.04], abs=1e-6)
    assert value[["scale", "rotation"]].tolist() == pytest.approx([200.0, 30.0], abs=1e-3)
    np.testing.assert_allclose(found.marks[["residual_easting", "residual_northing"]], 0, atol=1e-6)
    assert found.marks["mark"].tolist() == NAMES
    assert any("combined factor" in each for each in found.warnings)


def test_standard_errors_fall_with_the_root_of_the_marks_and_take_the_unit_of_the_uncertainty():
    found = geoqa.site_fit(shots(), marks(), **U).parameters.set_index("parameter")
    assert found.loc["shift east", "se"] == pytest.approx(0.02 / np.sqrt(6), rel=1e-6)
    numbers = geoqa.site_fit(
        shots(), marks(), mark="on", u_h=0.02 * 0.3048, u_v=[0.03 * 0.3048] * 6, unit="m"
    ).parameters
    np.testing.assert_allclose(numbers["se"], found["se"], rtol=1e-9)
    marked = geoqa.site_fit(shots(), marks(), **U, mark_u_h="0.02 ft").parameters.set_index("parameter")
    assert marked.loc["shift east", "se"] == pytest.approx(0.02 * np.sqrt(2 / 6), rel=1e-6)


def test_a_fit_that_would_hide_a_wrong_foot_says_so():
    wrong = PLACES[:, :2] * (0.3048 / (1200 / 3937)) - PLACES[:, :2]
    found = geoqa.site_fit(shots(np.column_stack([wrong, np.zeros(6)])), marks(), **U)
    assert any("foot" in each for each in found.warnings)


def test_marks_without_elevations_have_a_fit_in_plan_alone():
    found = geoqa.site_fit(shots([0.1, 0.0, 0.0]), marks(places=PLACES[:, :2]), **U)
    assert "shift up" not in found.parameters["parameter"].tolist()
    assert found.parameters["value"].iloc[0] == pytest.approx(-0.1, abs=1e-6)


@settings(max_examples=15)
@given(order=st.permutations(range(6)), east=st.floats(-1e4, 1e4))
@pytest.mark.long
def test_order_and_place_do_not_matter(order, east):
    points, known = shots(OFF), marks()
    found = geoqa.control_residuals(points, known, **U).residuals
    moved = [each.set_geometry(each.translate(east, -east)) for each in (points.iloc[order], known.iloc[::-1])]
    other = geoqa.control_residuals(*moved, **U).residuals
    pd.testing.assert_frame_equal(other, found.iloc[order], atol=1e-8, rtol=0)


def turned(table, turn, east):
    """The same in a grid that is turned about the middle of the marks, and moved."""
    return table.set_geometry(table.rotate(turn, origin=tuple(PLACES[:, :2].mean(axis=0))).translate(east, -east))


def turned_back(pair, turn):
    angle = np.radians(turn)
    east, north = pair.to_numpy().T
    return np.column_stack([east * np.cos(angle) + north * np.sin(angle), north * np.cos(angle) - east * np.sin(angle)])


@pytest.mark.long
@settings(max_examples=6)
@given(turn=st.floats(-180, 180), labels=st.permutations(range(6)))
def test_residuals_turn_with_the_grid_and_change_sign_where_both_sides_are_swapped(turn, labels):
    points, known = shots(OFF).set_axis(labels), marks()
    found = geoqa.control_residuals(points, known, **U).residuals
    assert found.index.tolist() == labels
    other = geoqa.control_residuals(turned(points, turn, 0.0), turned(known, turn, 0.0), **U).residuals
    plan = ["easting", "northing"]
    np.testing.assert_allclose(turned_back(other[plan], turn), found[plan], atol=1e-7)
    same = ["horizontal", "elevation"]
    np.testing.assert_allclose(other[same], found[same], atol=1e-7)
    swapped = geoqa.control_residuals(known.assign(on=NAMES).set_axis(labels), points.set_axis(NAMES), **U).residuals
    np.testing.assert_allclose(swapped[[*plan, "elevation"]], -found[[*plan, "elevation"]], atol=1e-9)


@pytest.mark.long
@settings(max_examples=6)
@given(order=st.permutations(range(6)), turn=st.floats(-180, 180), east=st.floats(-1e4, 1e4))
def test_order_and_place_do_not_matter_to_a_fit_and_its_shift_turns_with_the_grid(order, turn, east):
    points, known = shots(OFF + np.array([0.2, -0.1, 0.05])), marks()
    found = geoqa.site_fit(points, known, **U)
    other = geoqa.site_fit(turned(points, turn, east).iloc[order], turned(known, turn, east).iloc[::-1], **U)
    value, theirs = (each.parameters.set_index("parameter")["value"] for each in (found, other))
    shift = ["shift east", "shift north"]
    back = turned_back(theirs[shift].to_frame().T, turn)[0]
    np.testing.assert_allclose(back, value[shift].astype(float), atol=1e-6)
    rest = ["shift up", "scale", "rotation"]
    np.testing.assert_allclose(theirs[rest].astype(float), value[rest].astype(float), atol=1e-4)
    np.testing.assert_allclose(
        np.hypot(*found.marks.sort_values("mark")[["residual_easting", "residual_northing"]].to_numpy().T),
        np.hypot(*other.marks.sort_values("mark")[["residual_easting", "residual_northing"]].to_numpy().T),
        atol=1e-6,
    )


BAD = {
    "no system": (lambda: shots(crs=None), marks, U, FrameError, "shots have no coordinate system"),
    "another system": (shots, lambda: marks(crs="EPSG:6565"), U, FrameError, "shots are in .* marks in "),
    "two units": (lambda: shots(crs="EPSG:6547+5703"), marks, U, FrameError, "plan in ft and their elevations in m"),
    "no such column": (shots, marks, U | {"mark": "name"}, LayerError, "shots have no column 'name' for mark"),
    "no such session": (shots, marks, U | {"session": "day"}, LayerError, "shots have no column 'day' for session"),
    "two marks of a name": (
        shots,
        lambda: marks(index=["A"] * 6),
        U,
        LayerError,
        "marks: two of them are called 'A' in the index",
    ),
    "lines": (
        shots,
        lambda: geopandas.GeoSeries([shapely.LineString([(0, 0), (1, 1)])], crs=ZONE),
        U,
        GeometryInputError,
        "marks: 1 row is no point",
    ),
    "a bare number": (shots, marks, U | {"u_h": 0.02}, QuantityError, "u_h holds numbers without a unit"),
    "a bare number of marks": (
        shots,
        marks,
        U | {"mark_u_h": "fine"},
        QuantityError,
        "mark_u_h: 'fine' is not a length",
    ),
    "another index": (
        shots,
        marks,
        U | {"u_v": pd.Series([0.1] * 6), "unit": "ft"},
        LayerError,
        "u_v stands on another",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_one_sentence_that_says_what_next(case):
    points, known, options, error, words = BAD[case]
    with pytest.raises(error, match=words):
        geoqa.control_residuals(points(), known(), **options)


def test_one_mark_is_too_few_for_a_fit():
    with pytest.raises(StepError, match="at least two marks and has 1"):
        geoqa.site_fit(shots().iloc[:1], marks(), **U)
