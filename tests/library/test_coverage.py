"""Reaches without a shot, against gaps counted by hand and lengths by the geometry library."""

import geopandas
import geopandas.testing
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import geoqa
from geoqa.errors import FrameError, LayerError, QuantityError


def design(**columns):
    lines = [shapely.LineString([(0, 0), (60, 0), (60, 40)]), shapely.LineString([(0, 90), (8, 90)])]
    return geopandas.GeoDataFrame(columns, geometry=lines, crs="EPSG:6547", index=["long", "short"])


def located(stations, line="long"):
    return pd.DataFrame({"line": line, "station": stations}, index=np.arange(len(stations)) + 7)


def test_reaches_between_shots_and_ends_that_are_too_long_are_drawn():
    found = geoqa.coverage(located([25.0, 10.0, 80.0]), design(), spacing="25 ft")
    assert found["line"].tolist() == ["long", "short"]
    assert found[["station", "station_end", "length"]].to_numpy().tolist() == [[25, 80, 55], [0, 8, 8]]
    assert found.length.tolist() == pytest.approx([55, 8])
    assert found.geometry.iloc[0].equals(shapely.LineString([(25, 0), (60, 0), (60, 20)]))
    assert found.crs == "EPSG:6547"


def test_it_takes_what_station_offset_gives_and_a_shot_past_the_end_is_no_evidence():
    points = geopandas.GeoSeries(shapely.points([[1, 90.1], [-3, 0.2], [30, 1], [60.1, 25]]), crs="EPSG:6547")
    found = geoqa.coverage(geoqa.station_offset(points, design()), design(), spacing="15 m")
    assert found.drop(columns="geometry").to_numpy().tolist() == [["long", 30.0, 85.0, 55.0]]
    assert len(geoqa.coverage(geoqa.station_offset(points, design()), design(), spacing="60 ft")) == 0


def test_lines_may_be_named_by_a_column_of_whole_numbers_and_missing_lines_are_no_reach():
    lines = pd.concat(
        [design(number=[4, 5]), geopandas.GeoDataFrame({"number": [6]}, geometry=[None], crs="EPSG:6547")]
    )
    shots = geoqa.station_offset([[30, 1], [4, 90], [900, 900]], lines, line_id="number", max_distance="9 ft")
    found = geoqa.coverage(shots, lines, spacing="45 ft", line_id="number")
    assert found["line"].tolist() == [4]
    assert found["length"].tolist() == [70.0]


@pytest.mark.long
@settings(max_examples=25)
@given(stations=st.lists(st.floats(0, 100), min_size=1, max_size=8), data=st.data())
def test_order_and_direction_do_not_matter(stations, data):
    lines = design().iloc[:1]
    found = geoqa.coverage(located(stations), lines, spacing="20 ft")
    shuffled = geoqa.coverage(located(data.draw(st.permutations(stations))), lines, spacing="20 ft")
    geopandas.testing.assert_geodataframe_equal(shuffled, found)
    back = geoqa.coverage(located([100 - each for each in stations]), lines.reverse(), spacing="20.0000001 ft")
    assert back["length"].tolist()[::-1] == pytest.approx(found["length"][found["length"] > 20.0000001].tolist())
    gaps = np.diff(np.sort([0, *stations, 100]))
    assert found["length"].tolist() == pytest.approx(gaps[gaps > 20 + 1e-8].tolist())


@settings(max_examples=20)
@given(
    stations=st.lists(st.floats(0, 100), min_size=1, max_size=8), turn=st.floats(-180, 180), east=st.floats(-1e5, 1e5)
)
def test_translation_and_rotation_do_not_matter(stations, turn, east):
    lines = design()
    found = geoqa.coverage(located(stations), lines, spacing="20 ft")
    moved = lines.set_geometry(lines.rotate(turn, origin=(0, 0)).translate(east, -east))
    other = geoqa.coverage(located(stations), moved, spacing="20 ft")
    pd.testing.assert_frame_equal(
        other.drop(columns="geometry"), found.drop(columns="geometry"), check_exact=False, atol=1e-6, rtol=0
    )
    back = other.translate(-east, east).rotate(-turn, origin=(0, 0))
    assert shapely.hausdorff_distance(back.to_numpy(), found.geometry.to_numpy()).max(initial=0) < 1e-6


BAD = {
    "no column": (
        lambda: located([1.0]).drop(columns="line"),
        design,
        "25 ft",
        LayerError,
        "no column 'line'; give what",
    ),
    "an unknown line": (
        lambda: located([1.0], "curb"),
        design,
        "25 ft",
        LayerError,
        "names a line 'curb' that lines do",
    ),
    "a bare number": (lambda: located([1.0]), design, 25, QuantityError, "spacing is 25, a number without a unit"),
    "no spacing": (lambda: located([1.0]), design, "0 ft", QuantityError, "spacing is 0 ft; give a positive length"),
    "no system": (
        lambda: located([1.0]),
        lambda: design().set_crs(None, allow_override=True),
        "1 ft",
        FrameError,
        "lines have no coordinate system",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_one_sentence_that_says_what_next(case):
    table, lines, spacing, error, words = BAD[case]
    with pytest.raises(error, match=words):
        geoqa.coverage(table(), lines(), spacing=spacing)
