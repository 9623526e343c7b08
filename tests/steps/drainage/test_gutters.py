"""Falls and standing water of a gutter that falls by 0.5 %; limits 0.3 % and 0.02 ft; u of a difference 0.0283 ft."""

import numpy as np
import pandas as pd
import pytest

from bench import make
from geoqa import testing
from geoqa.frames.systems.resolve import resolve
from geoqa.job.execute import execute
from geoqa.job.plan import default_steps
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.simulate.site import scenario
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.drainage.gutters import Gutters

U = 0.02 * np.sqrt(2)
METRES = pytest.param("m", 0.3048, marks=pytest.mark.long)
FALL = ("curb-flow", "gutter-fall", 0.003, np.inf)
SAG = {200.0: 0.325, 225.0: 0.24, 250.0: 0.18, 275.0: 0.13}


def of(findings, check):
    return findings[findings["check"] == check].reset_index(drop=True)


def sagged(street, depth=SAG, noise=0.0, seed=0):
    low = np.array([depth.get(each, 0.0) for each in street.stations])
    return street.level() - low + np.random.default_rng(seed).normal(0, noise, len(low)) * (noise > 0)


@pytest.mark.parametrize(
    ("unit", "foot"), [("ft", 1.0), ("ftUS", 1.0), pytest.param("m", 0.3048, marks=pytest.mark.long)]
)
def test_a_sag_says_its_low_point_its_depth_and_what_water_does_there(street, unit, foot):
    water = of(street.judged(street.shots(sagged(street)), unit=unit), "ponding")
    (row,) = water.to_dict("records")
    # low point 101.0 - 0.325, barrier 100.875 at 1+75: 0.200 deep
    assert row["deviation"] == pytest.approx(0.2 * foot)
    assert (row["verdict"], row["why"]) == ("OUT", "proven")
    assert row["u"] == pytest.approx(U * foot, rel=0.05)
    # it rises 0.210 from the low point to 2+25: 23.81 ft of it under water
    assert [row["station"], row["station_end"]] == pytest.approx([175 * foot, (200 + 25 * 0.2 / 0.21) * foot])
    assert row["northing"] - testing.ORIGIN[1] * foot == pytest.approx(200 * foot, abs=1e-4)
    if unit != "m":
        assert row["label"] == "low point at 2+00.00"
        assert row["cause"] == (
            f"water stands along 49 {unit}, 1+75 to 2+24; it can leave towards 1+75 only above 100.88"
        )


@pytest.mark.parametrize("unit", ["ft", pytest.param("ftUS", marks=pytest.mark.long)])
def test_falls_are_judged_reach_by_reach_along_the_design(street, unit):
    made = of(street.judged(street.shots(sagged(street)), unit=unit), "gutter-fall")
    assert made["label"].tolist()[:2] == ["0+00.00 to 0+50.00", "0+50.00 to 1+00.00"]
    assert len(made) == 10
    assert made["design"].tolist() == pytest.approx([0.005] * 10)
    reversed_fall = made[made["station"] == 150.0].iloc[0]
    assert reversed_fall["deviation"] == pytest.approx((0.25 - 0.325) / 50)
    assert reversed_fall["verdict"] == "OUT"
    assert reversed_fall["u"] == pytest.approx(U / 50)
    sound = made[made["station"] == 0.0].iloc[0]
    assert (sound["deviation"], sound["verdict"]) == (pytest.approx(0.005), "IN")


def test_a_gutter_near_its_limits_is_undecided(street):
    flat = ("curb-flow", "gutter-fall", 0.0047, np.inf)
    made = of(street.judged(street.shots(street.level()), limits=[flat]), "gutter-fall")
    assert set(zip(made["verdict"], made["why"], strict=True)) == {("UNDECIDED", "near-limit")}
    assert made["remedy"].str.contains("pass").all()


def test_an_even_fall_holds_no_water(street):
    (row,) = of(street.judged(street.shots(street.level())), "ponding").to_dict("records")
    assert row["verdict"] == "IN"
    assert row["deviation"] == pytest.approx(-0.125)
    assert pd.isna(row["cause"])
    assert row["label"].startswith("least fall at ")


@pytest.mark.long
def test_rows_in_any_order_and_lines_walked_backwards_give_the_same(street):
    z = sagged(street, noise=0.02, seed=4)
    rows = street.shots(z)
    for nth, row in enumerate(rows):
        row["shot"] = f"s{nth}"
    one = street.judged(rows).sort_values("finding", ignore_index=True)
    mixed = street.judged([rows[k] for k in np.random.default_rng(1).permutation(len(rows))])
    backwards = street.judged([row | {"sequence": 100 - row["sequence"]} for row in rows[::-1]])
    for other in (mixed, backwards):
        pd.testing.assert_frame_equal(one, other.sort_values("finding", ignore_index=True))


def test_a_reach_that_was_not_shot_is_told_and_makes_no_pond(street):
    gone = np.isin(street.stations, [300.0, 325.0, 350.0])
    z = sagged(street, {275.0: 0.2, 375.0: 0.1})[~gone]
    findings = street.judged(street.shots(z, stations=street.stations[~gone]))
    for check in ("gutter-fall", "ponding"):
        (gap,) = of(findings, check).query("verdict == 'NO_DATA'").to_dict("records")
        assert (gap["why"], gap["label"]) == ("unshot-reach", "2+75.00 to 3+75.00")
        assert gap["remedy"].startswith("shoot the flow line there")
    water = of(findings, "ponding").query("verdict != 'NO_DATA'")
    # 2+75 is the end of a stretch: what lies beyond may drain it
    assert (water["verdict"] != "OUT").all()
    assert findings["finding"].is_unique


def test_a_line_without_shots_and_one_with_a_single_shot_say_so(street):
    empty_line = street.judged(street.shots([], stations=[]))
    assert of(empty_line, "ponding")["why"].tolist() == ["unshot-reach"]
    single = street.judged(street.shots([101.0], stations=[200.0]))
    assert sorted(of(single, "ponding")["why"]) == ["too-few-on-line", "unshot-reach", "unshot-reach"]
    assert single["finding"].is_unique


def test_rejected_shots_are_no_part_of_the_line(street):
    z = sagged(street, {200.0: 1.0})
    use = street.stations != 200.0
    findings = street.judged(street.shots(z), prepared={"use": use})
    assert of(findings, "ponding")["why"].tolist() == ["unshot-reach", "proven", "proven"]


@pytest.mark.long
def test_an_inlet_drains_a_low_point(street):
    z = sagged(street)
    inlet = testing.design(points={"IN-1": ("inlet", 1.0, 200.0, 100.6)})["design_points"]
    water = of(street.judged(street.shots(z), design_points=inlet), "ponding")
    assert (water["verdict"] != "OUT").all()


@pytest.mark.long
def test_an_inlet_as_shot_drains_a_low_point_and_one_far_off_does_not(street):
    z = sagged(street)
    far = testing.design(points={"IN-1": ("inlet", 9.0, 200.0, 100.6)})["design_points"]
    assert "OUT" in set(of(street.judged(street.shots(z), design_points=far), "ponding")["verdict"])
    shot = [*street.shots(z), {"code": "INL", "offset": 1.0, "station": 200.0, "elevation": 100.6}]
    assert (of(street.judged(shot), "ponding")["verdict"] != "OUT").all()


def test_a_design_without_elevations_gives_no_direction_and_still_ponds(street):
    rows = street.shots(sagged(street))
    layers = street.layers(rows)
    elements = layers["design_elements"].assign(start_elevation=np.nan, end_elevation=np.nan)
    bare = street.layers(rows, design_elements=elements)
    done = testing.run(bare, MatchLines(), Gutters())["findings"]
    assert of(done, "gutter-fall")["why"].tolist() == ["no-flow-direction"]
    assert of(done, "ponding")["verdict"].tolist() == ["OUT"]


def test_shots_of_no_line_are_told_together(street):
    rows = street.shots(street.level())
    for row in rows:
        row["line_id"] = None
    findings = street.judged(rows, design=None)
    assert findings["why"].tolist() == ["of-no-line", "of-no-line"]
    assert findings["label"].tolist() == ["21 shots of no line"] * 2


@pytest.mark.long
def test_a_string_without_design_is_taken_along_itself(street):
    rows = street.shots(sagged(street))
    one = street.judged(rows, design=None)
    assert of(one, "gutter-fall")["why"].tolist() == ["no-flow-direction"]
    (row,) = of(one, "ponding").to_dict("records")
    assert (row["subject"], row["verdict"], row["deviation"]) == ("CFL 1", "OUT", pytest.approx(0.2))
    other = street.judged([row | {"sequence": 100 - row["sequence"]} for row in rows], design=None)
    assert other[["label", "station", "station_end", "deviation"]].equals(
        one[["label", "station", "station_end", "deviation"]]
    )


def test_where_the_design_falls_less_than_the_limit_the_reach_must_not_run_backwards(street):
    limits = [("curb-flow", "gutter-fall", 0.01, np.inf)]
    made = of(street.judged(street.shots(sagged(street)), limits=limits), "gutter-fall")
    assert (made["lower"] == 0.0).all()
    assert made["cause"].str.startswith("the design itself falls by 0.500 % here, less than the limit of 1.000 %").all()
    assert set(made["verdict"]) == {"IN", "OUT"}


def test_several_shots_of_one_place_are_one_value(street):
    rows = street.shots(sagged(street))
    again = [*rows, *street.shots([100.68, 100.68], stations=[200.2, 200.4], session="B")]
    (row,) = of(street.judged(again), "ponding").to_dict("records")
    assert row["deviation"] == pytest.approx(100.875 - (100.675 + 2 * 100.68) / 3)
    assert row["u_random"] < 0.026


@pytest.mark.long
def test_a_rod_blunder_under_all_shots_is_not_felt_and_under_some_it_waits(street):
    rows = street.shots(sagged(street))
    for nth, row in enumerate(rows):
        row["shot"] = f"s{nth}"
    given = {"cause": "rod-height", "subject": "A", "holds": True, "sure": True, "shift_easting": 0.0,
             "shift_northing": 0.0, "shift_elevation": 0.656, "u_easting": 0.0, "u_northing": 0.0,
             "u_elevation": 0.01}  # fmt: skip
    keys = [f"day1/s{nth}" for nth in range(len(rows))]
    whole = conform("cause_shots", pd.DataFrame([given | {"shot_key": key} for key in keys]))
    assert "OUT" in set(of(street.judged(rows, cause_shots=whole), "ponding")["verdict"])
    some = whole[whole["shot_key"] != "day1/s8"]  # all but the low point: it shows 0.656 too deep
    water = of(street.judged(rows, cause_shots=some), "ponding")
    (held,) = water[water["label"].str.startswith("low point at 2+00")].to_dict("records")
    assert (held["verdict"], held["why"]) == ("NO_DATA", "open-blunder")
    assert held["cause"].startswith("waits for: ")
    # with the low point alone lifted out of sight nothing good is said of the stretch either
    hidden = of(street.judged(rows, cause_shots=whole[whole["shot_key"] == "day1/s12"]), "ponding")
    assert not set(hidden["verdict"]) & {"IN", "UNDECIDED"}


@pytest.mark.long
def test_what_neighbours_share_for_minutes_makes_a_difference_surer(street):
    rng = np.random.default_rng(3)
    times = pd.date_range("2026-03-14 14:00", periods=21, freq="30s", tz="UTC")
    slow = street.level() + 0.02 * np.cos(np.arange(21) / 9) + rng.normal(0, 0.004, 21)
    surer, plain = (
        of(street.judged(street.shots(slow, **columns)), "gutter-fall")["u"].iloc[0]
        for columns in ({"time": times.to_numpy(dtype=object)}, {})
    )
    assert plain == pytest.approx(U / 50)
    assert surer < 0.9 * plain


@pytest.mark.long
@pytest.mark.parametrize("zone", sorted(scenario.ZONES))
def test_the_sag_of_the_demo_is_found_where_it_was_planted_and_no_other(zone):
    made = make(seed=11, zone=zone, plants=("D09", "D16"), frame=resolve(zone, scenario.VERTICAL))
    start = made.layers()
    more = testing.limits(
        ("curb-flow", "gutter-fall", 0.003, np.inf), ("curb-flow", "ponding", -np.inf, 0.02),
        ("curb", "reveal", 0.42, 0.58),
    )  # fmt: skip
    own = start["limits"][~start["limits"]["check"].isin(["gutter-fall", "ponding", "reveal"])]
    tables = {name: start[name] for name in start} | {"limits": pd.concat([own, more], ignore_index=True)}
    steps = [*default_steps()]
    findings = execute(Layers(tables, frame=start.frame), steps)["findings"]
    ponds = of(findings, "ponding")
    (sag,) = ponds[ponds["verdict"] == "OUT"].to_dict("records")
    # low by 0.32 at 23+00, where the design rises by 0.125 ft in 25 ft from 22+75
    assert sag["subject"] == "CFL-R-2"
    assert abs(sag["deviation"] - 0.195) <= 3 * sag["u"]
    assert sag["label"].startswith("low point at 23+0") or sag["label"].startswith("low point at 22+9")
    assert sag["cause"].startswith("water stands along ")
    low = of(findings, "reveal").query("verdict == 'OUT'")
    assert {round(each / 25) * 25 for each in low["station"]} <= {2300, 2325, 2350, 2375}
    assert len(low) >= 2


def test_a_job_without_these_keys_has_none_of_it(street):
    findings = street.judged(street.shots(sagged(street)), limits=[("curb-flow", "coverage", -np.inf, 30.0)])
    assert not len(findings)


@pytest.mark.long
def test_two_rule_sets_are_judged_side_by_side(street):
    limits = [("curb-flow", "ponding", -np.inf, 0.02), ("curb-flow", "ponding", -np.inf, 0.5, "guarded", "town")]
    made = of(street.judged(street.shots(sagged(street)), limits=limits), "ponding")
    assert sorted(zip(made["against"].str.split(";").str[0], made["verdict"], strict=True)) == [
        ("job", "OUT"), ("town", "IN"),
    ]  # fmt: skip


def test_evidence_names_low_point_and_barrier(street):
    rows = street.shots(sagged(street))
    done = testing.run(street.layers(rows), MatchLines(), Gutters())
    pond = done["findings"].query("check == 'ponding'").iloc[0]
    keys = done["evidence"].loc[done["evidence"]["finding"] == pond["finding"], "key"]
    assert sorted(keys) == ["day1/108", "day1/109"]


def test_a_nearly_level_gutter_is_undecided_and_asks_for_level_readings(street):
    z = street.level()
    z[9] = z[8] + 0.01  # hardly any fall from 2+25 to 2+00
    (row,) = of(street.judged(street.shots(z), limits=[("curb-flow", "ponding", -np.inf, 0.02)]), "ponding").to_dict(
        "records"
    )
    assert (row["verdict"], row["why"]) == ("UNDECIDED", "nearly-level")
    assert row["deviation"] == pytest.approx(-0.01)
    assert row["remedy"].startswith("level readings at the low point")


@pytest.mark.parametrize(
    ("rim", "verdict", "depth", "told"),
    [
        (100.65, "OUT", 0.15, "by the inlet at 2+00 only above 100.65"),
        (100.49, "IN", None, None),
        (101.2, "NO_DATA", 0.375, "no outlet below its rim, which stands 0.70 ft above the flow line"),
        (np.nan, "IN", None, "the inlet at 2+00.00 counts as an outlet, though its rim has no elevation"),
    ],
)
@pytest.mark.parametrize("shot", [False, True])
def test_an_inlet_above_the_flow_line_takes_no_water_below_its_rim(street, rim, verdict, depth, told, shot):
    # the flow line stands at 100.50 there, 0.375 below the shot at 1+75
    z = sagged(street, {200.0: 0.5})
    points = testing.design(points={"IN-1": ("inlet", 1.0, 200.0, rim)})["design_points"]
    rows = street.shots(z)
    if shot and np.isfinite(rim):
        points["elevation"] = 100.4
        rows = [*rows, {"code": "INL", "offset": 1.0, "station": 200.0, "elevation": rim}]
    limits = [("curb-flow", "ponding", -np.inf, 0.02)]
    (row,) = (
        of(street.judged(rows, design_points=points, limits=limits), "ponding")
        .nlargest(1, "deviation")
        .to_dict("records")
    )
    assert (row["verdict"], row["why"]) == (verdict, "rim-or-opening" if verdict == "NO_DATA" else "proven")
    if depth is not None:
        assert row["deviation"] == pytest.approx(depth)
        # as shot, rim and low point are two shots; one of the design has no error
        assert row["u"] == pytest.approx(U, rel=0.1) if shot else row["u"] >= 0.02
    assert pd.isna(row["cause"]) if told is None else told in row["cause"]


@pytest.mark.parametrize(("opening", "verdict"), [(None, "NO_DATA"), ("0.4 ft", "IN"), ("5 ft", "OUT")])
def test_an_inlet_as_high_as_a_curb_is_an_opening_or_a_rim_as_the_job_says(street, opening, verdict):
    points = testing.design(points={"IN-1": ("inlet", 1.0, 200.0, 101.1)})["design_points"]
    rows = street.shots(sagged(street, {200.0: 0.5}))
    layers = street.layers(rows, design_points=points, limits=[("curb-flow", "ponding", -np.inf, 0.02)])
    found = testing.run(layers, MatchLines(), Gutters.model_validate({"curb_opening": opening} if opening else {}))
    (row,) = found["findings"].nlargest(1, "deviation").to_dict("records")
    assert row["verdict"] == verdict
    if verdict == "NO_DATA":
        assert row["why"] == "rim-or-opening"
        assert "curb_opening" in row["remedy"]


def test_shots_a_foot_apart_are_places_of_their_own(street):
    at = np.arange(0.0, 101.0)
    made = street.judged(street.shots(street.level(at), stations=at))
    falls = of(made, "gutter-fall").dropna(subset="measured").sort_values("station")
    assert falls["label"].tolist() == ["0+00.50 to 0+50.50", "0+50.50 to 1+00.00"]
