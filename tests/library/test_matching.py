"""Which line each point is of: against odds worked out by hand, and under moves that change nothing."""

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

FEW = settings(max_examples=20)


def table(shapes, crs="EPSG:6547", index=None, **columns):
    return geopandas.GeoDataFrame(columns, geometry=list(shapes), crs=crs, index=index)


def curb():
    """Face and back two feet apart, running north, and a walk beside them; 2 % uphill from 100 ft."""
    lines = [shapely.LineString([(east, 0, 100), (east, 100, 102)]) for east in (0, 2, 3)]
    return table(lines, index=["face", "back", "walk"], kind=["curb", "curb", "walk"])


def shots(places, **columns):
    return table(shapely.points(np.array(places, dtype=float)), **columns)


def test_odds_are_those_of_normal_errors_of_construction():
    found = geoqa.match(shots([[0.1, 9], [1.0, 9], [0.7, 9]]), curb().iloc[:2])
    east = np.array([0.1, 1.0, 0.7])
    likely = np.exp(-(np.column_stack([east, 2 - east]) ** 2) / (2 * 0.5**2))
    np.testing.assert_allclose(found["odds"], likely.max(axis=1) / likely.sum(axis=1), rtol=1e-12)
    assert found["ambiguous"].tolist() == [False, True, True]
    assert found["line"].isna().tolist() == [False, True, True]
    assert found["candidates"].tolist() == [2, 2, 2]


def test_where_no_line_rivals_the_answer_is_that_of_station_offset():
    places = np.random.default_rng(5).uniform([-1, -2], [1, 102], (50, 2))
    points = shots(places)
    names = ["line", "station", "offset", "along", "distance", "azimuth", "design_elevation"]
    found, nearest = geoqa.match(points, curb().iloc[:1]), geoqa.station_offset(points, curb().iloc[:1])
    pd.testing.assert_frame_equal(found[names], nearest[names])
    assert (found["odds"] == 1).all()


def test_a_kind_is_matched_with_its_own_kind_only():
    points = shots([[2.9, 9], [2.9, 9], [2.9, 9], [2.9, 9]], kind=["walk", "curb", "sewer", None])
    found = geoqa.match(points, curb(), kind="kind", max_distance="1 ft")
    assert found["line"].tolist()[:2] == ["walk", "back"]
    assert found["line"].isna().tolist() == [False, False, True, True]
    assert found["candidates"].tolist() == [1, 1, 0, 0]
    assert found["odds"].isna().tolist() == [False, False, True, True]


def test_the_others_of_a_string_tip_an_even_choice():
    places = [[0, 10], [0.05, 20], [1.0, 30], [-0.05, 40]]
    alone = geoqa.match(shots(places), curb().iloc[:2])
    together = geoqa.match(shots(places, string=["7"] * 4), curb().iloc[:2], string="string")
    assert alone["ambiguous"].tolist() == [False, False, True, False]
    assert together["line"].tolist() == ["face"] * 4
    named = geoqa.match(shots(places, string=["a", "b", "back", "c"]), curb().iloc[:2], string="string")
    assert named["line"].tolist() == ["face", "face", "back", "face"]


def test_lines_that_give_the_same_numbers_are_no_rivals():
    twice = table([shapely.LineString([(0, 0), (0, 50)]), shapely.LineString([(0.01, 0), (0.01, 50)])])
    assert not geoqa.match(shots([[0, 9]]), twice)["ambiguous"].any()
    assert geoqa.match(shots([[0, 9]]), twice, alike="0 ft")["ambiguous"].all()


def test_index_rows_and_inputs_are_kept():
    points = pd.concat([shots([[0.1, 9], [0.1, 20]]), table([None, shapely.Point()])])
    points.index = ["a", "b", "a", "c"]
    lines = pd.concat([curb().iloc[:1], table([None], index=["none"])])
    before = points.copy(deep=True), lines.copy(deep=True)
    found = geoqa.match(points, lines)
    pd.testing.assert_index_equal(found.index, points.index)
    assert found["line"].isna().tolist() == [False, False, True, True]
    geopandas.testing.assert_geodataframe_equal(points, before[0])
    geopandas.testing.assert_geodataframe_equal(lines, before[1])
    assert geoqa.match(points, lines.iloc[1:])["candidates"].tolist() == [0] * 4
    assert len(geoqa.match(points.iloc[:0], lines)) == 0


def test_names_may_be_whole_numbers_of_a_column():
    found = geoqa.match(shots([[0.1, 9], [3.1, 9]]), curb().assign(number=[10, 9, 2]), line_id="number", scale="0.1 ft")
    assert found["line"].dtype == "Int64"
    assert found["line"].tolist() == [10, 2]


@FEW
@given(order=st.permutations(range(6)), turn=st.floats(-180, 180), east=st.floats(-1e4, 1e4))
@pytest.mark.long
def test_order_translation_and_rotation_do_not_matter(order, turn, east):
    points = shots([[0.1, 9], [1.0, 20], [0.7, 30], [2.2, 44], [-0.3, 70], [1.4, 93]])
    found = geoqa.match(points, curb().iloc[:2])

    def moved(shapes):
        return shapes.rotate(turn, origin=(0, 0)).translate(east, -east)

    other = geoqa.match(points.set_geometry(moved(points)).iloc[order], curb().set_geometry(moved(curb())).iloc[[1, 0]])
    names = ["station", "offset", "distance", "odds"]
    np.testing.assert_allclose(other[names], found[names].iloc[order], atol=1e-7)
    pd.testing.assert_series_equal(other["line"], found["line"].iloc[order])
    back = geoqa.match(points, curb().iloc[:2].set_geometry(curb().iloc[:2].reverse()))
    np.testing.assert_allclose(back["offset"], -found["offset"], atol=1e-9)


def test_deviations_are_measured_minus_design_at_the_points_own_station():
    places = np.array([[0.1, 25, 100.53], [-0.2, 75, 101.40], [0.0, 50, np.nan]])
    found = geoqa.deviations(table(shapely.points(places)), curb().iloc[:1])
    np.testing.assert_allclose(found["elevation_deviation"], places[:, 2] - (100 + 0.02 * places[:, 1]), atol=1e-12)
    np.testing.assert_allclose(found["offset"], places[:, 0], atol=1e-12)
    judged = geoqa.judge(found["elevation_deviation"], lower="-0.05 ft", upper="0.05 ft", u=0.005, unit="ft")
    assert judged["verdict"].tolist() == ["IN", "OUT", "NO_DATA"]
    assert len(geoqa.deviations(table([]), curb())) == 0


@settings(max_examples=8)
@given(
    order=st.permutations(range(5)), turn=st.floats(-180, 180), east=st.floats(-1e4, 1e4), up=st.floats(-100, 100),
    labels=st.lists(st.text(max_size=3), min_size=5, max_size=5),
)  # fmt: skip
@pytest.mark.long
def test_order_place_and_direction_do_not_matter_to_deviations(order, turn, east, up, labels):
    places = [[0.1, 9, 100.2], [-0.3, 20, 100.4], [0.2, 44, 100.9], [-0.1, 70, 101.3], [0.05, 93, 101.9]]
    points = shots(places).set_axis(labels)
    line = curb().iloc[:1]
    found = geoqa.deviations(points, line)
    assert found.index.tolist() == labels

    def moved(table):
        turned = table.rotate(turn, origin=(0, 0))
        return table.set_geometry(turned.translate(east, -east, up))

    names = ["station", "offset", "elevation_deviation"]
    other = geoqa.deviations(moved(points).iloc[order], moved(line))
    assert other.index.tolist() == [labels[row] for row in order]
    np.testing.assert_allclose(other[names], found[names].iloc[order], atol=1e-7)
    back = geoqa.deviations(points, line.set_geometry(line.reverse()))
    np.testing.assert_allclose(back["offset"], -found["offset"], atol=1e-9)
    np.testing.assert_allclose(back["elevation_deviation"], found["elevation_deviation"], atol=1e-9)
    np.testing.assert_allclose(back["station"], 100 - found["station"], atol=1e-9)


BAD = {
    "no system": (
        lambda: shots([[0, 0]]).set_crs(None, allow_override=True),
        {},
        FrameError,
        "points have no coordinate",
    ),
    "no such column": (lambda: shots([[0, 0]]), {"kind": "what"}, LayerError, "points have no column 'what' for kind"),
    "no such string": (lambda: shots([[0, 0]]), {"string": "s"}, LayerError, "points have no column 's' for string"),
    "a bare number": (lambda: shots([[0, 0]]), {"scale": 0.5}, QuantityError, "scale is 0.5, a number without a unit"),
    "no distance": (
        lambda: shots([[0, 0]]),
        {"max_distance": "0 ft"},
        QuantityError,
        "max_distance is 0 ft; give a posi",
    ),
    "a negative length": (
        lambda: shots([[0, 0]]),
        {"alike": "-1 ft"},
        QuantityError,
        "alike is -1 ft; give a length of 0",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_one_sentence_that_says_what_next(case):
    points, options, error, words = BAD[case]
    with pytest.raises(error, match=words):
        geoqa.match(points(), curb(), **options)


def test_lines_without_a_kind_or_of_one_name_as_text_are_refused():
    points = shots([[0, 0]], kind=["curb"])
    with pytest.raises(LayerError, match="lines: 1 of them have no kind"):
        geoqa.match(points, curb().assign(kind=["curb", None, "walk"]), kind="kind")
    with pytest.raises(LayerError, match="two of them are called '1' as text"):
        geoqa.match(points, curb().set_axis(pd.Index([1, "1", "x"], dtype=object)))


def test_deviations_need_elevations_on_both_sides_above_one_datum():
    high, flat = table(shapely.points([[0, 9, 100.0]])), curb().set_geometry(shapely.force_2d(curb().geometry))
    with pytest.raises(GeometryInputError, match="lines have no elevations"):
        geoqa.deviations(high, flat)
    with pytest.raises(GeometryInputError, match="points have no elevations; give them in 3D"):
        geoqa.deviations(shots([[0, 9]]), curb())
    with pytest.raises(FrameError, match=r"points have elevations in NAVD88 height, lines in NAVD88 height \(ft\)"):
        geoqa.deviations(
            high.set_crs("EPSG:6547+5703", allow_override=True), curb().set_crs("EPSG:6547+8228", allow_override=True)
        )
