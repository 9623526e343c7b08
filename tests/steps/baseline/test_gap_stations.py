"""Gaps have their stretch along the baseline, also where it runs out."""

from geoqa import testing
from geoqa.steps.baseline.gap_stations import GapStations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.evidence.coverage import Coverage

LIMITS = [("curb-top", "offset", -0.10, 0.10), ("curb-top", "coverage", float("-inf"), 50.0)]


def gaps(baseline, start, end):
    rows = [{"station": s, "offset": -20.02} for s in (300, 325, 350, 375, end)]
    layers = testing.layers(shots=testing.judged_shots(rows), limits=testing.limits(*LIMITS), **baseline(),
                            **testing.design({"CTB-L": ("curb-top", -20.0, start, end)}))  # fmt: skip
    return testing.run(layers, MatchLines(), Offsets(), Coverage(), GapStations())["gaps"]


def test_a_gap_within(baseline):
    assert gaps(baseline, 100, 400)["baseline_place"].tolist() == ["TL 11+00 to 13+00, left side"]


def test_a_gap_that_leaves_the_baseline_says_so(baseline):
    (said,) = gaps(baseline, -50, 400)["baseline_place"]
    assert said == "TL before the start of the baseline to 13+00, left side"
