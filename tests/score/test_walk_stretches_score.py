"""Stretches of walks in the demo's site: where a steep one ends, and what sound ones prove together.

``python -m pytest tests/score/test_walk_stretches_score.py -m score -s`` prints the numbers.
"""

import sys
from functools import cache

import numpy as np
import pytest

from geoqa.job.execute import execute
from geoqa.job.plan import default_steps
from geoqa.simulate import make
from geoqa.simulate.site import scenario

STEPS = ("kinds", "uncertainty", "usable-shots", "match-lines", "walks")
SEEDS = 7
SPACING = 25.0


@cache
def jobs():
    """Truth and findings of some jobs in every zone, with a steep walk from 12+00 to 12+75 left and nothing else."""
    steps = [step for step in default_steps() if step.name in STEPS]
    made = []
    for number, zone in enumerate(scenario.ZONES):
        for seed in range(1 + number * SEEDS, 1 + (number + 1) * SEEDS):
            simulated = make(seed=seed, zone=zone, plants=("D01",))
            done = execute(simulated.layers(), steps)
            made.append((simulated.truth, done["findings"], done["evidence"]))
    return made


def means_over(findings, evidence, keys):
    """Means of cross slopes of which most shots are among the keys."""
    cross = findings[(findings["check"] == "cross-slope") & findings["label"].str.startswith("mean of")]
    held = evidence[evidence["finding"].isin(cross["finding"])]
    share = held["key"].isin(keys).groupby(held["finding"]).mean()
    return cross[cross["finding"].isin(share.index[share > 0.5])]


def keys_of(truth, lines, first, last):
    shots = truth.shots
    return set(shots.loc[shots["design"].isin(lines) & shots["station"].between(first - 1, last + 1), "shot_key"])


@pytest.mark.score
def test_a_steep_stretch_ends_where_it_was_built_to_end():
    ends, otherwise = [], 0
    for truth, findings, evidence in jobs():
        found = means_over(findings, evidence, keys_of(truth, ("WKF-L-1", "WKB-L-1"), 1200, 1275))
        if found["verdict"].tolist() != ["OUT"]:
            otherwise += 1
            continue
        ends.append(found[["station", "station_end"]].to_numpy(float)[0] - (1200.0, 1275.0))
    off = np.array(ends) / SPACING
    sys.stdout.write(f"\nends off by {off.mean(axis=0).round(3)} spacings, most {np.abs(off).max():.2f}, {otherwise} "
                     f"otherwise, {np.round(off, 2).tolist()}\n")  # fmt: skip
    assert len(off) + otherwise >= 20
    assert otherwise <= 2
    # 1 sigma of a shot's own station is a thousandth of the spacing
    assert (np.abs(off) <= 1.05).mean() >= 0.95
    assert np.abs(off.mean(axis=0)).max() <= 0.25


@pytest.mark.score
def test_a_sound_walk_is_never_out_and_proven_by_its_mean_where_no_section_proves_it():
    """D04: the walk right from 19+50 to 21+00 as designed, 1.5 %; 1:48 is 2.7 u of a mean of 7 sections away."""
    single, whole = [], []
    for truth, findings, evidence in jobs():
        keys = keys_of(truth, ("WKF-R-1", "WKB-R-1"), 1950, 2100)
        cross = findings[(findings["check"] == "cross-slope") & ~findings["label"].str.startswith("mean of")]
        about = evidence.loc[evidence["key"].isin(keys), "finding"]
        single += cross.loc[cross["finding"].isin(about), "verdict"].tolist()
        runs = cross.loc[cross["finding"].isin(about), "run"].dropna()
        whole += findings.loc[findings["finding"].isin(runs), "verdict"].tolist()
    counts = {verdict: single.count(verdict) for verdict in ("IN", "UNDECIDED", "OUT")}
    told = {verdict: whole.count(verdict) for verdict in ("IN", "UNDECIDED", "OUT")}
    sys.stdout.write(f"\nsections {counts}, means {told}\n")
    assert counts["OUT"] <= 0.01 * len(single)
    assert counts["UNDECIDED"] >= 0.5 * len(single)
    assert told["OUT"] == 0
    assert told["IN"] >= 0.6 * len(whole)
