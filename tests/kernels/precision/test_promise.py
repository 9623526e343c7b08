"""How often a further measurement decides: held against measurements that are drawn, and judged by the rule itself."""

import numpy as np
import pytest

from geoqa.kernels.judging.verdict import IN, OUT, UNDECIDED, judge, judge_radial
from geoqa.kernels.precision.promise import MOST_SHOTS, Again, after, promise, share_decided

NAN, INF = np.nan, np.inf
RNG = np.random.default_rng(5)


@pytest.mark.parametrize(
    ("deviation", "lower", "upper", "u", "rule"),
    [(0.06, -0.08, 0.08, 0.03, "guarded"), (0.09, -0.08, 0.08, 0.03, "guarded"), (0.0, -0.05, 0.05, 0.03, "guarded"),
     (-0.02, -INF, 0.01, 0.03, "guarded"), (0.07, -0.08, 0.08, 0.02, "guard 0.8")],
)  # fmt: skip
def test_the_share_is_that_of_drawn_measurements(deviation, lower, upper, u, rule):
    true = deviation + u * RNG.normal(size=20_000)
    u_more = 0.025
    last = float(after(u, u_more, shots=2))
    mean = (deviation / u**2 + (2 * true + u_more * RNG.normal(size=(2, 20_000)).sum(axis=0)) / u_more**2) * last**2
    drawn = np.mean(judge(mean, lower=lower, upper=upper, u=last, rule=rule).verdict != UNDECIDED)
    told = share_decided(deviation, lower=lower, upper=upper, u=u, u_after=last, rule=rule)
    assert float(told) == pytest.approx(drawn, abs=0.013)


@pytest.mark.parametrize("distance", [0.0, 0.12, 0.24])
def test_the_share_of_a_radius_is_that_of_drawn_places(distance):
    u, last = 0.06, float(after(0.06, 0.06))
    true = np.array([distance, 0.0])[:, None] + u * RNG.normal(size=(2, 20_000))
    mean = (np.array([distance, 0.0])[:, None] + true + u * RNG.normal(size=(2, 20_000))) / 2
    drawn = np.mean(judge_radial(np.hypot(*mean), limit=0.2, u=last).verdict != UNDECIDED)
    told = share_decided(distance, lower=-INF, upper=0.2, u=u, u_after=last, radial=True)
    assert float(told) == pytest.approx(drawn, abs=0.013)


def test_what_no_measurement_makes_smaller_stays():
    assert after([0.05], [0.05], shots=100, stays=[0.03])[0] == pytest.approx(0.03, rel=0.02)
    assert after(0.05, 0.05, shots=3) == pytest.approx(0.025)
    assert after(0.0, 0.05) == 0


def test_more_shots_decide_more_often_and_few_are_asked_for():
    shares = [
        float(share_decided(0.06, lower=-0.08, upper=0.08, u=0.03, u_after=after(0.03, 0.03, shots=n)))
        for n in range(1, 5)
    ]
    assert shares == sorted(shares)
    found = promise([0.0, 0.06, 0.0799, NAN], lower=-0.08, upper=0.08, u=0.045, u_more=0.045, u_better=0.01)
    assert found.shots.tolist() == [1, 3, 3, MOST_SHOTS]
    assert found.better[2] > 0.5 > found.share[2]
    assert np.isnan(found.share[3])
    assert np.isnan(promise(0.06, lower=-0.08, upper=0.08, u=0.03, u_more=0.03).better)


@pytest.mark.parametrize(("more", "for_in", "shared"), [(-0.05, False, 0.0), (0.03, True, 0.0), (0.0, False, 0.04)])
def test_what_a_number_may_be_read_as_too_is_held_to_in_the_share(more, for_in, shared):
    u, u_more, deviation = 0.03, 0.03, np.array([0.09, 0.05])
    last = float(after(u, u_more, shots=2))
    true = deviation[:, None] + u * RNG.normal(size=(2, 20_000))
    new = 2 * true + u_more * RNG.normal(size=(2, 2, 20_000)).sum(axis=0)
    mean = (deviation[:, None] / u**2 + new / u_more**2) * last**2
    reads = [0.0, more, -shared / 3, more - shared / 3]  # of three shots one bears what its session is off by
    told = np.stack([judge(mean + each, lower=-0.08, upper=0.08, u=last).verdict for each in reads])
    asked_in = told if for_in else told[[0, 2]]
    drawn = np.mean((told == OUT).all(axis=0) | (asked_in == IN).all(axis=0), axis=1)
    again = Again(more=np.full(2, more), for_in=np.full(2, for_in), shared=np.full(2, shared))
    share = share_decided(deviation, lower=-0.08, upper=0.08, u=u, u_after=last, again=again)
    assert share == pytest.approx(drawn, abs=0.013)
