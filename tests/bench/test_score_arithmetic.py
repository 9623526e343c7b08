"""The score itself: its bands, its bound, and that it sees what is wrong."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom, norm

from bench.bands import binomial_band
from bench.compared import compare
from bench.score import largest_of, pooled
from geoqa.job.execute import execute
from geoqa.job.plan import default_steps
from geoqa.simulate import make

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def told():
    simulated = make(seed=9)
    return simulated.truth, dict(execute(simulated.layers(), default_steps()))


def with_findings(layers, change):
    """The same layers with findings changed by a function."""
    return {**layers, "findings": change(pd.DataFrame(layers["findings"]).copy())}


@pytest.mark.parametrize(("count", "chance"), [(60, 0.41), (240, 0.78), (9360, 0.71), (300, 0.001), (5, 0.999)])
def test_a_band_leaves_out_at_most_half_a_thousandth_on_either_side(count, chance):
    low, high = binomial_band(count, chance)
    assert binom.cdf(low - 1, count, chance) <= 0.0005
    assert binom.sf(high, count, chance) <= 0.0005
    assert low == 0 or binom.cdf(low, count, chance) > 0.0005
    assert high == count or binom.sf(high - 1, count, chance) > 0.0005


def test_the_largest_of_many_normal_errors_keeps_its_bound():
    count = 1000
    bound = largest_of(count, confidence=0.9)
    assert count * 2 * norm.sf(bound) == pytest.approx(0.1)
    errors = np.abs(np.random.default_rng(3).normal(size=(2000, count))).max(axis=1)
    assert (errors > bound).mean() == pytest.approx(0.1, abs=0.02)


def test_a_sound_run_of_the_tool_has_no_problem(told):
    assert pooled([compare(*told)]).problems() == ()


def test_a_lost_finding_is_a_problem(told):
    truth, layers = told
    lost = with_findings(layers, lambda rows: rows[~((rows["check"] == "position") & (rows["subject"] == "MH-2 rim"))])
    problems = pooled([compare(truth, lost)]).problems()
    assert "D18 (position): nothing found in 1 of 1" in problems


def walk_told_as(truth, layers, *parts):
    """The planted walk told in parts: places of its planted shots, and the verdict of that part."""
    (item,) = [each for each in truth.items if each["plant"] == "D01" and each["level"] == "stretch"]
    findings, evidence = pd.DataFrame(layers["findings"]), pd.DataFrame(layers["evidence"])
    near = set(evidence.loc[evidence["key"].isin(item["shots"]), "finding"])
    mine = findings["finding"].isin(near) & (findings["check"] == item["check"])
    rows = [findings[mine].iloc[0].to_dict() | {"finding": f"part {n}", "verdict": verdict, "run": None, "shot": None}
            for n, (_, verdict) in enumerate(parts)]  # fmt: skip
    proof = [{"finding": f"part {n}", "key": item["shots"][place], "role": "member", "layer": "shots"}
             for n, (places, _) in enumerate(parts) for place in places]  # fmt: skip
    made = {"findings": pd.concat([findings[~mine], pd.DataFrame(rows)], ignore_index=True)}
    made["evidence"] = pd.concat([evidence, pd.DataFrame(proof)], ignore_index=True)
    items = compare(truth, {**layers, **made}).items
    return items.loc[(items["plant"] == "D01") & (items["level"] == "stretch"), "verdict"].item()


def test_a_stretch_is_found_by_a_part_of_it_that_is_out(told):
    undecided = (range(5), "UNDECIDED")
    assert walk_told_as(*told, undecided, ((5, 6), "IN")) == "UNDECIDED"
    assert walk_told_as(*told, undecided, ((5, 6), "OUT")) == "OUT"
    assert walk_told_as(*told, undecided) == "UNDECIDED"


def test_a_verdict_turned_round_is_a_problem(told):
    truth, layers = told

    def kinder(rows):
        rows.loc[(rows["verdict"] == "OUT") & (rows["subject"] == "CTB-L-2"), "verdict"] = "IN"
        return rows

    problems = pooled([compare(truth, with_findings(layers, kinder))]).problems()
    assert "D10 (offset): 6.7 u beyond its limit, OUT in 0 of 1" in problems


def test_false_defects_are_counted(told):
    truth, layers = told

    def harsher(rows):
        sound = (rows["kind"] == "walk-back") & (rows["check"] == "offset") & (rows["verdict"] == "IN")
        rows.loc[rows[sound].index[:15], "verdict"] = "OUT"
        return rows

    score = pooled([compare(truth, with_findings(layers, harsher))])
    assert score.false_defects["false"].tolist() == [15]
    assert any("false defects per 1,000 sound checks in one run" in each for each in score.problems())


def test_numbers_off_the_truth_are_seen(told):
    truth, layers = told

    def shifted(rows):
        rows["deviation"] += 3 * rows["u"]
        return rows

    problems = pooled([compare(truth, with_findings(layers, shifted))]).problems()
    assert any("of the numbers within 2 u of the truth, not 95 ± 3 %" in each for each in problems)


def test_an_uncertainty_stated_too_small_is_seen(told):
    truth, layers = told
    problems = pooled([compare(truth, with_findings(layers, lambda rows: rows.assign(u=rows["u"] / 2)))]).problems()
    assert any("of the numbers within 2 u" in each for each in problems)


def test_a_missing_flag_is_seen(told):
    truth, layers = told
    flags = layers["flags"]
    problems = pooled([compare(truth, {**layers, "flags": flags[flags["flag"] != "tilt"]})]).problems()
    assert "T13 (flag): flag missing in 1 of 1" in problems
