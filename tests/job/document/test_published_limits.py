"""Every published limit of the rule sets that come with geoqa, as its source prints it, and both of its sides."""

import math
from fractions import Fraction

import numpy as np
import pytest

from geoqa.contract.checks import readers_of
from geoqa.job.document.limits import limits_table
from geoqa.job.document.load import parse
from geoqa.job.document.rule_sets import rule_set
from geoqa.job.inputs.tables import minimum_slopes
from geoqa.kernels.judging.verdict import IN, OUT, UNDECIDED, judge
from geoqa.model.quantity import FOOT, length_unit

HEAD = '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n[codes]\nfile = "c.csv"\n'
IN_FEET = Fraction(1, 12)

# PROWAG final rule, 8 August 2023, 88 FR 53604, chapter R3; ADA Standards 2010, chapters 3 and 4. 1:48 is printed
# as 2.1 %, 1:12 as 8.3 %: the ratio is the limit.
PUBLISHED = {
    "prowag-2023": {
        ("walk", "cross_slope"): (Fraction(1, 48), "R302.5.1"),
        ("walk", "running_slope"): (Fraction(1, 20), "R302.4.1"),
        ("walk", "width"): (48 * IN_FEET, "R302.2"),
        ("walk", "passing"): (Fraction(200), "R302.3"),
        ("ramp", "ramp_slope"): (Fraction(1, 12), "R304.2.1"),
        ("ramp", "cross_slope"): (Fraction(1, 48), "R304.2.2"),
        ("ramp", "turning_space"): (48 * IN_FEET, "R304.2.5"),
        ("ramp", "turning_slope"): (Fraction(1, 48), "R304.2.5"),
        ("ramp", "flare_slope"): (Fraction(1, 10), "R304.2.6"),
        ("ramp", "grade_change"): (Fraction(133, 1000), "R304.5.2"),
        ("detectable-warning", "warning_depth"): (24 * IN_FEET, "R305.1.4"),
    },
    "ada-2010": {
        ("walk", "cross_slope"): (Fraction(1, 48), "403.3"),
        ("walk", "running_slope"): (Fraction(1, 20), "403.3"),
        ("walk", "width"): (36 * IN_FEET, "403.5.1"),
        ("walk", "passing"): (Fraction(200), "403.5.3"),
        ("ramp", "ramp_slope"): (Fraction(1, 12), "405.2 by way of 406.1"),
        ("ramp", "cross_slope"): (Fraction(1, 48), "405.3 by way of 406.1"),
        ("ramp", "counter_slope"): (Fraction(1, 20), "406.2"),
        ("ramp", "flare_slope"): (Fraction(1, 10), "406.3"),
    },
}
EVERY = [(name, *at, limit, clause) for name, mine in PUBLISHED.items() for at, (limit, clause) in mine.items()]


@pytest.mark.parametrize("name", PUBLISHED)
def test_a_rule_set_holds_what_was_published_and_nothing_else(name):
    held = rule_set(name).limits
    assert {(kind, key) for kind, keys in held.items() for key in keys} == set(PUBLISHED[name])


@pytest.mark.parametrize(("name", "kind", "key", "limit", "clause"), EVERY)
@pytest.mark.parametrize("unit", ["ft", "ftUS", "m"])
def test_both_sides_of_every_limit(name, kind, key, limit, clause, unit):
    """Right at the limit is within it; the least more, or less, exceeds it; and near it nothing is decided."""
    table = limits_table(parse(f'{HEAD}[tolerance.{kind}]\nrules = "{name}"\n'), length_unit(unit))
    for check in readers_of(key):
        row = table[(table["kind"] == kind) & (table["check"] == check.name)].iloc[0]
        assert row["reference"].endswith(f", {clause}")
        size = float(limit)
        if check.quantity == "length":
            size = float(limit * FOOT.metres / length_unit(unit).metres)
        bounds = {"lower": row["lower"], "upper": row["upper"]}
        least = math.isinf(row["upper"])
        assert (row["lower"] if least else row["upper"]) == pytest.approx(size, rel=1e-12)
        inside, outside = (size * (1 + share) for share in ((1e-9, -1e-9) if least else (-1e-9, 1e-9)))
        signs = [1.0, -1.0] if math.isfinite(row["lower"]) and not least else [1.0]
        for sign in signs:
            told = judge(np.array([inside, outside]) * sign, u=0.0, **bounds).verdict
            assert told.tolist() == [IN, OUT]
            u = size / 100  # one-sided 95 %: 1.645 u to either side of the limit is proven, less is not
            near, far = size + np.array([1.6, -1.6]) * u, size + np.array([1.7, -1.7]) * u
            assert set(judge(near * sign, u=u, **bounds).verdict.tolist()) == {UNDECIDED}
            told = judge(far * sign, u=u, **bounds).verdict.tolist()
            assert told == ([IN, OUT] if least else [OUT, IN])


def test_least_slopes_of_sewers_are_those_of_the_list_and_run_full_at_two_feet_a_second():
    """Waverly OH code 937.10, the older list of Ten States, its misprint for 27 in mended; Manning, n 0.013."""
    listed = {6: 0.60, 8: 0.40, 10: 0.28, 12: 0.22, 14: 0.17, 15: 0.15, 16: 0.14, 18: 0.12, 21: 0.10, 24: 0.08,
              27: 0.067, 30: 0.058, 36: 0.046}  # fmt: skip
    table = minimum_slopes()
    inches = (table["diameter"] / 0.0254).round(6)
    assert dict(zip(inches, (100 * table["slope"]).round(6), strict=True)) == listed
    assert not table["verified"].any()
    speed = 1.486 / 0.013 * (inches / 48) ** (2 / 3) * table["slope"] ** 0.5
    assert speed[inches >= 8].between(1.99, 2.2).all()
