"""Tilt tests of tables: geometry of a leaning rod worked out by hand, and the same answer as the step of a job."""

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

ZONE, ROD = "EPSG:6547", 6.562
NAMES = {"point": "on", "tilt": "lean", "azimuth": "toward", "rod": "2.0000976 m"}  # 6.562 ft


def antenna(tilt, azimuth):
    """From the tip to the antenna of a leaning rod."""
    t, a = np.radians(tilt), np.radians(azimuth)
    return ROD * np.array([np.sin(t) * np.sin(a), np.sin(t) * np.cos(a), np.cos(t)])


def log(*, bias=1.5, noise=0.002, days=("A",), seed=7):
    """Four points, thrice plumb and to four sides at 10 and 20 degrees, under a heading read too small by `bias`."""
    draw, rows = np.random.default_rng(seed), []
    for day in days:
        for point in range(4):
            place = np.array([2_228_000 + 12.0 * point, 444_000, 1400])
            rows += [(day, f"N{point}", 0.2, 10.0, place)] * 3
            for tilt in (10.0, 20.0):
                for side in (0.0, 90.0, 180.0, 270.0):
                    tip = place + antenna(tilt, side) - antenna(tilt, side - bias)
                    rows.append((day, f"N{point}", tilt, side - bias, tip))
    table = pd.DataFrame(rows, columns=["day", "on", "lean", "toward", "tip"])
    tips = np.stack(table.pop("tip")) + draw.normal(0, noise, (len(table), 3))
    table["at"] = pd.date_range("2026-05-04 08:00", periods=len(table), freq="20s")
    index = [f"s{row}" for row in range(len(table))]
    return geopandas.GeoDataFrame(table, geometry=shapely.points(tips), crs=ZONE).set_axis(index)


def value(found, quantity):
    return found.model.set_index("quantity").loc[quantity, "value"]


def test_differences_are_tilted_minus_mean_plumb_of_the_point_on_the_index_of_the_shots():
    shots = log()
    before = shots.copy(deep=True)
    found = geoqa.tilt_study(shots, **NAMES, session="day").shots
    pd.testing.assert_index_equal(found.index, shots.index)
    plumb = shots["lean"] < 3
    assert found["plumb"].tolist() == plumb.tolist()
    assert found.loc[plumb, "horizontal"].isna().all()
    places = shots.get_coordinates(include_z=True)
    expected = (places - places[plumb].groupby(shots["on"]).mean().loc[shots["on"]].to_numpy())[~plumb]
    np.testing.assert_allclose(found.loc[~plumb, ["difference_e", "difference_n", "difference_v"]], expected, atol=1e-8)
    np.testing.assert_allclose(found.loc[~plumb, "horizontal"], np.hypot(expected["x"], expected["y"]), atol=1e-8)
    geopandas.testing.assert_geodataframe_equal(shots, before)


def test_a_heading_wrong_by_an_angle_moves_the_tip_by_its_chord_to_the_side():
    found = geoqa.tilt_study(log(noise=1e-9), **NAMES).shots
    at_20 = found[log()["lean"] == 20.0]
    # the chord of a circle of radius L sin t over the angle b: 2 L sin t sin(b / 2), elementary geometry
    chord = 2 * ROD * np.sin(np.radians(20)) * np.sin(np.radians(0.75))
    np.testing.assert_allclose(at_20["horizontal"], chord, atol=1e-6)
    assert (at_20["tangential"] > 0.99 * chord).all()


def test_the_bias_that_was_put_in_is_found_and_said():
    found = geoqa.tilt_study(log(), **NAMES, session="day", time="at")
    row = found.model.set_index("quantity").loc["heading-bias"]
    assert row["low"] <= 1.5 <= row["high"]
    assert row["significant"]
    assert "the heading is read 1." in found.conclusion
    assert found.setting.startswith("[tilt]\n")
    assert value(found, "seconds-tilted") == 20.0
    assert found.classes["shots"].tolist() == [16, 16]
    assert found.curve["tilt"].max() == 20.0


def test_sizes_by_class_are_robust_sigmas_of_the_differences():
    shots = log(bias=0.0, noise=0.01, seed=1)
    found = geoqa.tilt_study(shots, **NAMES)
    away = found.shots["horizontal"][shots["lean"] == 20.0]
    row = found.classes.iloc[1]
    # the median length of a plane normal error is sigma * sqrt(2 ln 2) (Rayleigh distribution)
    assert row["u_h"] == pytest.approx(away.median() / np.sqrt(2 * np.log(2)), rel=1e-9)
    assert row["largest_h"] == pytest.approx(away.max(), abs=1e-8)


def test_largest_leans_prove_their_tolerance_and_none_beyond_what_was_tested():
    tolerances = {"curb-top": {"offset": "0.30 ft", "elevation": "0.02 ft"}, "rim": {"position": "1 ft"}}
    found = geoqa.tilt_study(log(bias=0.0), **NAMES, tolerances=tolerances)
    limits = found.limits[(found.limits["biases"] == "removed") & (found.limits["deviation"] == 0)]
    wide = limits.set_index(["kind", "check"])
    assert wide.loc[("curb-top", "offset"), "tilt"] == 20.0
    assert wide.loc[("rim", "position"), "limit"] == 1.0
    assert set(zip(found.limits["kind"], found.limits["check"], strict=True)) == {
        ("curb-top", "offset"),
        ("curb-top", "elevation"),
        ("rim", "position"),
    }
    common = geoqa.tilt_study(log(bias=0.0), **NAMES, tolerances=tolerances, u_h_common="0.2 ft").limits
    shared = common[(common["check"] == "offset") & (common["deviation"] == 0)]
    # 1.96 times 0.2 ft is more than 0.30 ft: nothing can be proven, however the rod is held
    assert shared["tilt"].isna().all()
    assert not shared["plumb"].any()


def test_metric_tolerances_are_put_in_the_unit_of_the_system():
    found = geoqa.tilt_study(log(), **NAMES, tolerances={"rim": {"position": "0.3048 m"}}).limits
    assert set(found["limit"]) == {1.0}


def test_rods_may_stand_in_a_column_in_a_stated_unit():
    shots = log().assign(pole=ROD * 0.3048)
    one = geoqa.tilt_study(shots, **NAMES)
    column = geoqa.tilt_study(shots, **NAMES | {"rod": "pole"}, unit="m")
    np.testing.assert_allclose(value(column, "heading-bias"), value(one, "heading-bias"), rtol=1e-6)


def test_sessions_are_not_compared_with_each_other():
    shots = log(days=("A", "B"))
    moved = shots.set_geometry(shots.geometry.where(shots["day"] == "A", shots.translate(0.5, -0.3, 0.4)))
    parted = geoqa.tilt_study(moved, **NAMES, session="day")
    assert value(parted, "plumb-v") < 0.01
    assert value(geoqa.tilt_study(moved, **NAMES), "plumb-v") > 0.1


def test_rows_without_a_point_a_tilt_or_a_place_stay_rows_and_are_no_shots_of_the_test():
    shots = log()
    shots.loc["s5", "on"], shots.loc["s6", "lean"], shots.loc["s7", "geometry"] = None, np.nan, None
    shots.loc["s8", "geometry"] = shapely.Point()
    found = geoqa.tilt_study(shots, **NAMES)
    assert found.shots.loc[["s5", "s6", "s7", "s8"], "horizontal"].isna().all()
    assert found.shots["horizontal"].notna().sum() == 32 - 4
    assert value(found, "heading-bias") == pytest.approx(1.5, abs=0.1)


def test_without_azimuths_sizes_alone_are_told():
    found = geoqa.tilt_study(log(), point="on", tilt="lean", rod="2 m")
    assert found.shots["radial"].isna().all()
    assert found.shots["horizontal"].notna().sum() == 32
    assert np.isnan(value(found, "heading-bias"))
    assert len(found.curve) == 0
    assert found.setting == ""


@pytest.mark.parametrize("kept", [slice(0, 0), slice(3, 8)])
def test_where_plumb_and_tilted_never_meet_it_says_so(kept):
    shots = log().iloc[kept]
    found = geoqa.tilt_study(shots, **NAMES)
    assert found.conclusion.startswith("Nothing can be said about tilt: ")
    assert len(found.shots) == len(shots)
    assert len(found.classes) == len(found.limits) == 0


def test_a_declared_uncertainty_stands_in_where_no_point_was_twice_plumb():
    shots = log()
    once = shots[(shots["lean"] > 3) | ~shots.duplicated(["on", "lean"])]
    assert np.isnan(value(geoqa.tilt_study(once, **NAMES), "plumb-h"))
    stated = geoqa.tilt_study(once, **NAMES, u_h="0.01 ft", u_v="6.096 mm")
    assert value(stated, "plumb-h") == pytest.approx(0.01)
    assert value(stated, "plumb-v") == pytest.approx(0.02)


@settings(max_examples=10)
@given(seed=st.integers(0, 1000), east=st.floats(-1e4, 1e4))
@pytest.mark.long
def test_order_and_place_do_not_matter(seed, east):
    shots = log()
    order = np.random.default_rng(seed).permutation(len(shots))
    found = geoqa.tilt_study(shots, **NAMES)
    moved = shots.set_geometry(shots.translate(east, -east)).iloc[order]
    other = geoqa.tilt_study(moved, **NAMES)
    pd.testing.assert_frame_equal(other.shots, found.shots.iloc[order], atol=1e-7, rtol=0)
    np.testing.assert_allclose(value(other, "heading-bias"), value(found, "heading-bias"), rtol=1e-4)


def changed(**columns):
    return lambda: log().assign(**columns)


BAD = {
    "no system": (lambda: log().set_crs(None, allow_override=True), {}, FrameError, "shots have no coordinate"),
    "degrees": (lambda: log().set_crs(4326, allow_override=True), {}, FrameError, "shots are in degrees"),
    "two units": (
        lambda: log().set_crs("EPSG:6547+5703", allow_override=True),
        {},
        FrameError,
        "plan in ft and their elevations in m",
    ),
    "no point column": (log, {"point": "p"}, LayerError, "shots have no column 'p' for point"),
    "no tilt column": (log, {"tilt": "t"}, LayerError, "shots have no column 't' for tilt"),
    "tilts as text": (changed(lean="20"), {}, LayerError, "shots: 'lean' for tilt is of dtype str and not of numbers"),
    "tilts as objects": (
        lambda: log().assign(lean=log()["lean"].astype(object)),
        {},
        LayerError,
        "'lean' for tilt is of dtype object",
    ),
    "times as text": (changed(at="8:00"), {"time": "at"}, LayerError, "times in 'at' are of dtype str"),
    "beyond level": (changed(lean=100.0), {}, GeometryInputError, "'lean' holds 100 .row 's0'., 44 such rows"),
    "below plumb": (changed(lean=-1.0), {}, GeometryInputError, "'lean' holds -1 "),
    "a bare rod": (log, {"rod": 2.0}, QuantityError, "rod is 2.0, a number without a unit"),
    "a rod that is neither": (log, {"rod": "pole"}, QuantityError, "rod is 'pole', neither a column of shots"),
    "rods without a unit": (changed(pole=2.0), {"rod": "pole"}, QuantityError, "'pole' for rod holds numbers without"),
    "half an uncertainty": (log, {"u_h": "0.01 ft"}, QuantityError, "u_h and u_v belong together"),
    "a bare uncertainty": (log, {"u_h_common": 0.1}, QuantityError, "u_h_common is 0.1, a number without a unit"),
    "plumb at 30": (log, {"plumb_below": 30}, QuantityError, "plumb_below is 30; give degrees"),
    "no such check": (
        log,
        {"tolerances": {"rim": {"width": "1 ft"}}},
        JobError,
        "'width' is not a check of tilt; allowed are offset, position, elevation",
    ),
    "a bare tolerance": (log, {"tolerances": {"rim": {"position": 0.1}}}, QuantityError, "is 0.1, a number with"),
    "no check named": (log, {"tolerances": {"rim": "0.1 ft"}}, JobError, "name the check that it bounds"),
    "line and point": (
        log,
        {"tolerances": {"rim": {"position": "1 ft", "offset": "1 ft"}}},
        JobError,
        "a kind is one of lines .offset. or of points",
    ),
    "no such rule": (
        log,
        {"tolerances": {"rim": {"position": "1 ft"}}, "rule": "strict"},
        JobError,
        "'strict' is not a decision rule",
    ),
    "lines": (
        lambda: log().set_geometry(log().buffer(1)),
        {},
        GeometryInputError,
        "shots: 44 rows are no points",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_one_sentence_that_says_what_next(case):
    shots, options, error, words = BAD[case]
    with pytest.raises(error, match=words):
        geoqa.tilt_study(shots(), **NAMES | options)
