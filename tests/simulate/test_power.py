"""The probabilities of verdicts: against the decision rule by trial, and against another library's distribution."""

import numpy as np
import pytest
from scipy.stats import binom
from scipy.stats import rice as rice_of_scipy

from geoqa.kernels.judging import verdict
from geoqa.simulate import power
from geoqa.simulate.expected import item_chances

TRIALS = 100_000


def assert_counts(found, chances):
    """Counts of IN, UNDECIDED, OUT lie in the 99.9 % band of their probabilities."""
    for code, chance in zip((verdict.IN, verdict.UNDECIDED, verdict.OUT), chances, strict=True):
        low, high = binom.interval(0.999, TRIALS, min(max(float(chance), 0.0), 1.0))
        assert low - 1 <= int((found == code).sum()) <= high + 1


@pytest.mark.parametrize("rule", ["guarded", "simple", "guard 1"])
@pytest.mark.parametrize(
    ("mean", "sd", "lower", "upper", "u"),
    [
        (0.00, 0.0283, -0.06, 0.06, 0.0283),
        (0.03, 0.0200, -0.06, 0.06, 0.0283),
        (-0.09, 0.0200, -0.08, 0.08, 0.0283),
        (0.22, 0.0346, -0.05, 0.05, 0.0346),
        (0.00, 0.0346, -0.05, 0.05, 0.0346),
        (0.02, 0.0100, -np.inf, 0.03, 0.01),
        (0.02, 0.0100, -0.05, 0.03, 0.01),
    ],
)
def test_chances_are_the_frequencies_of_the_decision_rule(rule, mean, sd, lower, upper, u):
    measured = np.random.default_rng(11).normal(mean, sd, TRIALS)
    found = verdict.judge(measured, lower=lower, upper=upper, u=u, rule=rule).verdict
    assert_counts(found, power.chances(mean, sd=sd, lower=lower, upper=upper, u=u, rule=rule))


@pytest.mark.parametrize("rule", ["guarded", "simple", "guard 1"])
@pytest.mark.parametrize(
    ("mean", "limit", "u"), [(0.27, 0.30, 0.02), (0.15, 0.10, 0.0206), (0.0, 0.10, 0.0206), (0.02, 0.05, 0.03)]
)
def test_radial_chances_are_the_frequencies_of_the_decision_rule(rule, mean, limit, u):
    error = np.random.default_rng(12).normal(0.0, u, (2, TRIALS))
    found = verdict.judge_radial(np.hypot(mean + error[0], error[1]), limit=limit, u=u, rule=rule).verdict
    assert_counts(found, power.chances_radial(mean, sd=u, limit=limit, u=u, rule=rule))


def test_the_chance_of_falling_within_a_radius_agrees_with_scipy():
    draw = np.random.default_rng(13)
    radius, distance, sd = draw.uniform(0, 2, 3000), draw.uniform(0, 2, 3000), draw.uniform(0.02, 1, 3000)
    assert np.abs(power.rice(radius, distance, sd) - rice_of_scipy.cdf(radius / sd, distance / sd)).max() < 1e-12


def test_a_value_far_beyond_its_limit_is_out_whatever_the_noise():
    # 5.8 u beyond: out unless the noise exceeds 5.8 - 1.645 = 4.155 sigma, 1.6 in 100,000
    chance = item_chances("elevation", 0.05 + 5.8 * 0.03, lower=-0.05, upper=0.05, u=0.03, rule="guarded")
    assert 1 - chance["OUT"] == pytest.approx(1.63e-5, rel=0.05)


def test_a_tolerance_that_cannot_be_proven_has_no_chance_of_being_in():
    chance = item_chances("elevation", 0.0, lower=-0.05, upper=0.05, u=0.0346, rule="guarded")
    assert chance["IN"] == 0.0
    assert chance["UNDECIDED"] > 0.99
