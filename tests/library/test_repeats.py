"""Repeated shots of tables, against an analysis of variance by hand and against planted spreads."""

import geopandas
import geopandas.testing
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import geoqa
from geoqa.errors import FrameError, GeometryInputError, JobError, LayerError, QuantityError

ASK = {"point": "on", "time": "at"}


def shots(points=40, sessions=6, common=0.03, random=0.02, seed=1):
    """Every point once in each session, a day apart; the sessions share an error per axis."""
    rng = np.random.default_rng(seed)
    point, day = (each.ravel() for each in np.meshgrid(np.arange(points), np.arange(sessions), indexing="ij"))
    places = np.column_stack([2_228_000 + 100.0 * point, 444_000 + 0.0 * point, 1450 + 0.1 * point])
    places += rng.normal(0, common, (sessions, 3))[day] + rng.normal(0, random, (len(point), 3))
    at = pd.Timestamp("2026-05-04 08:00") + pd.to_timedelta(day * 1440 + point, "min")
    columns = {"on": [f"P{number}" for number in point], "day": day, "at": at}
    return geopandas.GeoDataFrame(
        columns, geometry=shapely.points(places), crs="EPSG:6547", index=rng.permutation(len(point))
    )


def told(found, axis, part):
    return found.precision.set_index(["axis", "part"]).loc[(axis, part)]


def test_the_random_part_is_the_residual_of_points_and_sessions():
    table = shots()
    found = geoqa.repeat_statistics(table, session="day", **ASK)
    level = shapely.get_z(table.geometry.to_numpy()).reshape(40, 6)
    left = level - level.mean(axis=1, keepdims=True) - level.mean(axis=0) + level.mean()
    assert told(found, "v", "random")["value"] == pytest.approx(np.sqrt((left**2).sum() / (39 * 5)), rel=1e-9)
    assert told(found, "v", "random")["dof"] == pytest.approx(39 * 5)
    for axis in ("h", "v"):
        assert told(found, axis, "random")["low"] < 0.02 < told(found, axis, "random")["high"]
        assert told(found, axis, "common")["low"] < 0.03 < told(found, axis, "common")["high"]
    assert told(found, "h", "random")[["points", "sessions", "visits"]].tolist() == [40, 6, 240]


def test_without_sessions_the_common_part_is_unknown_and_not_nothing():
    found = geoqa.repeat_statistics(shots(), **ASK)
    assert np.isnan(told(found, "h", "common")["value"])
    assert told(found, "h", "random")["value"] == pytest.approx(np.hypot(0.02, 0.03), rel=0.5)


def test_shots_soon_after_each_other_are_close_and_those_in_between_count_for_nothing():
    table = shots(points=1, sessions=1).iloc[[0] * 4].reset_index(drop=True)
    table["at"] = pd.Timestamp("2026-05-04 08:00") + pd.to_timedelta([0, 5, 60, 300], "min")
    found = geoqa.repeat_statistics(table, **ASK).visits
    assert found["visit"].tolist() == [0, 0, pd.NA, 1]
    assert found["first"].tolist() == [True, False, False, True]
    assert found["close"].tolist() == [False, True, False, False]
    wider = geoqa.repeat_statistics(table, close="30 s", independent_after="1 h", **ASK).visits
    assert wider["first"].tolist() == [True, False, True, True]


def test_differences_by_the_time_between_shots():
    table = shots(points=2, sessions=2)
    found = geoqa.repeat_statistics(table, **ASK).gaps
    row = found[found["pairs_h"] > 0].iloc[0]
    step = np.diff(shapely.get_coordinates(table.geometry.to_numpy(), include_z=True).reshape(2, 2, 3), axis=1)[:, 0]
    assert row["pairs_h"] == row["pairs_v"] == 2
    assert row["u_v"] == pytest.approx(np.sqrt((step[:, 2] ** 2).mean() / 2), rel=1e-6)
    assert row["u_h"] == pytest.approx(np.sqrt((step[:, :2] ** 2).mean() / 2), rel=1e-6)


def test_index_rows_and_inputs_are_kept_and_what_is_missing_is_in_no_visit():
    table = shots(points=3)
    table.index = [0, 0, *range(16)]
    table.loc[5, "on"] = None
    table.loc[6, "at"] = pd.NaT
    table.loc[7, "geometry"] = None
    before = table.copy(deep=True)
    found = geoqa.repeat_statistics(table, session="day", **ASK)
    pd.testing.assert_index_equal(found.visits.index, table.index)
    assert found.visits["visit"].isna().sum() == 2
    assert told(found, "h", "random")["visits"] == 15
    geopandas.testing.assert_geodataframe_equal(table, before)
    flat = geoqa.repeat_statistics(table.set_geometry(shapely.force_2d(table.geometry)), **ASK)
    assert np.isnan(told(flat, "v", "random")["value"])
    assert len(geoqa.repeat_statistics(table.iloc[:0], **ASK).visits) == 0


@settings(max_examples=10)
@given(order=st.permutations(range(12)), east=st.floats(-1e4, 1e4))
def test_order_and_place_do_not_matter(order, east):
    table = shots(points=4, sessions=3)
    found = geoqa.repeat_statistics(table, session="day", **ASK)
    moved = table.set_geometry(table.translate(east, -east)).iloc[order]
    other = geoqa.repeat_statistics(moved, session="day", **ASK)
    pd.testing.assert_frame_equal(other.precision, found.precision, rtol=1e-5)
    pd.testing.assert_series_equal(other.visits["first"], found.visits["first"].iloc[order])


BAD = {
    "no system": (
        lambda: shots().set_crs(None, allow_override=True),
        {},
        FrameError,
        "shots have no coordinate system",
    ),
    "no such column": (
        shots,
        {"point": "mark"},
        LayerError,
        "shots have no column 'mark' for point; they have on, day",
    ),
    "times as text": (lambda: shots().astype({"at": str}), {}, LayerError, "times in 'at' are of dtype str; turn them"),
    "a bare time": (shots, {"close": 10}, QuantityError, "close is 10, a number without a unit"),
    "no time": (shots, {"close": "soon"}, QuantityError, "'soon' is not a time"),
    "the wrong way round": (shots, {"close": "9 h"}, JobError, r"close 540.0 must not be negative and must stay below"),
    "lines": (lambda: shots().set_geometry(shots().buffer(1)), {}, GeometryInputError, "shots: 240 rows are no points"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_one_sentence_that_says_what_next(case):
    table, options, error, words = BAD[case]
    with pytest.raises(error, match=words):
        geoqa.repeat_statistics(table(), **ASK | options)
