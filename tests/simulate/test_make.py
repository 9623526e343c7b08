"""The simulated job as a whole: the same again, the plants one by one, and what the crew recorded."""

from functools import cache

import numpy as np
import pandas as pd
import pytest

from bench import blunders, field_faults, leaning, variants  # noqa: F401  what they plant is entered by import
from geoqa.errors import GeoqaError
from geoqa.simulate import make
from geoqa.simulate.crew import crew
from geoqa.simulate.crew.every_plant import DEFAULT
from geoqa.simulate.crew.plants import PLANTS
from geoqa.simulate.site import scenario


@pytest.fixture(scope="module")
def simulated():
    return make(seed=5)


def shots_by_truth(made):
    """Shots of a simulation by what they are of, which no plant renumbers."""
    return made.tables["shots"].assign(number=made.tables["shots"]["shot"]).set_index("shot_key").drop(columns="line")


@pytest.mark.long
def test_the_same_seed_gives_the_same_tables():
    one, two = make(seed=7), make(seed=7)
    for name, table in one.tables.items():
        pd.testing.assert_frame_equal(table, two.tables[name])
    pd.testing.assert_frame_equal(one.truth.shots, two.truth.shots)
    assert one.truth.items == two.truth.items


@pytest.mark.long
def test_another_seed_gives_other_noise_but_the_same_route():
    one, two = make(seed=1).tables["shots"], make(seed=2).tables["shots"]
    assert set(one["shot_key"]) == set(two["shot_key"])
    both = one.merge(two, on="shot_key", suffixes=("", "_two"))
    assert not np.allclose(both["easting"], both["easting_two"], rtol=0, atol=1e-4)


@pytest.mark.long
def test_another_zone_only_moves_everything():
    here, there = make(seed=4), make(seed=4, zone="EPSG:6559")
    moved = there.tables["shots"]["easting"] - here.tables["shots"]["easting"]
    apart = scenario.ZONES["EPSG:6559"].easting - scenario.ZONES["EPSG:6547"].easting
    assert np.abs(moved - apart).max() < 0.0011
    pd.testing.assert_series_equal(
        here.tables["shots"]["raw_elevation"], there.tables["shots"]["raw_elevation"], check_names=True
    )


# Wrong settings of whole files: every row is theirs. The worlds of the scores bend every row on purpose.
WHOLE = {"T01", "T02", "T03", "T04", "T05", "U01", "B01", "B02", "B03", "B04", "B05", "B06"}
WORLDS = {"bench.worlds", "bench.parts"}
LOCAL = sorted(name for name, (_, sow) in PLANTS.items() if name not in WHOLE and sow.__module__ not in WORLDS)


@cache
def all_planted():
    return make(seed=2, plants=DEFAULT)


@pytest.mark.parametrize("name", LOCAL)
@pytest.mark.long
def test_a_plant_switched_off_changes_only_its_own_rows(name):
    others = tuple(each for each in DEFAULT if each != name)
    without = all_planted() if name not in DEFAULT else make(seed=2, plants=others)
    with_it = all_planted() if name in DEFAULT else make(seed=2, plants=(*others, name))
    truth = with_it.truth.shots
    touched = set(truth.loc[truth["plant"].str.split(";").map(lambda names: name in names), "shot_key"])
    before, after = shots_by_truth(without), shots_by_truth(with_it)
    shared = before.index.intersection(after.index)
    same = (before.loc[shared] == after.loc[shared]) | (before.loc[shared].isna() & after.loc[shared].isna())
    changed = set(shared[~same.all(axis=1)])
    if name == "D20":
        touched |= set(after.index[after["session"] == "A"])
    added, removed = set(after.index) - set(before.index), set(before.index) - set(after.index)
    assert changed | added | removed, "a plant leaves a trace"
    assert changed <= touched
    assert added <= touched
    assert len(removed) <= {"T10": 4, "D15": 4, "D16": 2, "T17": 1}.get(name, 0)
    for table in ("control", "design_elements", "design_points", "limits"):
        pd.testing.assert_frame_equal(without.tables[table], with_it.tables[table])


def test_an_unknown_plant_is_refused_with_the_known_ones():
    with pytest.raises(GeoqaError, match=r"No plant 'D99'; the plants are D09, D10"):
        make(plants=("D99",))


@pytest.mark.long
def test_every_mark_is_checked_at_least_four_times(simulated):
    checks = simulated.tables["shots"].query("code == 'CHK'")
    assert len(checks) == 24
    truly_on = simulated.truth.shots.query("target == 'mark'")["design"].value_counts()
    assert set(truly_on.index) == set(scenario.CONTROL)
    assert (truly_on >= 4).all()


@pytest.mark.long
def test_errors_have_the_declared_size():
    seeds = range(40)
    plans = [crew.plan(seed) for seed in seeds]
    plain = pd.concat([plan[(plan["target"] == "line")] for plan in plans])
    count = len(plain)
    # a sample standard deviation of n normal values lies within 3.3 / sqrt(2 n) of the true one in 99.9 %
    band = 3.3 / np.sqrt(2 * count)
    for name, sd in (("err_e", 0.02), ("err_n", 0.02), ("err_v", 0.02)):
        assert plain[name].std() == pytest.approx(sd, rel=band)
    inverts = pd.concat([plan[plan["kind"] == "invert"] for plan in plans])["err_v"]
    assert inverts.std() == pytest.approx(np.hypot(0.02, 0.02), rel=3.3 / np.sqrt(2 * len(inverts)))
    biases = np.array([list(crew.session_biases(seed).values()) for seed in range(400)])
    assert biases.std() == pytest.approx(0.02, rel=3.3 / np.sqrt(2 * biases.size))


def test_zero_and_blank_elevations_are_missing_not_low(simulated):
    shots = simulated.tables["shots"]
    missing = shots[shots["elevation"].isna()]
    assert sorted(missing["raw_elevation"].fillna("blank")) == ["0.000", "0.000", "0.000", "blank"]
    assert (shots["elevation"].dropna() > 1400).all()


def test_seven_rows_equal_the_design_to_the_last_recorded_digit(simulated):
    item = next(each for each in simulated.truth.items if each["check"] == "identical")
    shots = simulated.tables["shots"].set_index("shot_key").loc[item["shots"]]
    elements = simulated.tables["design_elements"].query("line == 'WKF-R-2'")
    vertices = {
        tuple(f"{value:.3f}" for value in row)
        for row in elements[["start_easting", "start_northing", "start_elevation"]].to_numpy()
    }
    assert all(tuple(row) in vertices for row in shots[["raw_easting", "raw_northing", "raw_elevation"]].to_numpy())


def test_the_repeated_name_stands_for_two_places_some_212_ft_apart(simulated):
    twice = simulated.tables["shots"].query("shot == '1187'")
    assert sorted(twice["source"]) == ["day1", "day2"]
    apart = float(np.hypot(np.ptp(twice["easting"]), np.ptp(twice["northing"])))
    assert apart == pytest.approx(212.0, abs=5.0)


def test_session_a_is_biased_by_exactly_what_was_planted(simulated):
    truth = simulated.truth.shots.merge(simulated.tables["shots"][["shot_key", "session"]], on="shot_key")
    plain = truth[(truth["session"] == "A") & (truth["target"] != "mark")]
    assert np.allclose(plain["common_v"], 0.03)


def test_planted_numbers_are_stated_with_place_limits_and_probabilities(simulated):
    items = {(each["plant"], each["check"]): each for each in simulated.truth.items}
    sag = items["D09", "elevation"]
    assert sag["level"] == "run"
    assert sag["number"] == pytest.approx(-0.2175)
    assert sag["excess"] == pytest.approx((0.2175 - 0.08) / np.sqrt(0.02**2 + 0.02**2 / 4), abs=1e-3)
    assert sag["chances"]["OUT"] > 0.9999
    hydrant = items["D19", "position"]
    assert hydrant["chances"]["IN"] == pytest.approx(0.41, abs=0.01)
    assert hydrant["chances"]["UNDECIDED"] == pytest.approx(0.59, abs=0.01)
    gap = items["D15", "coverage"]
    assert gap["number"] == pytest.approx(125.0, abs=4.1)
    assert len(gap["places"]) == 2


def test_shots_are_taken_in_working_hours_and_in_order(simulated):
    shots = simulated.tables["shots"]
    hours = shots["time"].dt.hour
    assert hours.min() >= 13
    assert hours.max() <= 22
    for _, day in shots.groupby("source"):
        assert day["time"].is_monotonic_increasing


def test_a_name_of_a_plant_is_given_once():
    from geoqa.simulate.crew.plants import PLANTS, plant

    with pytest.raises(GeoqaError, match="Two plants are called 'T06'"):
        plant("T06", "something else")(lambda plan, seed: (plan, []))
    assert PLANTS["T06"][0] != "something else"
