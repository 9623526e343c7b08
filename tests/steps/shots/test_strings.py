"""Strings of a crew that came back to its lines."""

import numpy as np
import pandas as pd
import pytest

from bench.second_passes import STATIONS, cases, later, numbered, scattered
from bench.walk_shots import layers_of
from geoqa.model.quantity import FOOT, UNITS
from geoqa.steps.shots.strings import counted_once, strings_of, without_pass

CASES = cases()
WHOLE = [name for name in CASES if name.startswith(("another", "the", "sequence", "without", "half"))]
FIRST = {"WKF 1", "WKB 1"}


def strings(rows, **options):
    return {each.name: each for each in strings_of(layers_of(numbered(rows))["shots"], FOOT, **options)}


def names_of(rows, mine):
    """Names of the shots of a string, in its order."""
    return [numbered(rows)[row]["shot"] for row in mine.rows]


@pytest.mark.parametrize("case", WHOLE)
def test_the_first_pass_stays_as_it_was(case):
    first, again = CASES[case]
    alone, both = strings(first), strings(first + again)
    assert set(both) == FIRST | {f"{name}, second pass" for name in FIRST}
    for name in FIRST:
        # a shot past the end, taken where the crew turned round, is new ground
        assert names_of(first + again, both[name])[: len(STATIONS)] == names_of(first, alone[name])
    assert sum(len(each.rows) for each in both.values()) == len(first) + len(again)


@pytest.mark.parametrize("case", ["five places", "two places"])
def test_places_shot_again_do_not_break_the_line(case):
    first, again = CASES[case]
    both = strings(first + again)
    for name in FIRST:
        assert names_of(first + again, both[name]) == names_of(first, strings(first)[name])
    assert strings(first + again, again=True).keys() >= both.keys()
    assert sum(len(each.rows) for each in strings(first + again, again=True).values()) == len(first) + len(again)


@pytest.mark.parametrize("case", ["carried on", "carried on over three"])
def test_a_line_carried_on_the_next_day_is_one_from_end_to_end(case):
    first, again = CASES[case]
    rows = first + again
    both = strings(rows)
    assert set(both) == FIRST
    for each in both.values():
        station = np.array([rows[row]["station"] for row in each.rows])
        assert len(station) == 16
        assert (np.diff(station) > 0).all() or (np.diff(station) < 0).all()


@pytest.mark.parametrize("case", list(CASES))
@pytest.mark.parametrize("unit", ["m", "ftUS"])
def test_any_order_of_rows_and_any_unit_give_the_same_strings(case, unit):
    rows = numbered(CASES[case][0] + CASES[case][1])
    shots = layers_of(rows)["shots"]
    foot = FOOT.metres_float / UNITS[unit].metres_float
    mixed = np.random.default_rng(2).permutation(len(shots))
    other = shots.iloc[mixed].reset_index(drop=True)
    other = other.assign(easting=other["easting"] * foot, northing=other["northing"] * foot)
    one, two = (
        {each.name: table["shot"].iloc[each.rows].tolist() for each in strings_of(table, its, again=True)}
        for table, its in ((shots, FOOT), (other, UNITS[unit]))
    )
    assert one == two


def test_two_files_that_number_alike_make_one_line_of_what_lies_end_to_end():
    rng = np.random.default_rng(5)
    on = [row | {"source": "z.csv"} for row in later(scattered(rng, STATIONS + 180.0), hours=24, session="B")]
    rows = scattered(rng, STATIONS) + on
    station = np.array([rows[row]["station"] for row in strings(rows)["WKF 1"].rows])
    assert (np.diff(station) > 0).all()


def test_a_sequence_that_two_sessions_share_is_the_crews_own():
    rng = np.random.default_rng(6)
    rows = scattered(rng, STATIONS)
    rows = [row | {"sequence": 2 * row["sequence"]} for row in rows]
    between = [row | {"sequence": 2 * row["sequence"] + 1} for row in scattered(rng, STATIONS[:-1] + 10.0)]
    back = [row | {"sequence": 15 - 2 * n} for n, row in enumerate(between[8:])]
    both = rows + later(between[:8], hours=24, session="B") + later(back[::-1], hours=24, session="B")
    assert set(strings(both)) == FIRST


def test_a_third_pass_has_its_name():
    rng = np.random.default_rng(7)
    visits = [later(scattered(rng, STATIONS + n), hours=24 * n, session="ABC"[n]) for n in range(3)]
    rows = [row for visit in visits for row in visit]
    names = set(strings(rows))
    assert names == FIRST | {f"{name}, {word} pass" for name in FIRST for word in ("second", "third")}
    assert {without_pass(name) for name in names} == FIRST
    assert without_pass("WKF 1, second pass / WKB 1, third pass") == "WKF 1 / WKB 1"


def test_what_adds_up_takes_ground_once():
    rng = np.random.default_rng(8)
    before = np.arange(-140.0, 160.0, 20.0)
    rows = scattered(rng, STATIONS) + later(scattered(rng, before), hours=24, session="B")
    both = strings(rows)
    assert len(counted_once(both["WKF 1"])) == 1
    (new,) = counted_once(both["WKF 1, second pass"])
    assert [rows[row]["station"] for row in new] == pytest.approx(before[:7], abs=0.2)


def test_shots_without_a_line_or_a_place_make_none():
    none = pd.DataFrame(layers_of(numbered(CASES["half"][0]))["shots"]).assign(line_id=None)
    assert strings_of(none, FOOT) == []
