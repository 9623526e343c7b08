"""Elevations of a whole session that are off: one question while causes look alike, an answer once told apart."""

import re

import geopandas
import numpy as np
import pandas as pd
import pytest

import geoqa
from bench.extent import extent

ZONES = {"EPSG:6547": "ft", "EPSG:6549": "ftUS", "EPSG:6546": "m"}
METRES = {"ft": 0.3048, "ftUS": 1200 / 3937, "m": 1.0}
PLACES = np.array([[0.0, 0.0], [260.0, 40.0], [140.0, 210.0], [-90.0, 150.0]])
"""Metres."""
SESSIONS, EACH, OFF, ROD = ("am", "pm", "eve"), 4, 0.1, 2.0
"""Shots a session on the marks, every second one a feature shot beside it; metres off; metres of rod."""


def survey(seed, zone):
    """Three sessions over four marks, in metres before they are written in the zone's unit; noise 6 mm, 9 mm."""
    rng, unit = np.random.default_rng(seed), METRES[ZONES[zone]]
    centre = np.array([680000.0, 140000.0, 250.0 + seed])
    marks = np.column_stack([PLACES, rng.normal(0, 2, len(PLACES))]) + centre
    rows = []
    for session, name in enumerate(SESSIONS):
        for number in range(2 * EACH):
            on = (number // 2 + session) % len(marks)
            place = marks[on] + rng.normal(0, 1, 3) * [0.006, 0.006, 0.009]
            checked = number % 2 == 0
            time = pd.Timestamp("2026-05-04T08:00Z") + pd.Timedelta(hours=4 * session, minutes=6 * number)
            rows.append(
                (f"P{on}" if checked else None, name, *(place + (not checked) * np.array([3.0, 2.0, 0.5])), time)
            )
    shots = pd.DataFrame(rows, columns=["on", "session", "e", "n", "z", "time"]).assign(pole=ROD)
    return (
        shots,
        pd.DataFrame(marks, columns=["e", "n", "z"]).assign(mark=[f"P{each}" for each in range(len(marks))]),
        unit,
    )


def diagnosed(seed, zone, plant, column=True):
    shots, marks, unit = survey(seed, zone)
    shots = shots if (kept := plant(shots)) is None else kept

    def tables(table):
        at = geopandas.points_from_xy(*(table[["e", "n", "z"]].to_numpy(float) / unit).T)
        return geopandas.GeoDataFrame(table.drop(columns=["e", "n", "z"]), geometry=at, crs=zone)

    return geoqa.diagnose(
        tables(shots), tables(marks), mark="on", mark_id="mark", session="session", time="time",
        u_h="0.006 m", u_v="0.009 m", u_h_common="0.001 m", u_v_common="0.006 m",
        mark_u_h="0.002 m", mark_u_v="0.003 m", **({"rod": "pole", "unit": "m"} if column else {}),
    )  # fmt: skip


def lift(shots, rows, *move):
    shots.loc[rows, ["e", "n", "z"]] += np.array(move)


def whole(shots):
    lift(shots, shots["session"] == "pm", 0, 0, -OFF)


def entered(shots):
    """The session's rod is entered 0.1 m too long, and the column shows it."""
    whole(shots)
    shots.loc[shots["session"] == "pm", "pole"] = ROD + OFF


def one_entry(shots):
    """One entry of the session differs, by as much as the session is off."""
    whole(shots)
    shots.loc[shots.index[shots["session"] == "pm"][4], "pole"] = ROD + OFF


def other_entry(shots):
    """Another rod was used in the session and entered, and its length is not what the session is off by."""
    whole(shots)
    shots.loc[shots["session"] == "pm", "pole"] = ROD - 0.35


def midway(shots):
    lift(shots, shots.index[shots["session"] == "pm"][4:], 0, 0, -OFF)


def from_pm_on(shots):
    lift(shots, shots["session"] != "am", 0, 0, OFF)


def all_of_it(shots):
    lift(shots, shots.index, 0, 0, OFF)


def moved_base(shots):
    lift(shots, shots["session"] == "pm", 0.11, -0.07, -OFF)


ALIKE = {
    "no rod column": (whole, False, "session pm", "low"),
    "one rod throughout": (whole, True, "session pm", "low"),
    "one entry differs": (one_entry, True, "session pm", "low"),
    "an entry that explains nothing": (other_entry, True, "session pm", "low"),
    "from a session on": (from_pm_on, True, "from session pm on", "high"),
    "the whole job": (all_of_it, False, "all shots", "high"),
}
APART = {
    "the entry that explains it": (entered, "rod", "rod entered as"),
    "from the middle of a session": (midway, "rod", "elevation step at"),
}


def first_of(found):
    return found.causes.query("explanation == 1")


@pytest.mark.parametrize(("case", "zone"), [*zip(ALIKE, [*ZONES] * 2, strict=True)])
def test_what_looks_alike_is_one_group_with_what_would_tell_it_apart(case, zone):
    plant, column, subject, way = ALIKE[case]
    found = diagnosed(11, zone, plant, column)
    (told,) = first_of(found).to_dict("records")
    assert found.status == "group"
    assert (told["cause"], told["subject"]) == ("elevation-constant", subject)
    assert set(told["alike"].split("; ")) == {"rod", "antenna", "base", "vertical-datum"}
    unit = METRES[ZONES[zone]]
    assert abs(told["shift_elevation"]) * unit == pytest.approx(OFF, abs=4 * 0.009)
    assert f"{subject.replace('from', 'all shots from')} are all {way} by " in told["words"]
    # lengths are in the job's own foot or metre
    assert set(re.findall(r"\d (ft|ftUS|m)\b", told["words"])) == {ZONES[zone]}
    assert "look alike here" in told["words"]
    assert "step" not in told["words"]
    asked = "which the files do not have" if not column else "the rod measured against its entr"
    assert asked in told["separates"]
    assert asked in told["remedy"]
    for word in ("antenna type", "another base", "vertical datum and geoid model"):
        assert word in told["separates"]


@pytest.mark.parametrize(("case", "zone"), [*zip(APART, ["EPSG:6549", "EPSG:6546"], strict=True)])
def test_what_the_log_tells_apart_is_named(case, zone):
    plant, cause, variant = APART[case]
    found = diagnosed(12, zone, plant)
    (told,) = first_of(found).to_dict("records")
    assert (found.status, told["cause"]) == ("named", cause)
    assert told["variant"].startswith(variant)
    assert told["alike"] == told["separates"] == ""


def test_a_day_by_itself_says_the_same_of_its_session_as_the_job_it_is_part_of():
    def alone(shots):
        whole(shots)
        return shots[shots["session"] == "pm"].reset_index(drop=True)

    day, job = (first_of(diagnosed(15, "EPSG:6549", plant)).iloc[0] for plant in (alone, whole))
    for name in ("status", "cause", "title", "subject", "alike", "separates", "remedy"):
        assert day[name] == job[name], name


def test_a_base_that_moved_in_plan_too_is_neither_a_rod_nor_an_elevation_shift():
    found = diagnosed(13, "EPSG:6547", moved_base)
    assert not {"rod", "elevation-constant"} & set(first_of(found)["cause"])


def test_the_shots_of_a_group_that_shares_one_shift_have_it_with_its_uncertainty():
    found = diagnosed(14, "EPSG:6547", whole)
    assert (found.shots["causes"].notna() == (np.arange(6 * EACH) // (2 * EACH) == 1)).all()
    told = first_of(found).iloc[0]
    np.testing.assert_allclose(found.shots["shift_elevation"].dropna(), told["shift_elevation"])


@pytest.mark.score
@pytest.mark.parametrize("zone", ZONES)
def test_over_many_seeds_no_one_of_several_that_look_alike_is_named(zone):
    said = []
    for seed in range(100, extent(106, of_a_change=103)):
        said += [(case, first_of(diagnosed(seed, zone, *each[:2]))["cause"].tolist()) for case, each in ALIKE.items()]
        said += [(case, first_of(diagnosed(seed, zone, each[0]))["cause"].tolist()) for case, each in APART.items()]
    wrong = [each for each in said if each[1] != (["rod"] if each[0] in APART else ["elevation-constant"])]
    assert not wrong, wrong
