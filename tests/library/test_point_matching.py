"""Which design point each shot is of: against an assignment made by trying all, odds by hand, and moves."""

from itertools import product

import geopandas
import geopandas.testing
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import geoqa
from geoqa.errors import FrameError, GeometryInputError, LayerError, QuantityError

ZONE = "EPSG:6547"
CORNER = np.array([2_228_000.0, 444_000.0, 1400.0])
DEVIATIONS = ["easting_deviation", "northing_deviation", "elevation_deviation"]


def table(places, crs=ZONE, index=None, **columns):
    return geopandas.GeoDataFrame(columns, geometry=shapely.points(np.asarray(places, float)), crs=crs, index=index)


def hydrants(**more):
    places = np.add(CORNER, [[0, 0, 0], [4, 0, 1], [20, 5, 2], [21, 5, 3]])
    return table(places, index=["H-1", "H-2", "H-3", "R-1"], kind=["hydrant"] * 3 + ["rim"], **more)


OFF = np.array([[0.1, -0.2, 0.05], [-0.3, 0.1, -0.02], [0.0, 0.25, 0.11], [0.02, 0.0, 0.0]])


def shots(**columns):
    places = hydrants().get_coordinates(include_z=True).to_numpy() + OFF
    return table(places, index=list("dbca"), kind=["hydrant"] * 3 + ["rim"], **columns)


def test_deviations_are_measured_minus_design_on_the_index_of_the_shots():
    points, design = shots(), hydrants()
    before = points.copy(deep=True), design.copy(deep=True)
    found = geoqa.match_points(points, design, kind="kind")
    pd.testing.assert_index_equal(found.index, points.index)
    assert found["design_point"].tolist() == ["H-1", "H-2", "H-3", "R-1"]
    np.testing.assert_allclose(found[DEVIATIONS], OFF, atol=1e-9)
    np.testing.assert_allclose(found["distance"], np.hypot(*OFF[:, :2].T), atol=1e-9)
    north = np.radians(found["azimuth"])
    np.testing.assert_allclose(found["distance"] * np.sin(north), OFF[:, 0], atol=1e-9)
    np.testing.assert_allclose(found["distance"] * np.cos(north), OFF[:, 1], atol=1e-9)
    np.testing.assert_allclose(found["design_elevation"], [1400, 1401, 1402, 1403])
    geopandas.testing.assert_geodataframe_equal(points, before[0])
    geopandas.testing.assert_geodataframe_equal(design, before[1])


@pytest.mark.parametrize("seed", range(8))
def test_shots_together_lie_as_near_as_any_choice_lets_them(seed):
    draw = np.random.default_rng(seed)
    design = draw.uniform(0, 6, (5, 2))
    shot = design[draw.integers(0, 5, 5)] + draw.normal(0, 0.4, (5, 2))
    found = geoqa.match_points(table(shot), table(design), max_distance="100 ft")
    cost = ((shot[:, None] - design[None]) ** 2).sum(axis=2) / 0.5**2
    # a second shot of one point costs 6 more; all 3125 choices are tried
    choices = np.array(list(product(range(5), repeat=5)))
    again = 5 - np.array([len(set(each)) for each in choices.tolist()])
    best = choices[np.argmin(cost[np.arange(5), choices].sum(axis=1) + 6.0 * again)]
    chosen = found["design_point"].notna().to_numpy()
    assert chosen.any()
    assert found["design_point"][chosen].tolist() == best[chosen].tolist()
    assert (found["ambiguous"] == ~chosen).all()


def test_odds_are_those_of_normal_errors_of_construction():
    found = geoqa.match_points(table([[1.7, 0.0]]), table([[0.0, 0.0], [4.0, 0.0]]))
    near, far = 1.7**2 / 0.5**2, 2.3**2 / 0.5**2
    assert found["odds"].iloc[0] == pytest.approx(1 / (1 + np.exp((near - far) / 2)), rel=1e-9)
    assert found["candidates"].tolist() == [2]
    midway = geoqa.match_points(table([[2.0, 0.0]]), table([[0.0, 0.0], [4.0, 0.0]])).iloc[0]
    assert midway["ambiguous"]
    assert midway["odds"] == pytest.approx(0.5)
    assert midway[["design_point", *DEVIATIONS, "distance"]].isna().all()


def test_a_kind_is_matched_with_its_own_kind_only():
    points = shots().assign(kind=["hydrant", "rim", "sewer", None])
    found = geoqa.match_points(points, hydrants(), kind="kind", max_distance="3 ft")
    assert found["design_point"].isna().tolist() == [False, True, True, True]
    assert found["candidates"].tolist() == [1, 0, 0, 0]
    assert found["odds"].isna().tolist() == [False, True, True, True]
    assert not found["ambiguous"].any()


def test_a_shot_that_names_its_point_is_of_it_however_far_away():
    points = shots(called=["H-2", None, " H-3 ", "H-1"])
    found = geoqa.match_points(points, hydrants(), kind="kind", name="called")
    assert found["design_point"].tolist() == ["H-2", "H-2", "H-3", "R-1"]  # a rim is no hydrant, whatever its name
    assert found["distance"].iloc[0] == pytest.approx(np.hypot(3.9, 0.2))
    assert found["odds"].iloc[0] == 1.0


def test_names_may_be_whole_numbers_also_where_some_are_missing():
    design = hydrants(number=[10, 20, 30, 40])
    points = shots(called=[20.0, np.nan, np.nan, np.nan])
    found = geoqa.match_points(points, design, name="called", point_id="number", kind="kind")
    assert found["design_point"].dtype == "Int64"
    assert found["design_point"].tolist() == [20, 20, 30, 40]


def test_rows_without_a_place_stay_rows_and_a_design_without_one_is_out_of_reach():
    points, design = shots(), hydrants()
    points.loc["b", "geometry"], points.loc["c", "geometry"] = None, shapely.Point()
    design.loc["H-1", "geometry"] = None
    found = geoqa.match_points(points, design, kind="kind", max_distance="1 ft")
    assert found["design_point"].isna().tolist() == [True, True, True, False]
    assert found[DEVIATIONS].isna().all(axis=1).tolist() == [True, True, True, False]
    assert len(geoqa.match_points(points.iloc[:0], design)) == 0
    assert geoqa.match_points(points, design.iloc[:0])["candidates"].tolist() == [0] * 4


def test_points_in_2d_have_no_deviation_in_elevation():
    flat = shots().set_geometry(shapely.force_2d(shots().geometry.array))
    found = geoqa.match_points(flat, hydrants(), kind="kind")
    assert found["elevation_deviation"].isna().all()
    assert found["easting_deviation"].notna().all()


def test_reach_takes_any_unit():
    far, design = table([[3.0, 0.0]]), table([[0.0, 0.0]])
    assert geoqa.match_points(far, design, max_distance="0.9 m")["candidates"].tolist() == [0]
    assert geoqa.match_points(far, design, max_distance="0.92 m")["candidates"].tolist() == [1]


@pytest.mark.long
@settings(max_examples=20)
@given(order=st.permutations(range(4)), turn=st.floats(-180, 180), east=st.floats(-1e4, 1e4))
def test_order_translation_and_rotation_do_not_matter(order, turn, east):
    points, design = shots(), hydrants()
    found = geoqa.match_points(points, design, kind="kind")

    def moved(shapes):
        return shapes.set_geometry(shapes.rotate(turn, origin=tuple(CORNER[:2])).translate(east, -east))

    other = geoqa.match_points(moved(points).iloc[order], moved(design).iloc[::-1], kind="kind")
    names = ["distance", "elevation_deviation", "odds"]
    np.testing.assert_allclose(other[names], found[names].iloc[order], atol=1e-6)
    pd.testing.assert_series_equal(other["design_point"], found["design_point"].iloc[order])


BAD = {
    "no system": (lambda: shots().set_crs(None, allow_override=True), hydrants, {}, FrameError, "points have no coord"),
    "degrees": (lambda: table([[-98, 47]], crs="EPSG:4326"), hydrants, {}, FrameError, "points are in degrees"),
    "another system": (shots, lambda: table([[0, 0]], crs="EPSG:6565"), {}, FrameError, "points are in .* design_poi"),
    "two heights": (
        lambda: shots().set_crs("EPSG:6547+8228", allow_override=True),
        lambda: hydrants().set_crs("EPSG:6547+5703", allow_override=True),
        {},
        FrameError,
        "points have elevations in .* design_points in",
    ),
    "no kind column": (shots, hydrants, {"kind": "what"}, LayerError, "points have no column 'what' for kind"),
    "no name column": (shots, hydrants, {"name": "what"}, LayerError, "points have no column 'what' for name"),
    "no id column": (shots, hydrants, {"point_id": "n"}, LayerError, "design_points have no column 'n' for point_id"),
    "a design without kind": (
        shots,
        lambda: hydrants().assign(kind=["rim", None, "rim", "rim"]),
        {"kind": "kind"},
        LayerError,
        "design_points: 1 of them have no kind",
    ),
    "two of a name": (
        shots,
        lambda: hydrants().set_axis(["A", "A", "B", "C"]),
        {},
        LayerError,
        "design_points: two of them are called 'A' in the index",
    ),
    "lines": (
        lambda: geopandas.GeoSeries([shapely.LineString([(0, 0), (1, 1)])], crs=ZONE),
        hydrants,
        {},
        GeometryInputError,
        "points: 1 row is no point",
    ),
    "no geometry": (lambda: pd.DataFrame({"e": [1.0]}), hydrants, {}, LayerError, "points are a DataFrame without geo"),
    "a bare number": (shots, hydrants, {"scale": 0.5}, QuantityError, "scale is 0.5, a number without a unit"),
    "no distance": (shots, hydrants, {"max_distance": "0 ft"}, QuantityError, "max_distance is 0 ft; give a positive"),
    "no length": (shots, hydrants, {"max_distance": "near"}, QuantityError, "max_distance: 'near' is not a length"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_one_sentence_that_says_what_next(case):
    points, design, options, error, words = BAD[case]
    with pytest.raises(error, match=words):
        geoqa.match_points(points(), design(), **options)
