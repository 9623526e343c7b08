"""The score: sixty simulated jobs with planted truth, three zones by twenty seeds, held against predictions.

``python -m pytest tests/score -m score -s`` prints the tables; with GEOQA_WRITE_DOCS=1 it also writes
``docs/score.md``. The short version, a job a zone, runs with all other tests.
"""

import sys
from pathlib import Path

import pytest

from bench.compared import compare
from bench.cores import on_every_core
from bench.extent import WRITES, extent
from bench.score import pooled
from bench.score_text import page, tables
from geoqa.job.execute import execute
from geoqa.job.plan import default_steps
from geoqa.simulate import make
from geoqa.simulate.site import scenario

pytestmark = pytest.mark.long

# sixty jobs for the page; half of them whenever a change is looked at
SEEDS = extent(20, of_a_change=3)
PAGE = Path(__file__).resolve().parents[2] / "docs" / "score.md"


FINISHED = {"D01", "D02", "D03", "D04", "D05", "D06", "D07", "D08", "D12", "D13", "D14"}
"""Plants whose numbers are made of several shots."""


def never_said(truth, layers):
    """What is said of a planted thing and must not be, in words."""
    findings, flags = layers["findings"], layers["flags"]
    shots = {plant: {key for item in truth.items if item["plant"] == plant for key in item["shots"]}
             for plant in truth.plants}  # fmt: skip

    def out(check, ends=()):
        mine = (findings["check"] == check) & (findings["verdict"] == "OUT")
        said = findings["subject"].fillna("") + ", " + findings["label"].fillna("")
        return findings[mine & said.map(lambda words: all(end in words for end in ends))]

    if len(out("pipe-slope", ("IN-1", "MH-1"))) or len(out("invert", ("IN-1",))):
        yield "D13: a misread measure-down is called a defect of pipe P-1"
    if not (out("clearance")["deviation"] - 1.10).abs().lt(0.2).all():
        yield "D14: the clearance is judged with the questioned invert"
    if shots["D17"] & set(flags.loc[flags["flag"] == "code-slip", "shot_key"]):
        yield "D17: the extra driveway is called a slip of the code"
    aside = findings[(findings["check"] == "offset") & findings["shot"].isin(shots["D10"])]
    if aside["run"].value_counts().max() < 3:
        yield "D10: a curb aside is told as points that have nothing to do with each other"


def one_job(zone, seed):
    simulated = make(seed=seed, zone=zone)
    layers = execute(simulated.layers(), default_steps())
    return compare(simulated.truth, layers), list(never_said(simulated.truth, layers))


def score_of(seeds_per_zone):
    """Every zone has seeds of its own, so that no two jobs share their noise."""
    jobs = [
        (zone, seed)
        for number, zone in enumerate(scenario.ZONES)
        for seed in range(1 + number * seeds_per_zone, 1 + (number + 1) * seeds_per_zone)
    ]
    runs, said = zip(*on_every_core(one_job, jobs), strict=True)
    assert [(job, each) for job, each in zip(jobs, said, strict=True) if each] == []
    return pooled(runs)


def test_a_job_in_each_zone_holds_every_line_of_the_score():
    score = score_of(1)
    sys.stdout.write(f"\n{tables(score)}\n")
    assert score.runs == 3
    assert set(score.planted["plant"]) >= FINISHED
    assert score.problems() == ()


@pytest.mark.score
@pytest.mark.timeout(1800)
def test_jobs_of_three_zones_hold_every_line_of_the_score():
    score = score_of(SEEDS)
    sys.stdout.write(f"\n{tables(score)}\n")
    if WRITES:
        PAGE.write_text(page(score), encoding="utf-8", newline="\n")
    assert score.runs == 3 * SEEDS
    certain = score.planted[(score.planted["excess"] >= 5.8) & (score.planted["level"] != "stretch")]
    assert set(certain["plant"]) >= {"D05", "D07", "D08", "D09", "D10", "D14", "D15", "D16", "D18", "T09"}
    assert set(score.planted["plant"]) >= FINISHED
    assert (certain["OUT"] == certain["times"]).all()
    assert score.problems() == ()
