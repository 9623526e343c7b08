"""The score: sixty simulated jobs with planted truth, three zones by twenty seeds, held against predictions.

``python -m pytest tests/score -m score -s`` prints the tables; with GEOQA_WRITE_DOCS=1 it also writes
``docs/score.md``. The short version, a job a zone, runs with all other tests.
"""

import os
import sys
from pathlib import Path

import pytest

from bench.compared import compare
from bench.score import pooled
from bench.score_text import page, tables
from geoqa.job import default_steps, execute
from geoqa.simulate import make
from geoqa.simulate.site import scenario

pytestmark = pytest.mark.long

WRITES = os.environ.get("GEOQA_WRITE_DOCS") == "1"
# sixty jobs for the page; half of them whenever a change is looked at
SEEDS = 20 if WRITES else 10
PAGE = Path(__file__).resolve().parents[2] / "docs" / "score.md"


def score_of(seeds_per_zone):
    """Every zone has seeds of its own, so that no two jobs share their noise."""
    steps, runs = default_steps(), []
    for number, zone in enumerate(scenario.ZONES):
        for seed in range(1 + number * seeds_per_zone, 1 + (number + 1) * seeds_per_zone):
            simulated = make(seed=seed, zone=zone)
            runs.append(compare(simulated.truth, execute(simulated.layers(), steps)))
    return pooled(runs)


def test_a_job_in_each_zone_holds_every_line_of_the_score():
    score = score_of(1)
    sys.stdout.write(f"\n{tables(score)}\n")
    assert score.runs == 3
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
    assert set(certain["plant"]) >= {"D09", "D10", "D15", "D16", "D18", "T09"}
    assert (certain["OUT"] == certain["times"]).all()
    assert score.problems() == ()
