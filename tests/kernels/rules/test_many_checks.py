"""Many claims at once: rates of false ones, and how many chance makes."""

import numpy as np
import pytest
from scipy.stats import false_discovery_control

from geoqa.errors import GeometryInputError
from geoqa.kernels.judging.verdict import OUT, called_out_at, judge
from geoqa.kernels.rules.many_checks import false_discovery, out_by_chance

THROMBOLYSIS = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528,
                0.7590, 1.0]  # fmt: skip
"""The fifteen chances of the example in Benjamini and Hochberg (1995), J. R. Stat. Soc. B 57, section 3.2; from memory,
and consistent with what the paper says of them: four claims at 5 %, where Bonferroni makes three."""


def test_the_published_example_makes_four_claims():
    assert int((false_discovery(THROMBOLYSIS, dependent=False) <= 0.05).sum()) == 4
    assert int((np.array(THROMBOLYSIS) <= 0.05 / 15).sum()) == 3


@pytest.mark.parametrize(("dependent", "method"), [(False, "bh"), (True, "by")])
def test_the_same_as_the_reference_library(dependent, method):
    p = np.random.default_rng(3).uniform(size=400) ** 3
    assert false_discovery(p, dependent=dependent) == pytest.approx(false_discovery_control(p, method=method))


def test_missing_chances_are_not_counted():
    made = false_discovery([0.01, np.nan, 0.2], dependent=False)
    assert made[[0, 2]] == pytest.approx([0.02, 0.2])
    assert np.isnan(made[1])
    assert not len(false_discovery([]))


WORK = {
    "all at a limit": lambda rng, count: rng.choice([-1.0, 1.0], count),
    "all at one limit": lambda rng, count: np.ones(count),
    "anywhere within": lambda rng, count: rng.uniform(-1, 1, count),
    "few at a limit": lambda rng, count: np.where(rng.random(count) < 0.05, rng.choice([-1.0, 1.0], count), 0.0),
}


def measured(rng, work, shared, defects, u):
    """Which of a hundred numbers are beyond their limits, -1 and 1, and all of them as three sessions measure them."""
    true = WORK[work](rng, 100)
    bad = rng.random(100) < defects
    true[bad] = rng.choice([-1, 1], int(bad.sum())) * rng.uniform(1, 2, int(bad.sum()))
    session = rng.normal(size=3)[rng.integers(0, 3, 100)]
    return bad, true + u * (np.sqrt(shared) * session + np.sqrt(1 - shared) * rng.normal(size=100))


@pytest.mark.parametrize("work", WORK)
@pytest.mark.parametrize("shared", [0.0, 0.9])
@pytest.mark.parametrize("defects", [0.0, 0.03, 0.3])
def test_of_what_stands_at_most_five_of_a_hundred_are_sound_whatever_the_sessions_share(work, shared, defects):
    """Of work without a defect a job has something that stands in at most 5 of 100: then all of it is sound."""
    rng, u, jobs = np.random.default_rng(11), 0.25, 500
    sound, stand = np.zeros(jobs), np.zeros(jobs)
    for nth in range(jobs):
        bad, value = measured(rng, work, shared, defects, u)
        said = judge(value, lower=np.full(100, -1.0), upper=np.full(100, 1.0), u=np.full(100, u))
        held = (said.verdict == OUT) & (false_discovery(said.p_conform, dependent=False, below=0.5) <= 0.05)
        sound[nth], stand[nth] = (held & ~bad).sum(), held.sum()
    shares = sound / np.maximum(stand, 1)
    # 0.05 is what is asked; of so many shares the mean is known to within some 0.01
    assert np.mean(shares) <= 0.05 + 2 * np.std(shares) / np.sqrt(jobs)
    if defects == 0.3 and not shared:  # the counts of many jobs, added up, keep it too
        assert sound.sum() <= 0.05 * stand.sum()


def test_a_chance_above_one_is_refused():
    with pytest.raises(GeometryInputError, match="from 0 to 1"):
        false_discovery([0.5, 1.5])


@pytest.mark.parametrize("work", WORK)
@pytest.mark.parametrize("shared", [0.0, 0.9])
@pytest.mark.parametrize(
    ("defects", "rule"), [(0.0, "guarded"), (0.1, "guarded"), (0.0, "guard 0.5"), (0.1, "guard 1")]
)
def test_chance_calls_out_no_more_than_is_said(work, shared, defects, rule):
    """Known truth: the mean of what is said is at least the mean of the sound numbers called out, and no wild bound."""
    rng, u, jobs = np.random.default_rng(12), 0.25, 200
    sound, told = np.zeros(jobs), np.zeros(jobs)
    for nth in range(jobs):
        bad, value = measured(rng, work, shared, defects, u)
        said = judge(value, lower=np.full(100, -1.0), upper=np.full(100, 1.0), u=np.full(100, u), rule=rule)
        sound[nth] = ((said.verdict == OUT) & ~bad).sum()
        told[nth] = out_by_chance(said.p_conform, at=called_out_at(rule))
    spread = np.std(told - sound) / np.sqrt(jobs)
    assert told.mean() >= sound.mean() - 2 * spread
    if work == "all at a limit" and not defects:  # the least favourable work: no more than the one that is added
        at = called_out_at(rule)
        assert told.mean() <= sound.mean() + at / (0.5 - at) + 2 * spread


def test_a_rule_that_calls_out_all_that_could_tell_says_nothing():
    assert np.isnan(out_by_chance([0.1, 0.4], at=called_out_at("simple")))
