"""The tilt test as a step, on jobs whose compensation is wrong by a known amount."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.shots.doubles import Doubles
from geoqa.steps.tilt.study import TABLES, TiltStudy

ROD = 6.562


def lean(length, tilt, azimuth):
    t, a = np.radians(tilt), np.radians(azimuth)
    return length * np.array([np.sin(t) * np.sin(a), np.sin(t) * np.cos(a), np.cos(t)])


def shots_of(job, *, bias=1.5, noise=0.002, azimuths=True, tilts=(10.0, 20.0), sessions=("A",), rod=ROD, plumb=3):
    draw, rows = np.random.default_rng(7), []
    for session in sessions:
        for point in range(4):
            for _ in range(plumb):
                rows.append((session, point, 0.2, 10.0, np.zeros(3)))
            for tilt in tilts:
                for side in (0.0, 90.0, 180.0, 270.0):
                    off = lean(ROD, tilt, side) - lean(ROD, tilt, side - bias)
                    rows.append((session, point, tilt, side - bias, off))
    made = []
    for number, (session, point, tilt, azimuth, off) in enumerate(rows):
        off = off + draw.normal(0, noise, 3)
        made.append(
            {
                "shot": str(number), "line_id": f"N{point}", "session": session, "tilt": tilt, "rod_height": rod,
                "tilt_azimuth": azimuth if azimuths else np.nan, "offset": 12.0 * point + off[0], "station": off[1],
                "elevation": 100.0 + off[2],
                "time": pd.Timestamp("2026-03-14", tz="UTC") + pd.Timedelta(20 * number, "s"),
            }
        )  # fmt: skip
    return job.prepared(job.shots(made), kind="tilt-test", role="other", u_v_common=0.0)


LIMITS = (("curb-top", "offset", -0.10, 0.10), ("curb-top", "position", -np.inf, 0.10), ("control", "offset", -1, 1))


def study(job, shots, **tables):
    codes = pd.DataFrame({"code": ["CTB"], "kind": ["curb-top"], "geometry": ["line"], "role": ["feature"]})
    tables = {"codes": conform("codes", codes), "limits": job.limits(*LIMITS)} | tables
    return job.run(job.layers(shots=shots, **tables), TiltStudy())


def learned(layers):
    return layers["tilt_model"].set_index("quantity")


def test_a_heading_read_too_small_is_found_with_its_size_and_said_in_words(job):
    layers = study(job, shots_of(job))
    bias = learned(layers).loc["heading-bias"]
    assert bias["low"] <= 1.5 <= bias["high"]
    assert bias["value"] == pytest.approx(1.5, abs=0.1)
    assert bias["significant"]
    assert bias["shots"] == 32
    assert "the heading is read 1." in layers["tilt_test"]["conclusion"].iloc[0]
    assert "too small" in layers["tilt_test"]["conclusion"].iloc[0]


def test_differences_are_turned_into_the_lean(job):
    pairs = study(job, shots_of(job, noise=1e-9))["tilt_pairs"]
    # a heading wrong by b moves the tip by 2 L sin t sin(b/2), nearly all of it sideways: geometry of a chord
    at_20 = pairs[pairs["tilt"] == 20.0]
    chord = 2 * ROD * np.sin(np.radians(20)) * np.sin(np.radians(0.75))
    assert np.hypot(at_20["radial"], at_20["tangential"]).to_numpy() == pytest.approx(chord, abs=1e-6)
    assert (at_20["tangential"] > 0.99 * chord).all()
    assert (pairs["plumb_shots"] == 3).all()


def test_time_for_a_shot_comes_from_the_log_and_not_from_walking(job):
    found = learned(study(job, shots_of(job)))
    assert found.loc["seconds-tilted", "value"] == 20.0
    assert found.loc["seconds-plumb", "value"] == 20.0
    assert found.loc["seconds-plumb", "shots"] == 8


def test_only_the_check_that_fits_the_kind_is_proven_and_control_is_not(job):
    limits = study(job, shots_of(job))["tilt_limits"]
    assert set(zip(limits["kind"], limits["check"], strict=True)) == {("curb-top", "offset")}
    assert sorted(set(limits["deviation"])) == [0.0, 0.05]
    assert set(limits["biases"]) == {"kept", "removed"}
    kept = limits[(limits["biases"] == "kept") & (limits["deviation"] == 0)].iloc[0]
    assert kept["tested"] == 20.0
    assert kept["tilt"] <= 20.0


def test_nothing_is_claimed_beyond_the_tilts_tested(job):
    layers = study(job, shots_of(job))
    assert layers["tilt_curve"]["tilt"].max() == 20.0
    assert layers["tilt_limits"]["tilt"].max() <= 20.0
    assert "Add shots at 30°" in " ".join(layers["tilt_plan"]["words"])


def test_without_azimuths_only_sizes_are_told_and_it_is_said(job):
    layers = study(job, shots_of(job, azimuths=False))
    test = layers["tilt_test"].iloc[0]
    assert not test["with_azimuths"]
    assert "without azimuths" in test["conclusion"]
    assert test["setting"] == ""
    assert layers["tilt_pairs"]["radial"].isna().all()
    assert np.isnan(learned(layers).loc["heading-bias", "value"])
    assert learned(layers).loc["heading-bias", "words"] == "cannot be told without the azimuth of the lean"
    assert len(layers["tilt_curve"]) == 0
    assert layers["tilt_limits"]["from_classes"].all()
    assert layers["tilt_plan"]["words"].iloc[0].startswith("Record the azimuth")


def test_sessions_are_not_compared_with_each_other(job):
    shots = shots_of(job, sessions=("A", "B"))
    later = shots["session"] == "B"
    shots.loc[later, ["easting", "northing", "elevation"]] += [0.5, -0.3, 0.4]
    layers = study(job, shots)
    assert layers["tilt_test"]["points"].iloc[0] == 8
    assert learned(layers).loc["plumb-v", "value"] < 0.01


def test_sessions_whose_headings_differ_name_no_heading_to_set_right(job):
    first, second = (shots_of(job, bias=bias, noise=0.01) for bias in (-1.0, 3.0))
    second = second.assign(session="B", shot_key="b/" + second["shot"], time=second["time"] + pd.Timedelta(1, "D"))
    layers = study(job, pd.concat([first, second], ignore_index=True))
    assert learned(layers).loc["heading-bias", "significant"]
    test = layers["tilt_test"].iloc[0]
    assert "the heading is not the same in each session, from 1.0" in test["conclusion"]
    assert "what the next session brings is not in these limits" in test["conclusion"]
    assert "too small (95 %" not in test["conclusion"]
    assert "sessions differ" in test["setting"]
    assert "(sessions differ)" in layers["notes"]["proposal"].iloc[0]
    assert not layers["tilt_plan"]["words"].str.startswith("Set the heading").any()


def test_plumb_and_tilted_shots_that_never_meet_say_so(job):
    shots = shots_of(job)
    shots = shots[shots["tilt"] > 5].reset_index(drop=True)
    layers = study(job, shots)
    assert len(layers["tilt_pairs"]) == 0
    assert "Nothing can be said" in layers["tilt_test"]["conclusion"].iloc[0]
    assert "at least twice plumb" in layers["tilt_plan"]["words"].iloc[0]


def test_a_shot_rejected_for_its_solution_is_left_out_but_not_one_rejected_for_its_tilt(job):
    shots = shots_of(job)
    tilted = shots.loc[shots["tilt"] > 5, "shot_key"].iloc[:2]
    flags = pd.DataFrame({"shot_key": tilted, "flag": ["solution", "tilt"], "reject": True, "step": "-"})
    layers = study(job, shots, flags=conform("flags", flags))
    assert layers["tilt_test"]["tilted_shots"].iloc[0] == 31
    assert tilted.iloc[1] in set(layers["tilt_pairs"]["shot_key"])


def test_shots_that_are_in_no_number_are_counted_and_said(job):
    shots = shots_of(job, sessions=("A", "B"))
    off = shots.loc[shots["session"] == "B", "shot_key"]
    flags = pd.DataFrame({"shot_key": off, "flag": "diagnosis", "reject": True, "step": "-"})
    shots.loc[0, "tilt"] = np.nan
    test = study(job, shots, flags=conform("flags", flags))["tilt_test"].iloc[0]
    assert test["left_out"] == len(off) + 1
    told = f"left out are {len(off)} shots that other checks reject, and 1 shot without a tilt"
    assert told in test["conclusion"]


def test_a_scatter_that_was_stated_is_not_shown_as_tested(job):
    shots = shots_of(job, plumb=1).assign(u_h_random=0.02, u_v_random=0.02)
    layers = study(job, shots)
    plumb = learned(layers).loc[["plumb-h", "plumb-v"]]
    assert (plumb["value"] == 0.02).all()
    assert plumb[["low", "high"]].isna().all(axis=None)
    assert (plumb["shots"] == 0).all()
    assert plumb["words"].str.startswith("as stated").all()
    assert "no point has two plumb shots" in layers["tilt_test"]["conclusion"].iloc[0]
    assert "no point has two" not in study(job, shots_of(job))["tilt_test"]["conclusion"].iloc[0]


@pytest.mark.parametrize("share", [1 / 3, 0.5, 1.0])
def test_a_scatter_stated_too_small_is_not_believed_and_the_headline_says_so(job, share):
    noise = 0.03
    shots = shots_of(job, plumb=1, noise=noise, tilts=(5.0, 10.0, 30.0)).assign(
        u_h_random=share * noise, u_v_random=share * noise
    )
    layers = study(job, shots)
    test, plumb = layers["tilt_test"].iloc[0], learned(layers).loc["plumb-v"]
    (short,) = layers["notes"]["proposal"].unique()
    if share < 0.4:
        assert "not believed, the leaning shots show" in test["conclusion"]
        assert "not believed" in short
        assert plumb["value"] > 0.02 or plumb["words"].startswith("as stated")
    elif share == 1.0:
        assert "believed, not tested" in test["conclusion"]
        assert "plumb scatter as stated" in short


def test_a_stated_scatter_of_nothing_is_not_believed(job):
    shots = shots_of(job, plumb=1, noise=0.03).assign(u_h_random=0.0, u_v_random=0.0)
    layers = study(job, shots)
    assert (learned(layers).loc[["plumb-h", "plumb-v"], "value"] > 0.01).all()
    assert "stated plumb scatter not believed" in layers["notes"]["proposal"].iloc[0]


def test_a_job_without_a_tilt_test_gets_empty_tables(job):
    layers = study(job, job.prepared(job.shots([{}, {}])))
    assert {name: len(layers[name]) for name in TABLES} == dict.fromkeys(TABLES, 0)


@pytest.mark.parametrize("missing", ["rod_height", "time", "line_id", "session", "tilt_azimuth", "elevation"])
def test_a_missing_field_of_the_log_never_ends_in_an_error(job, missing):
    shots = shots_of(job)
    shots[missing] = pd.Series([None] * len(shots), dtype=shots[missing].dtype)
    layers = study(job, shots)
    assert len(layers["tilt_test"]) == 1
    assert layers["tilt_test"]["conclusion"].str.len().iloc[0] > 20


def test_a_test_that_is_listed_twice_counts_its_shots_once(job):
    shots = shots_of(job)
    again = shots.assign(source="again", shot=[f"9{name}" for name in shots["shot"]])
    again["shot_key"] = "again/" + again["shot"]
    both = pd.concat([shots, again], ignore_index=True)
    codes = pd.DataFrame({"code": ["CTB"], "kind": ["curb-top"], "geometry": ["line"], "role": ["feature"]})
    tables = {"codes": conform("codes", codes), "limits": job.limits(*LIMITS)}
    once, twice = (job.run(job.layers(shots=each, **tables), Doubles(), TiltStudy()) for each in (shots, both))
    for name in TABLES:
        pd.testing.assert_frame_equal(once[name], twice[name])
