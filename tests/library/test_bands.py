"""Bands of tables of lines, against buffers and against the offsets they stand for."""

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

ZIGZAG = [(0, 0), (40, 0), (60, 30), (55, 80), (90, 85)]
FEW = settings(max_examples=30)


def table(shapes, crs="EPSG:6547", **columns):
    return geopandas.GeoDataFrame(columns, geometry=list(shapes), crs=crs)


def design():
    lines = [
        shapely.LineString(ZIGZAG),
        shapely.LineString([(200, 0), (200, 50)]),
        shapely.LineString([(0, 99), (9, 99)]),
    ]
    return table(lines, kind=["curb", "walk", "curb"]).set_index(pd.Index(["b", "a", "b"], name="string"))


def test_square_and_round_bands_are_flat_and_round_buffers():
    shapes = design().geometry
    for ends, cap in (("square", "flat"), ("round", "round")):
        drawn = geoqa.tolerance_bands(shapes, left="2 ft", right="2 ft", ends=ends)
        buffers = shapes.buffer(2.0, cap_style=cap, quad_segs=256)
        # a thousandth of the width, and the millionth that corners are rounded to
        assert (drawn.geometry.hausdorff_distance(buffers, align=False) < 0.002 + 2e-6).all()
        assert drawn.is_valid.all()


def test_a_shot_lies_in_its_band_exactly_if_its_offset_is_within_the_widths():
    line = table([shapely.LineString(ZIGZAG)])
    (band,) = geoqa.tolerance_bands(line, left="1 ft", right="3 ft").geometry
    places = np.random.default_rng(3).uniform([-9, -9], [99, 99], (5000, 2))
    found = geoqa.station_offset(places, line)
    within = found["offset"].between(-1, 3) & (found["along"] == 0)
    clear = np.minimum((found["offset"] + 1).abs(), (found["offset"] - 3).abs()) > 4e-3
    assert within.sum() > 100
    np.testing.assert_array_equal(shapely.contains_xy(band, places)[clear], within[clear])


def test_each_kind_has_its_own_widths_in_the_unit_of_the_system():
    drawn = geoqa.tolerance_bands(design(), kind="kind", left={"curb": "0.3048 m", "walk": "6 in"}, right="2 ft")
    assert drawn["left"].tolist() == [1.0, 0.5, 1.0]
    assert drawn["right"].tolist() == [2.0] * 3
    assert drawn["kind"].tolist() == ["curb", "walk", "curb"]
    assert drawn.area.iloc[1:].tolist() == pytest.approx([50 * 2.5, 9 * 3.0], rel=1e-6)


def test_numbers_may_stand_beside_a_stated_unit_and_both_feet_are_kept_apart():
    lines = design()
    unit = geoqa.tolerance_bands(lines, left="1 m", right="0 m")["left"].iloc[0]
    by_number = geoqa.tolerance_bands(lines, left=1.0, right=0.0, unit="m")["left"].iloc[0]
    assert by_number == pytest.approx(unit, rel=1e-15)
    survey = geoqa.tolerance_bands(design().set_crs("EPSG:6565", allow_override=True), left="1 ft", right="1 ftUS")
    assert survey["left"].iloc[0] == pytest.approx(0.999998, abs=1e-9)
    assert survey["right"].iloc[0] == 1.0


def test_the_index_is_kept_rows_stay_and_inputs_are_never_changed():
    lines = pd.concat([design(), table([None, shapely.LineString()], kind=["walk", "curb"])])
    before = lines.copy(deep=True)
    drawn = geoqa.tolerance_bands(lines, left="1 ft", right="1 ft", kind="kind")
    pd.testing.assert_index_equal(drawn.index, lines.index)
    assert drawn.geometry.isna().tolist() == [False, False, False, True, True]
    assert drawn.crs == lines.crs
    geopandas.testing.assert_geodataframe_equal(lines, before)


def test_where_a_side_has_no_limit_there_is_no_band_and_where_both_are_nothing_it_is_empty():
    drawn = geoqa.tolerance_bands(design(), kind="kind", left={"curb": "1 ft", "walk": None}, right="1 ft")
    assert drawn.geometry.isna().tolist() == [False, True, False]
    assert drawn["left"].isna().tolist() == [False, True, False]
    assert geoqa.tolerance_bands(design(), left="0 ft", right="0 ft").is_empty.all()
    assert len(geoqa.tolerance_bands(design().iloc[:0], left="1 ft", right="1 ft")) == 0


def test_lines_with_elevations_have_flat_bands():
    lines = design()
    elevated = lines.set_geometry(shapely.force_3d(lines.geometry, 1450.0))
    drawn = geoqa.tolerance_bands(elevated, left="1 ft", right="1 ft")
    assert not drawn.has_z.any()
    geopandas.testing.assert_geodataframe_equal(drawn, geoqa.tolerance_bands(lines, left="1 ft", right="1 ft"))


@pytest.mark.long
@FEW
@given(east=st.floats(-1e5, 1e5), north=st.floats(-1e5, 1e5), turn=st.floats(-180, 180))
def test_translation_and_rotation_do_not_matter(east, north, turn):
    shape = shapely.affinity.rotate(shapely.LineString(ZIGZAG), turn, origin=(0, 0))
    moved = table([shapely.affinity.translate(shape, east, north)])
    for ends in ("square", "round"):
        widths = {"left": "1 ft", "right": "3 ft", "ends": ends}
        area = geoqa.tolerance_bands(table([shapely.LineString(ZIGZAG)]), **widths).area
        assert geoqa.tolerance_bands(moved, **widths).area.tolist() == pytest.approx(area.tolist(), rel=1e-5)


def test_reversing_a_line_swaps_its_sides():
    line = table([shapely.LineString(ZIGZAG)])
    for ends in ("square", "round"):
        one = geoqa.tolerance_bands(line, left="1 ft", right="3 ft", ends=ends).geometry
        other = geoqa.tolerance_bands(line.reverse(), left="3 ft", right="1 ft", ends=ends).geometry
        assert one.symmetric_difference(other).area.max() < 1e-2


@FEW
@given(order=st.permutations(range(3)))
def test_the_order_of_rows_does_not_matter(order):
    widths = {"kind": "kind", "left": {"curb": "1 ft", "walk": "2 ft"}, "right": "1 ft"}
    drawn = geoqa.tolerance_bands(design(), **widths)
    geopandas.testing.assert_geodataframe_equal(
        geoqa.tolerance_bands(design().iloc[order], **widths), drawn.iloc[order]
    )


EVEN = {"left": "1 ft", "right": "1 ft"}
PARTS = [shapely.MultiLineString([[(0, 0), (1, 0)], [(2, 0), (3, 0)]])]
BAD = {
    "no system": (lambda: table([], crs=None), EVEN, FrameError, "lines have no coordinate system"),
    "degrees": (lambda: table([], crs="EPSG:4326"), EVEN, FrameError, "lines are in degrees"),
    "several parts": (lambda: table(PARTS), EVEN, GeometryInputError, "1 MultiLineStrings of several parts"),
    "no geometry": (lambda: pd.DataFrame({"a": [1]}), EVEN, LayerError, "lines are a DataFrame without geometry"),
    "a bare number": (design, {"left": 0.1, "right": "1 ft"}, QuantityError, "left is 0.1, a number without a unit"),
    "an unknown unit": (
        design,
        {"left": 1, "right": 1, "unit": "feet"},
        QuantityError,
        "No unit of length named 'feet'",
    ),
    "a negative width": (
        design,
        {"left": "1 ft", "right": "-1 ft"},
        QuantityError,
        "right is -1 ft; give a length of 0",
    ),
    "other ends": (design, EVEN | {"ends": "flat"}, QuantityError, "ends is 'flat'; a band ends 'square' or 'round'"),
    "a kind without a width": (
        design,
        {"kind": "kind", "left": {"curb": "1 ft"}, "right": "1 ft"},
        LayerError,
        "left has no width for 'walk'; it has 'curb'. Give each kind a length, or None",
    ),
    "a missing kind": (
        lambda: design().assign(kind=["curb", None, "curb"]),
        {"kind": "kind", "left": {"curb": "1 ft"}, "right": "1 ft"},
        LayerError,
        "left has no width for a missing kind",
    ),
    "widths by kind without the column": (
        design,
        {"left": {"curb": "1 ft"}, "right": "1 ft"},
        LayerError,
        "not which column holds it; say kind=",
    ),
    "no such column": (
        design,
        EVEN | {"kind": "layer"},
        LayerError,
        "no column 'layer' for kind; they have kind, geom",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_one_sentence_that_says_what_next(case):
    lines, options, error, words = BAD[case]
    with pytest.raises(error, match=words):
        geoqa.tolerance_bands(lines(), **options)
