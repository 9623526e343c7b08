"""Worlds in which the survey is not what its log says: nothing sound is called a defect of the work.

``python -m pytest tests/score -m score -s -k worlds`` prints the table. Some worlds run with all other tests.
"""

import sys

import pandas as pd
import pytest
from scipy.stats import poisson

from bench.cores import on_every_core
from bench.extent import extent
from bench.worlds import BLUNDERS, WORLDS, World, counted, in_world, judging_steps, unnamed
from geoqa.job.execute import execute
from geoqa.simulate.site import scenario

pytestmark = pytest.mark.long

BY_NAME = {world.name: world for world in WORLDS}
ZONES = tuple(scenario.ZONES)


def one_job(name, blunder, zone, seed):
    job = in_world(BY_NAME[name], seed=seed, zone=zone, more=BLUNDERS[blunder])
    layers = execute(job.layers(), judging_steps())
    status = layers["causes"]["status"].iloc[0]
    return {"world": name, "blunder": blunder, "zone": zone, "seed": seed, "status": status, **counted(job, layers)}


def table_of(rows):
    numbers = rows.groupby(["world", "blunder"], sort=False)[["judged", "false", "planted", "found"]].sum()
    numbers["per 1,000"] = (1000 * numbers["false"] / numbers["judged"].clip(lower=1)).round(2)
    return numbers.join(rows.groupby(["world", "blunder"])["status"].agg(lambda each: ", ".join(sorted(set(each)))))


SOON = (
    ("u stated half", "rod", 2, 611),
    ("marks off, u unstated", "foot", 1, 612),
    ("checks in one session", "rod", 0, 613),
    ("rod between checks", "", 1, 614),
    ("base moved", "", 2, 615),
    ("smooth warp", "", 0, 616),
    ("warp in elevation", "", 1, 617),
    ("no initialization logged, one line moved", "", 2, 618),
    ("jump with a check in it", "", 0, 619),
    ("drift of a session", "", 1, 620),
)


@pytest.mark.parametrize(
    ("name", "blunder", "zone", "seed"),
    [*SOON[:2], *(pytest.param(*each, marks=pytest.mark.score) for each in SOON[2:])],
)
def test_an_error_of_the_survey_is_no_defect_of_the_work(name, blunder, zone, seed):
    told = one_job(name, blunder, ZONES[zone], seed)
    assert told["false"] <= 1, told
    assert told["status"] != "none", told
    # a manhole 3 ft off is farther out than any of these errors reaches; another foot moves all by as much
    assert told["found"] >= (0 if blunder == "foot" else 3), told


def one_line(plants, zone, seed):
    """Of a log that names no initialization: planted numbers and how many of them are OUT, false ones, and causes."""
    job = in_world(World(name="", plants=plants, record=unnamed), seed=seed, zone=zone)
    layers = execute(job.layers(), judging_steps())
    (own,) = [item for item in job.truth.items if item["level"] == "none" and len(item["shots"]) > 10]
    findings = layers["findings"]
    mine = findings[(findings["check"] == (own["check"] or "offset")) & findings["shot"].isin(own["shots"])]
    return {"seed": seed, "zone": zone, "numbers": len(mine), "out": int((mine["verdict"] == "OUT").sum()),
            "causes": list(layers["causes"]["cause"]), **counted(job, layers)}  # fmt: skip


@pytest.mark.score
@pytest.mark.parametrize("plant", ["W22", "W23"])
def test_part_of_one_line_that_is_built_off_in_elevation_or_in_plan_alone_is_found(plant):
    jobs = [((plant,), zone, seed) for place, zone in enumerate(ZONES) for seed in (700 + place, 710 + place)]
    for told in on_every_core(one_line, jobs):
        assert "work-or-survey" not in told["causes"], told
        assert told["out"] >= 0.9 * told["numbers"] > 15, told
        assert told["false"] <= 1, told


@pytest.mark.score
def test_part_of_one_line_off_both_ways_at_once_is_a_question_and_no_defect():
    jobs = [
        (("W21",), zone, seed)
        for place, zone in enumerate(ZONES)
        for seed in range(720 + place, extent(750, of_a_change=735), 5)
    ]
    rows = on_every_core(one_line, jobs)
    assert sum(told["false"] for told in rows) <= poisson.ppf(0.999, 0.0003 * sum(told["judged"] for told in rows))
    assert sum("work-or-survey" in told["causes"] for told in rows) >= 0.95 * len(rows)


@pytest.mark.score
@pytest.mark.timeout(1800)
def test_no_world_makes_more_false_defects_than_it_must():
    jobs = [
        (world.name, blunder, ZONES[place], 31 + 2 * place)
        for number, world in enumerate(WORLDS)
        for blunder in ([""] if world.alone else BLUNDERS)
        for place in extent(range(len(ZONES)), of_a_change=[number % len(ZONES)])
    ]
    rows = pd.DataFrame(on_every_core(one_job, jobs))
    table = table_of(rows)
    sys.stdout.write(f"\n{table.to_string()}\n")
    for (name, blunder), row in table.iterrows():
        most = poisson.ppf(0.999, BY_NAME[name].allowed * row["judged"] / 1000)
        assert row["false"] <= most, (name, blunder, row.to_dict())
    clear = table[table.index.get_level_values("blunder") == ""]
    assert (
        clear.loc[["as stated", "no checks", "checks in one session"], "found"] >= 6 * extent(len(ZONES), of_a_change=1)
    ).all()
